"""Answers as a program or a notebook takes them: the records themselves, and how they are said and drawn.

An answer holds what was computed. `data` is what the command gives with `--format json`, `text` what it prints,
`figure()` what it draws; nothing is drawn or written before it is asked for. At the end of a notebook's cell an answer
shows itself as tables and a picture.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fitment import notebook, report
from fitment.checks.fit import VERDICTS, Verdict
from fitment.corners import axle_of
from fitment.errors import FitmentError, did_you_mean
from fitment.report.alignment import align_lines, ride_rows
from fitment.report.builds import both_clearance_rows, clearance_rows, left_open, stance_rows
from fitment.report.columns import Columns, clearance_columns, screen_columns, window_columns
from fitment.report.cut_lines import cut_text
from fitment.report.offset_window import (
    CAUTION,
    MEASURED,
    WORST,
    ends_words,
    nearest_words,
    ranges_words,
    size_words,
    stop_words,
)
from fitment.report.order_sheet import NOT_CLEAR, order_page
from fitment.report.pose_table import pose_rows, rake_lines
from fitment.report.screening import MOST, counts_words, screen_rows, shown_words
from fitment.units import in_units

if TYPE_CHECKING:  # what an answer is made of is loaded by whoever made it
    from fitment.answers.alignment import Alignment
    from fitment.answers.asides import Asides
    from fitment.answers.comparison import Comparison
    from fitment.answers.cut_lines import CutLines
    from fitment.answers.envelope import Envelope
    from fitment.answers.next_reading import Sure
    from fitment.answers.order_sheet import AxleOrder
    from fitment.answers.pose_table import PoseTable
    from fitment.checks.case import Ready
    from fitment.checks.full_case import FullCase
    from fitment.draw.answers import Figure
    from fitment.screening.keep_out import KeepOut
    from fitment.screening.offset_window import Window
    from fitment.screening.screen import ScreenedRow

CELL = "banner"  # the layout that goes into a notebook: wide, with the closest call
FEW = 4  # candidates drawn in a notebook
LEFT_OPEN = "What is left open or not checked even in a row that clears stands in the data, under reason."
NO_OFFSET = "no offset clears"


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Result(ABC):
    """An answer.

    units : mm or in, of text and pictures; data are always in mm
    one : an axle was named, so that `data` is its object and not a list of axles
    """

    units: str = "mm"
    one: bool = False

    @cached_property
    def data(self) -> Any:
        """Plain lists and dicts: what the command gives with `--format json`. Made once: change a copy."""
        return self._data()

    @abstractmethod
    def _data(self) -> Any:
        """The data, made."""

    @property
    @abstractmethod
    def text(self) -> str:
        """What the command prints."""

    @abstractmethod
    def figure(self) -> Figure:
        """What the command draws, drawn now. Raises FitmentError where there is nothing to draw."""

    @abstractmethod
    def _repr_html_(self) -> str:
        """Tables and a picture for a notebook."""

    @property
    @abstractmethod
    def axles(self) -> tuple[str, ...]:
        """Names of the axles it is about."""

    @property
    def pictured(self) -> tuple[str, ...]:
        """Names of those that each have a picture of their own."""
        return self.axles

    @property
    def cut_axles(self) -> tuple[str, ...]:
        """Names of those of which the cut lines of a part are drawn."""
        return self.pictured

    @property
    def json(self) -> str:
        """The data as the command writes them."""
        return report.dumps(self.data)

    def save(self, path: str | Path, **look: Any) -> None:
        """Write the picture; the ending says how: .png, .svg or .pdf. Raises FitmentError.

        look : what `figure` takes
        """
        from fitment.draw.files import picture_format, save

        picture_format(path)
        save(self.figure(**look), path)

    def __repr__(self) -> str:
        return f"<{type(self).__name__}: {self._words()}>"

    def _words(self) -> str:
        return ", ".join(self.axles)

    def _at(self, axle: str | None) -> int:
        """Which axle is meant: the one named, else the first; of two corners the tighter. Raises FitmentError."""
        if axle is None:
            return 0
        for i, name in enumerate(self.axles):
            if axle in (name, axle_of(name)):
                return i
        known = ", ".join(self.axles)
        raise FitmentError(f"axle {axle}: the answer is about {known}.{did_you_mean(str(axle), self.axles)}")

    def _axles(self, data: Sequence[Any]) -> Any:
        """Of the axle that was named its object; where its sides differ the tighter corner's, with the other in it."""
        if not self.one:
            return list(data)
        return data[0] | ({"other_corner": data[1]} if len(data) > 1 else {})


