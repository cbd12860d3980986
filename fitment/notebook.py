"""How an answer shows itself in a notebook: escaped HTML, its picture a PNG inside it, nothing to load and no script.

Every text goes through `escaped`; a piece of HTML is made here and nowhere else. The style holds only inside the answer
and takes the notebook's own colours, light or dark.
"""

from __future__ import annotations

import base64
import html
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from fitment.checks.case import SAFETY
from fitment.errors import FitmentError
from fitment.report import VERDICT_WORDS
from fitment.units import in_units

if TYPE_CHECKING:
    from fitment.draw.answers import Figure

MOST_ROWS = 25  # of a table; the rest is in the answer's data
NAME = "fitment-answer"
ALARM = ("touches", "does_not_bolt_on")
STYLE = """
.@ { max-width: 56rem; line-height: 1.4 }
.@ p { margin: .35em 0; overflow-wrap: anywhere }
.@ .quiet { opacity: .75; font-size: .9em }
.@ .lines { white-space: pre-wrap }
.@ .scroll { overflow-x: auto; margin: .6em 0 }
.@ table { border-collapse: collapse; table-layout: auto; width: auto; margin: 0; border: 0 }
.@ table { font-size: .9em; font-variant-numeric: tabular-nums }
.@ th, .@ td { border: 0; border-bottom: 1px solid rgba(128, 128, 128, .4); padding: .25em .8em .25em 0 }
.@ th, .@ td { text-align: right; vertical-align: baseline; background: none }
.@ th { font-weight: 600; vertical-align: bottom }
.@ tbody th { font-weight: 400 }
.@ .l { text-align: left }
.@ th, .@ td { white-space: nowrap; max-width: none }
.@ td.p { white-space: normal; min-width: 14em }
.@ .verdict { display: inline-block; margin-left: .4em; padding: 0 .6em; border: 2px solid; border-radius: .7em }
.@ .verdict { font-weight: 600; white-space: nowrap }
.@ .verdict.alarm { background: #1d2430; border-color: #1d2430; color: #fff; outline: 1px solid #c8c8c8 }
.@ .verdict.open { border-style: dashed }
.@ img { display: block; width: 100%; max-width: 52rem; height: auto; margin: .6em 0 }
.@ pre { white-space: pre; overflow-x: auto; font-size: .85em; line-height: 1.3; background: none; border: 0 }
.@ summary { cursor: pointer }
""".replace("@", NAME)  # fmt: skip


def escaped(text: str) -> str:
    """A text that stays text: no tag, no attribute, no character reference, no control character."""
    plain = "".join(c if c.isprintable() or c in "\n\u00a0" else "\ufffd" for c in text.replace("\t", " "))
    return html.escape(plain, quote=True)


def answer(*parts: str) -> str:
    """The whole: style and parts."""
    return "\n".join([f'<div class="{NAME}">', f"<style>{STYLE}</style>", *filter(None, parts), "</div>"])


def paragraph(text: str, kind: str = "") -> str:
    """One paragraph; kind : quiet, lines"""
    return f'<p class="{kind}">{escaped(text)}</p>' if kind else f"<p>{escaped(text)}</p>"


def verdict(word: str) -> str:
    """A verdict as it is told apart without colour: filled, dashed, plain."""
    kind = "alarm" if word in ALARM else "plain" if word == "clears" else "open"
    return f'<span class="verdict {kind}">{escaped(VERDICT_WORDS[word].lower())}</span>'


def headed(title: str, word: str | None = None, more: str = "") -> str:
    """A title with a verdict behind it, and a quiet line below."""
    line = f'<br><span class="quiet">{escaped(more)}</span>' if more else ""
    return f"<p><b>{escaped(title)}</b>{'' if word is None else verdict(word)}{line}</p>"


def table(rows: Sequence[Sequence[str]], *, left: Sequence[int] = (0,), prose: Sequence[int] = ()) -> str:
    """Rows of plain texts, the first of them the heading; columns not named are figures and stand flush right.

    left : columns of words; prose : of sentences, which may break into lines; -1 is the last
    """
    if not any(row[-1] for row in rows):  # remarks, and there are none
        rows = [row[:-1] for row in rows]
    head, *body = rows
    count = len(head)
    kind = {column % count: "l" for column in left} | {column % count: "l p" for column in prose}
    if not head[-1]:
        kind.setdefault(count - 1, "l")  # remarks

    def cells(row: Sequence[str], tag: str) -> str:
        kinds = (f' class="{kind[i]}"' if i in kind else "" for i in range(count))
        made = (f"<{tag}{kind}>{escaped(cell)}</{tag}>" for kind, cell in zip(kinds, row, strict=True))
        return f"<tr>{''.join(made)}</tr>"

    lines = [cells(row, "td") for row in body[:MOST_ROWS]]
    left_out = len(body) - MOST_ROWS
    over = paragraph(f"and {left_out} more, in the answer's data", "quiet") if left_out > 0 else ""
    return (
        f'<div class="scroll"><table>\n<thead>{cells(head, "th")}</thead>\n<tbody>\n'
        + "\n".join(lines)
        + f"\n</tbody></table></div>{over}"
    )


def picture(draw: Callable[[], Figure], words: str) -> str:
    """A figure as a picture inside the HTML; words : what it shows. Where it cannot be drawn, why not."""
    from fitment.draw.files import render

    try:
        content = render(draw(), "png")
    except FitmentError as error:
        return paragraph(f"No picture: {error}", "quiet")
    return f'<img src="data:image/png;base64,{base64.b64encode(content).decode()}" alt="{escaped(words)}">'


def whole(text: str, title: str = "Everything, as the command prints it", *, is_open: bool = False) -> str:
    """A long text that folds away."""
    tag = "<details open>" if is_open else "<details>"
    return f"{tag}<summary>{escaped(title)}</summary>\n<pre>{escaped(text)}</pre></details>"


def safety(units: str) -> str:
    """What every answer about a fit ends with."""
    return paragraph(in_units(SAFETY, units), "quiet")
