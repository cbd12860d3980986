"""`python -m fitment` and the `fitment` command."""

from __future__ import annotations

import os


def main() -> None:
    """Run the command line."""
    # long lists go to several processes with small matrices each, where threads of the matrix library only wait
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from fitment.cli import cli

    cli(prog_name="fitment")


if __name__ == "__main__":
    main()