class _OfBuilds(Result):
    """Answers about checked builds: `new` one an axle, each beside an old one where two are compared."""

    @property
    @abstractmethod
    def new(self) -> tuple[FullCase, ...]:
        """What the verdict is about, one an axle."""

    @property
    def old(self) -> tuple[FullCase | None, ...]:
        """What it is compared with."""
        return (None,) * len(self.new)

    @property
    def axles(self) -> tuple[str, ...]:
        return tuple(case.fit.axle.name for case in self.new)

    @property
    def pictured(self) -> tuple[str, ...]:
        """The axles; of one whose sides differ the tighter corner is drawn, with the other one beside it."""
        return tuple(dict.fromkeys(map(axle_of, self.axles)))

    @property
    def verdict(self) -> Verdict:
        """Of all axles: the worst of theirs."""
        return max((case.fit.verdict for case in self.new), key=VERDICTS.index)

    @property
    def clears(self) -> bool:
        """Whether every axle bolts on, meets every required clearance, and touches nothing in the worst case."""
        return self.verdict == "clears"

    @property
    def verdict_text(self) -> str:
        """The verdict of every axle and what limits it, a line each: what the command prints when it wrote a file."""
        return report.verdict_lines(self.new, self.units)

    def figure(
        self,
        axle: str | None = None,
        *,
        view: str | None = None,
        layout: str | None = None,
        theme: str = "light",
        date: str | None = None,
    ) -> Figure:
        """The picture of one axle, the first unless one is named. Raises FitmentError.

        view, layout, theme, date : as the options of the command
        """
        from fitment.draw.layouts import picture

        look: dict[str, Any] = {"view": view, "layout": layout, "theme": theme, "date": date, "cut": self._cut(axle)}
        return picture(*self.pair(axle), units=self.units, **look)

    def _cut(self, axle: str | None) -> CutLines | None:  # noqa: ARG002  of an axle
        """The cut lines that are known of an axle."""
        return None

    def pair(self, axle: str | None = None) -> tuple[FullCase, FullCase | None]:
        """The build of an axle and what it is compared with. Raises FitmentError."""
        i = self._at(axle)
        return self.new[i], self.old[i]

    def _words(self) -> str:
        return "; ".join(f"{case.fit.axle.name}, build {case.ready.build!r}: {case.fit.verdict}" for case in self.new)

    def _picture(self, i: int) -> str:
        case = self.new[i]
        words = f"{case.fit.axle.title}, build {case.ready.build}: {report.verdict_words(case, self.units)}"
        return notebook.picture(lambda: self.figure(self.axles[i], layout=CELL), words)

    def _summary(self) -> str:
        """Of several axles: each with its verdict and what limits it."""
        if len(self.new) < 2:
            return ""
        rows = [("axle", "build", "wheel and tire", "verdict", "limit")]
        for case in self.new:
            setup, word = case.fit.setup, report.VERDICT_WORDS[case.fit.verdict].lower()
            bolted = f"{setup.wheel.spec} with {setup.tire.code}"
            rows.append((case.fit.axle.name, case.ready.build, bolted, word, report.verdict_words(case, self.units)))
        return notebook.table(rows, left=range(5), prose=(2, 4))


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Checked(_OfBuilds):
    """A checked build.

    cases : one an axle; asides : what was asked for beside the verdict, one an axle
    geometry : whether the data carry poses, sections and placed parts
    full : whether `text` is all of it
    `clearances` in the data has every obstacle, part and pose; with more than 24 obstacles not those rows in which the
    pose is only another obstacle's closest.
    """

    cases: tuple[FullCase, ...]
    asides: tuple[Asides, ...]
    geometry: bool = False
    full: bool = False

    @property
    def new(self) -> tuple[FullCase, ...]:
        return self.cases

    def _data(self) -> Any:
        pairs = zip(self.cases, self.asides, strict=True)
        return self._axles([report.checked_json(case, more, geometry=self.geometry) for case, more in pairs])

    @property
    def text(self) -> str:
        return self.full_text if self.full else report.check_summary(self.cases, self.asides, self.units)

    @property
    def full_text(self) -> str:
        """All that can be said, whatever `full` is."""
        pairs, end = zip(self.cases, self.asides, strict=True), self.cases[-1]
        return "\n\n".join(report.checked_text(case, more, self.units, last=case is end) for case, more in pairs)

    @property
    def csv(self) -> str:
        """Every clearance as a row."""
        return report.clearances_csv(self.cases)

    def _cut(self, axle: str | None) -> CutLines | None:
        return self.asides[self._at(axle)].cut

    def cut_pdf(self, paper: str = "a4") -> bytes:
        """The part that was asked for at true size, with the line to cut along. Raises FitmentError without one.

        paper : a4 or letter
        """
        from fitment.draw.printed.part_template import part_pages, part_pdf

        known = [(case, more.cut) for case, more in zip(self.cases, self.asides, strict=True) if more.cut is not None]
        if not known:
            raise FitmentError("no part was named; give part=NAME, or the word tightest.")
        short = [pair for pair in known if pair[1].is_short] or known
        sheets = [part_pages(case, cut, paper=paper, units=self.units) for case, cut in short]
        names = ", ".join(dict.fromkeys(cut.obstacle.name for _, cut in short))
        return part_pdf(sheets, self.cases[0].ready.profile.name, self.cases[0].ready.build, names)

    @property
    def cut_axles(self) -> tuple[str, ...]:
        known = {axle_of(name) for name, more in zip(self.axles, self.asides, strict=True) if more.cut is not None}
        return tuple(name for name in self.pictured if name in known) or self.pictured

    def _repr_html_(self) -> str:
        parts = [notebook.paragraph(self.cases[0].ready.profile.name), self._summary()]
        for i, case in enumerate(self.cases):
            title = f"{case.fit.axle.name}, build {case.ready.build}"
            parts.append(notebook.headed(title, case.fit.verdict, report.setup_words(case.fit.setup, self.units)))
            parts += map(notebook.paragraph, report.slip_lines([case.ready], self.units))
            parts += [
                notebook.paragraph(words)
                for words in (
                    report.verdict_words(case, self.units),
                    report.sure_words(self.asides[i].sure, self.units, case.fit),
                    left_open(case, self.units),
                )
                if words
            ]
            if case.fit.clearances:
                parts.append(notebook.table(clearance_rows(case.fit, self.units)))
            parts += [self._picture(i), *self._beside(i)]
        return notebook.answer(*parts, notebook.whole(self.full_text), notebook.safety(self.units))

    def to_columns(self) -> Columns:
        """Every clearance in every pose as columns, for a data frame: name -> array, all of one length.

        axle, corner, obstacle, part : texts; travel_mm, steer_deg, opposite_mm : the pose, opposite_mm nan where the
            opposite wheel does not matter; clearance_mm, worst_case_mm, allowance_mm, margin_mm; x_mm, y_mm, z_mm : the
            place of the obstacle that is nearest, body frame
        """
        return clearance_columns(self.cases)

    def _beside(self, i: int) -> Iterator[str]:
        """What was asked for beside the verdict."""
        case, more = self.cases[i], self.asides[i]
        setup, axle = case.fit.setup, case.fit.axle.name
        if more.how_sure:
            text = report.certainty_text(more.certainty, setup, axle, self.units)
            yield notebook.whole(text, "How sure", is_open=True)
        if more.changes is not None:
            text = report.changes_text(case, more.changes, self.units)
            yield notebook.whole(text, "What would make it clear", is_open=True)
        if more.change_sets is not None:
            text = report.sets_text(more.change_sets, self.units, full=True)
            yield notebook.whole(text, "Several changes together", is_open=True)
        if more.cut is not None:
            yield notebook.whole(cut_text(more.cut, self.units), "Where to cut", is_open=True)


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class ToMeasure(_OfBuilds):
    """What to measure next; cases : one an axle; sure : of each, None where no part was checked"""

    cases: tuple[FullCase, ...]
    sure: tuple[Sure | None, ...]

    @property
    def new(self) -> tuple[FullCase, ...]:
        return self.cases

    def _data(self) -> Any:
        return self._axles([report.next_json(*pair) for pair in zip(self.cases, self.sure, strict=True)])

    @property
    def text(self) -> str:
        return report.next_text(list(zip(self.cases, self.sure, strict=True)), self.units)

    def _repr_html_(self) -> str:
        return notebook.answer(notebook.whole(self.text, "What to measure next", is_open=True))


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Compared(_OfBuilds):
    """Two builds compared; pairs : one an axle; full : whether `text` is all of it"""

    pairs: tuple[Comparison, ...]
    full: bool = False

    @property
    def new(self) -> tuple[FullCase, ...]:
        return tuple(comparison.new for comparison in self.pairs)

    @property
    def old(self) -> tuple[FullCase | None, ...]:
        return tuple(comparison.old for comparison in self.pairs)

    def _data(self) -> Any:
        return self._axles([report.compare_json(comparison) for comparison in self.pairs])

    @property
    def text(self) -> str:
        return self.full_text if self.full else report.compare_summary(self.pairs, self.units)

    @property
    def full_text(self) -> str:
        """All that can be said, whatever `full` is."""
        end = self.pairs[-1]
        return "\n\n".join(
            report.compare_text(comparison, self.units, last=comparison is end) for comparison in self.pairs
        )

    def _words(self) -> str:
        return "; ".join(
            f"{comparison.new.fit.axle.name}, {comparison.old.ready.build!r} ({comparison.old.fit.verdict}) -> "
            f"{comparison.new.ready.build!r} ({comparison.new.fit.verdict})"
            for comparison in self.pairs
        )

    def _repr_html_(self) -> str:
        parts = [notebook.paragraph(self.new[0].ready.profile.name), self._summary()]
        for i, comparison in enumerate(self.pairs):
            old, new = comparison.old, comparison.new
            parts.append(notebook.paragraph(f"{new.fit.axle.name}: {old.ready.build} -> {new.ready.build}"))
            parts += map(notebook.paragraph, report.slip_lines([new.ready], self.units))
            for role, case in (("old", old), ("new", new)):
                words = f"{report.setup_words(case.fit.setup, self.units)}; {report.verdict_words(case, self.units)}"
                parts.append(notebook.headed(f"{role}: {case.ready.build}", case.fit.verdict, words))
            parts += [notebook.paragraph(f"new: {left_open(new, self.units)}"), self._picture(i)]
            parts.append(notebook.table(stance_rows(comparison, self.units)))
            if new.fit.clearances:
                parts.append(notebook.table(both_clearance_rows(comparison, self.units), left=(0, -1)))
        return notebook.answer(*parts, notebook.whole(self.full_text), notebook.safety(self.units))


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Ordered(_OfBuilds):
    """The sheet to order by; orders : one an axle"""

    orders: tuple[AxleOrder, ...]

    @property
    def new(self) -> tuple[FullCase, ...]:
        return tuple(order.case for order in self.orders)

    def _data(self) -> Any:
        return self._axles([report.order_json(order) for order in self.orders])

    @property
    def text(self) -> str:
        return report.order_text(self.orders, self.units)

    def pdf(self, paper: str = "a4") -> bytes:
        """The sheet to print and tick, as the command writes it; paper : a4 or letter. Raises FitmentError."""
        from fitment.draw.printed.order_sheet import order_pdf

        return order_pdf(self.orders, units=self.units, paper=paper)

    def _repr_html_(self) -> str:
        parts = []
        for i, order in enumerate(self.orders):
            page = order_page(order, self.units)
            parts.append(notebook.headed(f"Order sheet: {page.head}", order.case.fit.verdict, page.setup))
            parts += [] if page.clears else [notebook.headed(NOT_CLEAR)]
            for block in page.blocks:
                rows = [("item", "ordered", "to confirm"), *((row.item, row.order, row.ask) for row in block.rows)]
                parts.append(notebook.headed(block.title))
                parts.append(notebook.table(rows, left=range(3), prose=(2,)) if block.rows else "")
                parts += [notebook.paragraph(f"- {text}") for text in block.paragraphs]
            parts.append(self._picture(i))
        return notebook.answer(*parts)


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Screened(Result):
    """A list of candidates, ranked.

    rows : best first, those that could not be read last, as many as asked for; every : all of them
    limit : how many were asked for, 0 for all, None where it was not told; sort : their order within a verdict
    header : the list's own columns
    prepared : the axles it was checked on; delimiter : the mark between the list's cells, which its CSV keeps
    """

    rows: tuple[ScreenedRow, ...]
    header: tuple[str, ...]
    prepared: tuple[Ready, ...]
    delimiter: str = ","
    every: tuple[ScreenedRow, ...] = ()
    limit: int | None = None
    sort: str = "margin"

    @property
    def axles(self) -> tuple[str, ...]:
        return tuple(ready.axle.name for ready in self.prepared)

    def _data(self) -> list[dict[str, Any]]:
        return report.screen_json(self.rows)

    @property
    def text(self) -> str:
        rows = self.rows[:MOST] if self.limit is None else self.rows
        words = report.screen_text(rows, self.units, every=self.every, sort=self.sort, checked=self.prepared)
        return "\n".join([*report.slip_lines(self.prepared, self.units), words])

    @property
    def csv(self) -> str:
        """The list with the answer's columns behind its own."""
        return report.screen_csv(self.header, self.rows, self.delimiter)

    def to_columns(self) -> Columns:
        """The list with the answer's columns, as `csv` names them, for a data frame: name -> array.

        The list's own columns are texts. A number that is not known is nan (the rank of a row that could not be read,
        offsets where none clears), a text that is not known is empty.
        """
        return screen_columns(self.header, self.rows)

    def figure(self, *, best: int | None = None, theme: str = "light", date: str | None = None) -> Figure:
        """The best candidates side by side, each checked again. Raises FitmentError where none can be drawn.

        best : how many; a dozen when it is not told
        """
        from fitment.answers.row_checks import BEST, best_rows
        from fitment.draw.answers import best_of
        from fitment.draw.style import theme_of

        if best is not None and not 1 <= best <= BEST:
            raise FitmentError(f"best {best}: a picture holds 1 to {BEST} candidates.")
        theme_asked = theme_of(theme)
        rows = best_rows(self.prepared, self.rows, best or BEST)
        return best_of(rows, self.units, axles=len(self.axles), total=len(self.every), theme=theme_asked, date=date)

    def _words(self) -> str:
        return counts_words(self.every)

    def _repr_html_(self) -> str:
        readable = [row for row in self.rows if row.verdict != "unreadable"]
        head, *lines = screen_rows(readable, self.units, self.sort)
        limit = head.index("limited by")
        for line, row in zip(lines, readable, strict=True):
            line[limit] = line[limit] if row.limited_by else in_units(row.reason, self.units)
        broken = [in_units(row.reason, self.units) for row in self.rows if row.verdict == "unreadable"]
        words = shown_words(self.rows, self.every, self.sort)
        ready = self.prepared[0]
        parts = [notebook.paragraph(ready.profile.name)]
        parts.append(notebook.headed(f"{', '.join(self.axles)}, build {ready.build}"))
        parts += map(notebook.paragraph, report.slip_lines(self.prepared, self.units))
        parts += [notebook.paragraph(words), notebook.table([head, *lines], left=range(len(head)), prose=(limit,))]
        parts += [notebook.paragraph(text) for text in broken[: notebook.MOST_ROWS]]
        parts.append(notebook.picture(lambda: self.figure(best=FEW), f"the best of {words}"))
        return notebook.answer(*parts, notebook.paragraph(LEFT_OPEN, "quiet"), notebook.safety(self.units))


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class AxleWindows:
    """The windows of one axle, and the keep-out that they were looked up in.

    done : what the builder is ready to do of it, in words; without : the windows without that
    """

    ready: Ready
    kept: KeepOut
    windows: tuple[Window, ...]
    done: tuple[str, ...] = ()
    without: tuple[Window, ...] = ()


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Windows(Result):
    """Offsets that clear; found : one an axle"""

    found: tuple[AxleWindows, ...]

    @property
    def axles(self) -> tuple[str, ...]:
        return tuple(axle_windows.ready.axle.name for axle_windows in self.found)

    def _data(self) -> list[dict[str, Any]]:
        own = [
            report.window_json(each.ready, window) | report.without_json(each.done, each.without[i : i + 1])
            for each in self.found
            for i, window in enumerate(each.windows)
        ]
        both = [
            report.window_json(ready, window) | {"corner": "both"}
            for ready, shared in self.of_both_sides
            for window in shared
        ]
        return both + own

    @property
    def of_both_sides(self) -> list[tuple[Ready, tuple[Window, ...]]]:
        """Of every axle whose sides differ what clears on both, size by size."""
        from fitment.screening.offset_window import of_both_sides

        return [
            (one.ready, tuple(map(of_both_sides, one.windows, other.windows)))
            for one, other in pairwise(self.found)
            if axle_of(one.ready.axle.name) == axle_of(other.ready.axle.name)
        ]

    @property
    def text(self) -> str:
        both = [report.both_sides_text(ready, shared, self.units) for ready, shared in self.of_both_sides]
        own = (report.window_text(each.ready, each.windows, self.units, each.done, each.without) for each in self.found)
        return "\n\n".join([*both, *own])

    def to_columns(self) -> Columns:
        """A row for every size with every tire, for a data frame: name -> array; offsets are nan where none clears."""
        return window_columns(
            (axle_windows.ready, window) for axle_windows in self.found for window in axle_windows.windows
        )

    def figure(self, axle: str | None = None, *, theme: str = "light", date: str | None = None) -> Figure:
        """One axle, the first unless one is named: the wheel at both ends of its window, or bars of several sizes."""
        from fitment.draw.style import theme_of
        from fitment.draw.views.free_space import window_sheet

        axle_windows = self.found[self._at(axle)]
        title = (
            axle_windows.ready.profile.name,
            f"{axle_windows.ready.axle.title}, build {axle_windows.ready.build}",
        )
        return window_sheet(
            axle_windows.kept, axle_windows.windows, title, units=self.units, theme=theme_of(theme), date=date
        )

    def _words(self) -> str:
        return "; ".join(
            f"{axle_windows.ready.axle.name}, {_of_windows(axle_windows.windows)}" for axle_windows in self.found
        )

    def _repr_html_(self) -> str:
        parts = [notebook.paragraph(self.found[0].ready.profile.name)]
        for axle_windows in self.found:
            name = axle_windows.ready.axle.name
            rows: list[tuple[str, ...]] = [
                ("wheel", "tire", "", "offsets", "stopped at the smaller by", "stopped at the larger by")
            ]
            rows += [row for w in axle_windows.windows for row in self._rows(w)]
            parts.append(notebook.headed(f"Offsets that clear: {name} axle, build {axle_windows.ready.build}"))
            parts += map(notebook.paragraph, report.slip_lines([axle_windows.ready], self.units))
            parts.append(notebook.table(rows, left=range(6), prose=(4, 5)))
            draw = lambda name=name: self.figure(name)  # noqa: E731 - bound to this axle
            parts.append(notebook.picture(draw, f"offsets that clear, {name} axle"))
        return notebook.answer(*parts, notebook.whole(self.text), notebook.paragraph(CAUTION, "quiet"))

    def _rows(self, found: Window) -> Iterator[tuple[str, ...]]:
        """Both ranges with what stops each on each side; where none clears, what comes nearest to it."""
        size = size_words(found), found.setup.tire.code
        for name, ends in ((MEASURED, found.nominal), (WORST, found.ends)):
            if ends is not None:
                yield *size, name, ends_words(ends), *(stop_words(end, self.units) for end in ends)
        if found.best is not None:
            yield *size, WORST, NO_OFFSET, nearest_words(found, self.units), ""


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Enveloped(Result):
    """The space that tire and wheel sweep; found : one a corner"""

    found: tuple[Envelope, ...]

    @property
    def axles(self) -> tuple[str, ...]:
        return tuple(each.axle.name for each in self.found)

    def _data(self) -> Any:
        return self._axles([report.envelope_json(each) for each in self.found])

    @property
    def text(self) -> str:
        return "\n\n".join(report.envelope_text(each, self.units) for each in self.found)

    def figure(self, axle: str | None = None) -> Figure:
        """The first printed sheet of one axle, the first unless one is named."""
        from fitment.draw.printed.envelope_slices import slice_pages

        return slice_pages(self.found[self._at(axle)])[0].figure

    def file(self, ending: str, axle: str | None = None, *, paper: str = "a4") -> bytes:
        """One axle as a file: .stl, .ply, .svg, .dxf, or .pdf on that paper. Raises FitmentError."""
        one = self.found[self._at(axle)]
        if ending in (".stl", ".ply"):
            return report.stl_bytes(one) if ending == ".stl" else report.ply_bytes(one)
        if ending == ".dxf":
            from fitment.draw.printed.envelope_dxf import slices_dxf

            return slices_dxf(one)
        from fitment.draw.printed.envelope_slices import slices_pdf, slices_svg

        if ending not in (".svg", ".pdf"):
            raise FitmentError(f"{ending or 'no ending'}: an envelope is written as .stl, .ply, .svg, .pdf or .dxf.")
        return slices_svg(one) if ending == ".svg" else slices_pdf(one, paper=paper)

    def save(self, path: str | Path, **look: Any) -> None:
        """Write mesh or slices of one axle; the ending says how. Raises FitmentError."""
        from fitment.files import write_whole

        write_whole(path, self.file(Path(path).suffix, **look))

    def _words(self) -> str:
        return "; ".join(f"{each.axle.name}, {each.mesh.volume / 1e6:.0f} litres" for each in self.found)

    def _repr_html_(self) -> str:
        parts = [notebook.paragraph(self.found[0].vehicle)]
        for each in self.found:
            draw = lambda name=each.axle.name: self.figure(name)  # noqa: E731 - bound to this axle
            parts.append(notebook.picture(draw, f"a slice of what is swept, {each.axle.name}"))
        return notebook.answer(*parts, notebook.whole(self.text))


