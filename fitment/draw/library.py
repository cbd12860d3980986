"""The drawing library as a command loads it: a third quicker, without the documentation that it writes as it loads."""

from __future__ import annotations


def load_library() -> None:
    """Load it, if it is not loaded already; for a process of our own, in which nobody reads its documentation."""
    from matplotlib import artist

    written, artist.kwdoc = artist.kwdoc, lambda _: ""  # type: ignore[assignment]
    try:
        from matplotlib import figure  # noqa: F401
        from matplotlib.backends import backend_agg  # noqa: F401
    finally:
        artist.kwdoc = written
