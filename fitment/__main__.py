"""`python -m fitment` and the `fitment` command."""

from __future__ import annotations


def main() -> None:
    """Run the command line."""
    from fitment.cli import cli

    cli(prog_name="fitment")


if __name__ == "__main__":
    main()
