"""Names of an axle's corners: `front` where its sides are alike, else `front left` and `front right`."""

from __future__ import annotations


def axle_of(name: str) -> str:
    """The axle of a corner: front, rear."""
    return name.partition(" ")[0]


def side_of(name: str) -> str:
    """Its side, left or right; empty where both are alike."""
    return name.partition(" ")[2]