def _of_windows(found: Sequence[Window]) -> str:
    """One window in words; of several how many there are."""
    if len(found) == 1:
        return f"{size_words(found[0])} with {found[0].setup.tire.code}: {ranges_words(found[0])}"
    clear, measured = (sum(ends is not None for ends in pairs) for pairs in (
        [window.ends for window in found], [window.nominal for window in found]))  # fmt: skip
    return f"{len(found)} sizes, {clear} of them with offsets that clear, {measured} as measured"


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Aligned(Result):
    """Alignment; found : one an axle"""

    found: tuple[Alignment, ...]

    @property
    def axles(self) -> tuple[str, ...]:
        return tuple(alignment.ready.axle.name for alignment in self.found)

    def _data(self) -> Any:
        return self._axles([report.align_json(alignment) for alignment in self.found])

    @property
    def text(self) -> str:
        return "\n\n".join(report.align_text(alignment, self.units) for alignment in self.found)

    def figure(self, axle: str | None = None, *, theme: str = "light", date: str | None = None) -> Figure:
        """What the adjusters of one axle reach, the first unless one is named. Raises FitmentError without any."""
        from fitment.draw.answers import reach_of
        from fitment.draw.style import theme_of

        return reach_of(self.found[self._at(axle)], self.units, theme=theme_of(theme), date=date)

    def _words(self) -> str:
        return "; ".join(f"{alignment.ready.axle.name}, build {alignment.ready.build!r}" for alignment in self.found)

    def _repr_html_(self) -> str:
        parts = [notebook.paragraph(self.found[0].ready.profile.name)]
        for alignment in self.found:
            name = alignment.ready.axle.name
            parts.append(notebook.headed(f"{name}, build {alignment.ready.build}"))
            parts.append(notebook.table(ride_rows(alignment, self.units)))
            parts.append(notebook.paragraph("\n".join(align_lines(alignment, self.units)), "lines"))
            if alignment.reach is not None:
                draw = lambda name=name: self.figure(name)  # noqa: E731 - bound to this axle
                parts.append(notebook.picture(draw, f"camber and caster within reach, {name} axle"))
        return notebook.answer(*parts)


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Posed(Result):
    """The motion of the wheel; tables : one an axle; prepared : those axles"""

    tables: tuple[PoseTable, ...]
    prepared: tuple[Ready, ...]

    @property
    def axles(self) -> tuple[str, ...]:
        return tuple(table.axle for table in self.tables)

    def _data(self) -> Any:
        return self._axles([report.poses_json(table) for table in self.tables])

    @property
    def text(self) -> str:
        return "\n\n".join(report.poses_text(table, self.units) for table in self.tables)

    @property
    def csv(self) -> str:
        """Every pose as a row."""
        return report.poses_csv(self.tables)

    def figure(self, axle: str | None = None, *, theme: str = "light", date: str | None = None) -> Figure:
        """The motion of one axle as curves, the first unless one is named. Raises FitmentError."""
        from fitment.answers.motion_curves import own_curves
        from fitment.draw.motion_curves import motion_sheet
        from fitment.draw.style import theme_of

        own = own_curves(self.prepared[self._at(axle)])
        return motion_sheet(own, units=self.units, theme=theme_of(theme), date=date)

    def _words(self) -> str:
        return "; ".join(f"{table.axle}, {len(table.rows)} poses" for table in self.tables)

    def _repr_html_(self) -> str:
        parts = [notebook.paragraph(self.prepared[0].profile.name)]
        for table, ready in zip(self.tables, self.prepared, strict=True):
            parts.append(notebook.headed(f"{table.axle}, build {ready.build}"))
            parts.append(notebook.table(pose_rows(table, self.units), left=()))
            parts += [notebook.paragraph(line.strip()) for line in rake_lines(table)]
            draw = lambda name=table.axle: self.figure(name)  # noqa: E731 - bound to this axle
            parts.append(notebook.picture(draw, f"the motion of the wheel, {table.axle} axle"))
        return notebook.answer(*parts, notebook.whole(self.text))
