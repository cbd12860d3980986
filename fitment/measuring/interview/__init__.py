"""The interview of `fitment new`: one walk through the questions that the printed sheets ask too."""

from fitment.measuring.interview.session import Session, read_kept
from fitment.measuring.interview.walk import Asked

__all__ = ["Asked", "Session", "read_kept"]
