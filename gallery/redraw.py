"""Draw every picture of the gallery again: python gallery/redraw.py

Each line is a command a reader can type; the test of the gallery runs them too.
"""

from __future__ import annotations

import sys
from pathlib import Path

from click.testing import CliRunner

from fitment.cli import cli

HERE = Path(__file__).parent
COMMANDS = (
    "compare wagon as_bought wanted --axle front --out wagon_wanted_front.png",
    "compare wagon as_bought wanted --axle rear --out wagon_wanted_rear.png",
    "compare wagon as_bought chosen --axle front --out wagon_chosen_front.png",
    "show pickup --build swapped --axle front --out pickup_points.png",
    "compare pickup factory swapped --axle front --units in --out pickup_swapped_front.png",
    "align pickup --axle front --build swapped --ride lowered --camber -1.2 --caster 4.5 --out pickup_align.png",
    "compare pickup factory wide --axle rear --units in --out pickup_wide_rear.png",
    "check pickup --build wide --axle front --out pickup_wide_check.png",
    "poses coupe --axle front --build track_day --out coupe_motion.png",
)


def redraw(folder: Path) -> list[Path]:
    """Run every command with its picture put into the folder; returns the pictures."""
    pictures = []
    for line in COMMANDS:
        words = line.split()
        words[-1] = str(folder / words[-1])
        result = CliRunner().invoke(cli, words)
        if result.exit_code not in (0, 1):  # 1: the setup does not clear, which is what some pictures show
            raise SystemExit(f"{line}\n{result.output}")
        pictures.append(Path(words[-1]))
    return pictures


if __name__ == "__main__":
    for picture in redraw(HERE):
        sys.stdout.write(f"{picture.name}\n")
