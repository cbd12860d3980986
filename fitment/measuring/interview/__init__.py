"""The interview of `fitment new`: one walk through the questions that the printed sheets ask too."""

from fitment.measuring.interview.opened import Opened, Task
from fitment.measuring.interview.session import Session, keeps_task, read_kept
from fitment.measuring.interview.walk import Asked

__all__ = ["Asked", "Opened", "Session", "Task", "keeps_task", "read_kept"]
