"""Inputs that are mutated again and again, those first that reached a line of the program which none had reached."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from functools import cached_property
from pathlib import Path
from random import Random
from typing import Any

import yaml
from answers import COUPE, PICKUP, WAGON, typed
from conftest import steered, vehicle
from reference.mesh import SETUPS
from test_first_look import READ

from tests.attack.mutations import (
    STEERING,
    TEXTS,
    Samples,
    as_yaml,
    mutated_data,
    mutated_script,
    mutated_table,
    mutated_text,
)
from tests.attack.trial import Trial

BUNDLED = Path(__file__).resolve().parents[2] / "profiles"
TIRES = (
    "305/45R20 112W XL",
    "P275/40R20",
    "LT305/55R20 121/118S",
    "33x12.50R20LT",
    "205/70R15 96H",
    "265/35/18",
    "195R14C 106/104R",
    "225/45ZR17 (94Y) XL",
    "275/40R20 106W XL M+S",
    "6.50-16",
    "215/65R16C 109/107T",
    "ST205/75R15",
    "T125/70D17",
    "31x10.50-15LT",
    "245/45R18 100Y EXTRA LOAD",
    "37X12.50R17LT 124Q",
    "P215/65R15 95T",
    "185/60 R 14 82 H",
)
WHEELS = (
    "20x10 ET25 6x139.7 CB78.1",
    "20x10J +25",
    "6x5.5in",
    "20x10 BS 6.5in",
    "20x10 +25 5x120 72.6",
    "9,5x20 ET25 LK5/120 ML72,6",
    '20 x 9.5J 6 1/8" backspace',
    "8.5J x 19 H2 ET 45 5x112 57.1",
    "17x8 ET0 5x114.3 CB67.1",
    "15x6 ET35",
    "18x9.5 ET-12",
    "16x7 -20mm 5x4.5in",
    "19x8,5 ET38 5/108 CB 63,4",
    "22x12 ET-44 8x6.5in CB 125",
    "17x9 offset 12 6x5.5",
)
OPTIONS: dict[str, tuple[str, ...]] = {
    "--axle": ("front", "rear", "front-right", "rear left", "middle", ""),
    "--build": ("measured", "lowered", "stock", "swapped", "wanted", "own", "", "x"),
    "--wheel": WHEELS,
    "--tire": TIRES,
    "--spacer": ("0", "5", "25 mm", "1 in", "-5", "1e9", "3/4 in", "150", "nan", "thick", "4,5"),
    "--ride": ("level", "low", "0", "20", "-30", "1 in", "9999", "lowered", "parked", ""),
    "--loaded-radius": ("300", "12 in", "5", "inf", "round"),
    "--settings": (
        "post = 1",
        "lower eccentric bushings = 90, 120",
        "upper ball joint position = longer 2",
        "=",
        ";",
        "a=b;c=d",
    ),
    "--units": ("mm", "in", "cm"),
    "--format": ("json", "text", "csv", "xml"),
    "--with": ("fender lip 15 mm", "stops 20 deg", "lip 1/2 in up, bump 40", "1e9", "trim", "x 5 mm; y", "stops nan"),
    "--size": ("20x10", "17x8", "15x6J", "8x17", "20", "20x10 ET25"),
    "--rim": ("8", "10", "7,5", "nan", "200", "8.5"),
    "--travel": ("-80,0,90", "0", "nan", "", "1,,2", "1e4", "0,0,0", "-50:50"),
    "--steer": ("-30,0,30", "0", "89", "left", "90,-90"),
    "--rack": ("-70,0,70", "0", "1e3"),
    "--opposite": ("0", "60", "nan", "-500"),
    "--camber": ("-1.5", "0", "90", "nan", "-1e308"),
    "--caster": ("4", "0", "-90", "inf"),
    "--sort": ("margin", "-price", "worst", "offsets", "nothing", "", "-", "name", "clearance"),
    "--only": ("clears", "touches", "tight", "unreadable", "x"),
    "--column": ("wheel=Rim", "wheel=wheel", "=", "tire=", "x=y", "offset=ET", "bore=price"),
    "--group-by": ("tire", "wheel", "price", "x", ""),
    "--limit": ("1", "all", "0", "-1", "1e3", "x", "99999999999999999999"),
    "--kind": ("tape", "strut", "solid_axle", "x"),
    "--paper": ("a4", "letter", "a5"),
    "--from-chord": ("67.2", "0", "nan", "2.6 in", "1e9"),
    "--lugs": ("5", "0", "-1", "3", "99", "x"),
    "--view": ("front", "plan", "side", "closest", "map", "room", "x"),
    "--layout": ("single", "sheet", "banner", "tall", "x"),
    "--theme": ("light", "dark", "x"),
    "--date": ("today", "1 < 2 $x$", "\u202ex", "$\\frac{1}{0}$", "é" * 200, ""),
    "--out": ("x.json", "x.csv", "x.txt", "x", "nowhere/x.json", ".json", "x.JSON", "v.yaml", "l.csv"),
    "--full": (),
    "--geometry": (),
    "--how-sure": (),
    "--changes": (),
    "--first": (),
    "--anew": (),
}
SETUP = ("--axle", "--build", "--wheel", "--tire", "--spacer", "--ride", "--format", "--units")
TAKES: dict[str, tuple[str, ...]] = {
    "check": (*SETUP, "--loaded-radius", "--settings", "--full", "--geometry", "--how-sure", "--changes", "--out"),
    "show": ("--axle", "--build", "--format", "--units", "--theme", "--date"),
    "poses": (
        "--axle",
        "--build",
        "--travel",
        "--steer",
        "--rack",
        "--opposite",
        "--loaded-radius",
        "--format",
        "--out",
    ),
    "align": ("--axle", "--build", "--ride", "--camber", "--caster", "--format", "--units"),
    "window": (
        "--axle",
        "--build",
        "--size",
        "--tire",
        "--spacer",
        "--ride",
        "--with",
        "--format",
        "--units",
        "--out",
    ),
    "next": ("--axle", "--build", "--format", "--units", "--out"),
    "order": (*SETUP, "--out"),
    "screen": (
        "--axle",
        "--build",
        "--format",
        "--sort",
        "--only",
        "--column",
        "--group-by",
        "--limit",
        "--units",
        "--out",
    ),
    "compare": ("--axle", "--full", "--format", "--units"),
    "template": ("--axle", "--build", "--paper", "--units"),
    "tire": ("--rim", "--format", "--units"),
    "wheel": ("--from-chord", "--lugs", "--format", "--units"),
    "worksheet": ("--kind", "--units", "--first", "--axle"),
    "new": ("--kind", "--anew", "--units", "--first"),
    "report": ("--axle", "--build", "--units", "--date"),
}
ASKED = (
    ("check",) * 12
    + ("show",) * 6
    + ("poses",) * 4
    + ("align",) * 3
    + ("screen",) * 4
    + ("window", "next", "order", "compare") * 2
    + ("template",)
)


def options(rng: Random, command: str, most: int = 3, odd: float = 0.15) -> list[str]:
    """Some options of a command with their values; one in `odd` belongs to another command or is mutated."""
    words: list[str] = []
    for _ in range(rng.randint(0, most)):
        known = TAKES[command] if rng.random() > odd / 3 else tuple(OPTIONS)
        name = rng.choice(known)
        values = OPTIONS[name]
        words.append(name)
        if values:
            value = rng.choice(values)
            words.append(mutated_text(rng, value, values) if rng.random() < odd else value)
    return [word.replace("\x00", "") for word in words]  # no command line can hold one


def _small(data: dict[str, Any], axle: str, keep: int) -> dict[str, Any]:
    """A bundled vehicle with one axle and few parts, so that much can be tried."""
    data = json.loads(json.dumps(data, default=str))
    data["axles"] = {axle: data["axles"][axle]}
    data["axles"][axle]["obstacles"] = data["axles"][axle]["obstacles"][:keep]
    data["builds"] = {name: {axle: build[axle]} for name, build in data["builds"].items() if axle in build}
    for build in data["builds"].values():
        build[axle].pop("obstacles", None)
    return data  # type: ignore[no-any-return]


class Fuzz:
    """Draws trials of each kind by turns; `reached` puts one that was worth it with those that are mutated next."""

    def __init__(self, rng: Random) -> None:
        self.rng = rng
        read = {path.stem: yaml.safe_load(path.read_text()) for path in sorted(BUNDLED.glob("*.yaml"))}
        self.samples = Samples([*read.values(), vehicle(), steered()])
        small = [_small(data, axle, 2) for data in read.values() for axle in data["axles"]]
        self.profiles: list[Any] = [vehicle(), steered(), vehicle(), *small]
        self.texts = [path.read_text() for path in sorted(BUNDLED.glob("*.yaml"))]
        self.codes: list[str] = list(TIRES)
        self.specs: list[str] = [*WHEELS, *(setup[0] for setup in SETUPS)]
        self.lists: list[list[list[str]]] = [self._list(path) for path in sorted(BUNDLED.glob("*.csv"))]
        self.scripts: list[list[str]] = [[*typed(script), "yes"] for script in (WAGON, COUPE, PICKUP)]
        self.firsts: list[list[str]] = [list(READ.values())]
        self._seeds: Any = None
        self._makers: tuple[tuple[Callable[[], Trial], int], ...] = (
            (self._code, 300),
            (self._spec, 300),
            (self._profile, 60),
            (self._profile_text, 20),
            (self._table, 40),
            (self._options, 30),
            (self._dialogue, 12),
            (self._edit, 10),
            (self._seldom, 1),
        )

    @staticmethod
    def _list(path: Path) -> list[list[str]]:
        return [line.split(",") for line in path.read_text().splitlines()[:4]]

    @cached_property
    def _words(self) -> list[str]:
        return [line for script in (*self.scripts, *self.firsts) for line in script] + list(TEXTS)

    def draw(self) -> Trial:
        """The next one."""
        makers, weights = zip(*self._makers, strict=True)
        return self.rng.choices(makers, weights)[0]()

    def reached(self) -> None:
        """The last one drawn reached new lines."""
        if self._seeds is not None:
            pool, seed = self._seeds
            pool.append(seed)

    def _from(self, pool: list[Any], mutate: Callable[[Any], Any]) -> Any:
        recent = self.rng.random() < 0.3
        seed = mutate(self.rng.choice(pool[-20:] if recent else pool))
        self._seeds = (pool, seed)
        return seed

    def _code(self) -> Trial:
        code = self._from(self.codes, lambda text: mutated_text(self.rng, text, self.codes)).replace("\x00", "")
        return Trial("codes", ("tire", *options(self.rng, "tire", 1), "--", code))

    def _spec(self) -> Trial:
        spec = self._from(self.specs, lambda text: mutated_text(self.rng, text, self.specs)).replace("\x00", "")
        return Trial("specs", ("wheel", *options(self.rng, "wheel", 1), "--", spec))

    def _asked(self, data: Any, command: str) -> tuple[str, ...]:
        words = options(self.rng, command, 2, 0.05)
        builds = list(data["builds"]) if isinstance(data, dict) and isinstance(data.get("builds"), dict) else ["x"]
        names = [str(name).replace("\x00", "") for name in builds] or ["x"]
        if command == "compare":
            words = [self.rng.choice(names), self.rng.choice(names), *words]
        elif command == "screen":
            words = ["l.csv", *words]
        elif command == "template":
            words += ["--out", "x.pdf"]
        elif self.rng.random() < 0.5:
            words += ["--build", self.rng.choice(names)]
        return (command, "v.yaml", *words)

    def _profile(self) -> Trial:
        gentle = self.rng.random() < 0.65
        data = self._from(self.profiles, lambda seed: mutated_data(self.rng, seed, self.samples, gentle))
        return self._of_profile("profiles", as_yaml(data), data)

    def _profile_text(self) -> Trial:
        text = self._from(self.texts, lambda seed: mutated_text(self.rng, seed, self.texts))
        return Trial("profiles", ("show", "v.yaml", "--format", "json"), {"v.yaml": as_latin(text)})

    def _of_profile(self, kind: str, text: str, data: Any) -> Trial:
        files = {"v.yaml": text}
        argv = self._asked(data, self.rng.choice(ASKED))
        if argv[0] == "screen":
            files["l.csv"] = (
                "wheel,tire\n17x8 ET10,225/45R17\n17x8 ET60 5x114.3 CB67.1,245/40R17\n20x10 ET30,275/40R20\n"
            )
        return Trial(kind, argv, files)

    def _table(self) -> Trial:
        rows = self.rng.choice(self.lists)
        self._seeds = None
        content, count = mutated_table(self.rng, rows, [*self.codes[-30:], *self.specs[-30:]])
        words = options(self.rng, "screen", 2, 0.05) if count is None else ["--format", "json"]
        return Trial(
            "lists",
            ("screen", "v.yaml", "l.csv", *words),
            {"v.yaml": as_yaml(vehicle()), "l.csv": content.decode("latin-1")},
            rows=count,
        )

    def _options(self) -> Trial:
        self._seeds = None
        data = self.rng.choice(self.profiles[:3])
        command = self.rng.choice([name for name in TAKES if name not in ("new", "report", "worksheet", "template")])
        words = options(self.rng, command, 4, 0.3)
        if command in ("tire", "wheel"):
            return Trial("options", (command, *words, "--", self.rng.choice(TIRES + WHEELS)))
        argv = self._asked(data, command)
        return Trial(
            "options",
            (*argv[:2], *(argv[2:4] if command == "compare" else argv[2:3] if command == "screen" else ()), *words),
            {"v.yaml": as_yaml(data), "l.csv": "wheel,tire\n17x8 ET10,225/45R17\n"},
        )

    def _dialogue(self) -> Trial:
        first = self.rng.random() < 0.5
        pool = self.firsts if first else self.scripts
        script = self._from(pool, lambda seed: mutated_script(self.rng, seed, self._words))
        whole = self.rng.random() < (0.02 if first else 0.3)  # an answered first look costs half a minute
        cut = script if whole else script[: self.rng.randint(0, max(0, len(script) - 2))]
        words = (["--first"] if first else []) + (options(self.rng, "new", 1) if self.rng.random() < 0.3 else [])
        return Trial("answers", ("new", "v.yaml", *words), {}, typed=_lines(cut))

    def _edit(self) -> Trial:
        """`new` on a profile that is there, or on answers that were kept and then came to harm."""
        files = {"v.yaml": as_yaml(vehicle())}
        self._seeds = None
        words = [self.rng.choice((*STEERING, *self._words)) for _ in range(self.rng.randint(1, 25))]
        start = self.rng.choice(
            ("1", "2", "3", "4", "a part", "part", "build", "axle", "go to 2.7", "obstacle", "add a part")
        )
        if self.rng.random() < 0.4:
            kept = {"format": 1, "units": "mm", "kind": "", "answers": [["name", "x"]], "later": {}}
            files = {"v.yaml.answers": as_yaml(mutated_data(self.rng, kept, self.samples, gentle=False))}
        return Trial("answers", ("new", "v.yaml"), files, typed=_lines([start, *words]))

    def _seldom(self) -> Trial:
        """What costs seconds: pages and pictures."""
        data = self._from(self.profiles, lambda seed: mutated_data(self.rng, seed, self.samples, gentle=True))
        text = as_yaml(data)
        argv: Sequence[str] = self.rng.choice(
            (
                ("report", "v.yaml", "--out", "x.html", *options(self.rng, "report", 1, 0)),
                (
                    "check",
                    "v.yaml",
                    "--out",
                    f"x.{self.rng.choice(('svg', 'png', 'pdf'))}",
                    "--view",
                    self.rng.choice(OPTIONS["--view"]),
                ),
                ("show", "v.yaml", "--out", "x.svg", *options(self.rng, "show", 1, 0)),
                ("window", "v.yaml", "--out", "x.svg"),
            )
        )
        return Trial("pictures", tuple(argv), {"v.yaml": text})


def _lines(script: Sequence[str]) -> str:
    return "".join(f"{line}\n" for line in script).encode("utf-8", "replace").decode()


def as_latin(text: str) -> str:
    """A text whose bytes are UTF-8, letter by letter."""
    return text.encode("utf-8", "surrogatepass").decode("latin-1")
