"""The program is attacked: hostile inputs, odd geometry, faults of the machine. `python -m tests.attack --help`."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # the tests' own helpers
