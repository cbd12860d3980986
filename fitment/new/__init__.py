"""The interview of `fitment new`: one walk through the questions that the printed sheets ask too."""

from fitment.new.session import Session, read_kept
from fitment.new.walk import Asked

__all__ = ["Asked", "Session", "read_kept"]
