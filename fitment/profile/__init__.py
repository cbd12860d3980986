"""The profile of a vehicle: read, checked, and turned into the records of `fitment.parts.axle`."""

from __future__ import annotations

from fitment.profile.resolve import (
    Assumed,
    Profile,
    Reading,
    assumed_values,
    axle,
    baseline_axle,
    bundled_names,
    cautions,
    exact_by_statement,
    exact_readings,
    has_setup,
    load_profile,
    loads_profile,
    part_at,
    readings,
    reads_from_ground,
    setup,
    sources,
    tire_as_sold,
    usual_tolerances,
)

__all__ = [
    "Assumed",
    "Profile",
    "Reading",
    "assumed_values",
    "axle",
    "baseline_axle",
    "bundled_names",
    "cautions",
    "exact_by_statement",
    "exact_readings",
    "has_setup",
    "load_profile",
    "loads_profile",
    "part_at",
    "readings",
    "reads_from_ground",
    "setup",
    "sources",
    "tire_as_sold",
    "usual_tolerances",
]
