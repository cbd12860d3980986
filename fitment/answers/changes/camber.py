"""Camber set at the adjusters that the profile names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fitment.answers.alignment import with_settings
from fitment.answers.changes.ask import Ask
from fitment.answers.changes.looks import traced
from fitment.answers.changes.search import Lever
from fitment.answers.changes.trials import Bench, Trial, only
from fitment.answers.changes.words import Effects, moved
from fitment.checks.case import Case
from fitment.clearance.pose_grid import sweep
from fitment.clearance.trace import Trace
from fitment.errors import FitmentError
from fitment.motion.adjuster_reach import Reach, reachable_alignment
from fitment.motion.adjusters import Setting
from fitment.parts.axle import LinkSuspension

STEP = 0.25  # [deg] between the cambers tried
PER_DEGREE = 8.0  # [mm] of motion at the tread for a degree of camber, more than any tire here has
CAUTION = (
    "Camber wears the tread's edge and changes straight running: set it on an alignment rack with toe re-set, the same "
    "left and right, within what the tire's and the vehicle's maker allow."
)


def camber_asks(bench: Bench) -> list[Ask]:
    """More negative camber, and more positive, as far as the adjusters reach; none where there are none."""
    axle, ride = bench.base.ready.axle, bench.base.setup.ride
    if not axle.adjusters or not isinstance(axle.suspension, LinkSuspension):
        return []
    try:
        known = reachable_alignment(axle, ride)
    except FitmentError:
        return []
    return [_ask(bench, known, sign) for sign in (-1, 1)]


def _rows(known: Reach, camber: float, caster: float, sign: int) -> list[int]:
    """Combinations that step camber away from the present one with caster nearly kept, smallest step first."""
    end = known.camber.min() if sign < 0 else known.camber.max()
    rows: list[int] = []
    for k in range(1, int(sign * (end - camber) / STEP + 1e-9) + 2):
        target = camber + sign * min(k * STEP, sign * (end - camber))
        miss = np.hypot(known.camber - target, 0.3 * (known.caster - caster))
        near = np.flatnonzero(miss <= miss.min() + 0.01)
        row = int(near[np.argmin(known.moved[near])])
        further = sign * (known.camber[row] - (known.camber[rows[-1]] if rows else camber))
        if further > 0.2 * STEP:
            rows.append(row)
    return rows


def _ask(bench: Bench, known: Reach, sign: int) -> Ask:
    base, now = bench.base, bench.stance
    rows = _rows(known, now.camber, now.caster or 0.0, sign)
    values = [round(float(known.camber[row]), 2) for row in rows]

    def trial(i: int) -> Trial:
        ready = with_settings(base.ready, known.settings[rows[i]], base.setup.ride)
        return Trial(ready, base.setup, base.others)

    def traces(i: int, names: frozenset[str]) -> list[Trace]:
        bare = replace(base.ready, variants=())  # what the readings take away is taken from the build as it is
        axle = only(Trial(with_settings(bare, known.settings[rows[i]], base.setup.ride), base.setup), names).ready.axle
        return [trace for family in sweep(axle, base.setup.ride).families for trace in family.traces]

    def shift(i: int) -> float:
        return PER_DEGREE * abs(float(known.camber[rows[i]]) - now.camber) + float(known.moved[rows[i]])

    def effects(_i: int, case: Case) -> Effects:
        after = bench.stance_of(case)
        stance_changes = moved(now, after, "track", "scrub_radius")
        if now.caster is not None and after.caster is not None:
            stance_changes["caster_change_deg"] = after.caster - now.caster
        return stance_changes | {"camber_change_deg": after.camber - now.camber}

    word = "negative" if sign < 0 else "positive"
    return Ask(
        "camber",
        Lever(values, trial, traced(bench, traces), shift),
        sought=f"more {word} camber from the adjusters",
        searched=f"camber {values[0]:+.2f} to {values[-1]:+.2f} deg, caster nearly unchanged"
        if values
        else f"the adjusters give no more {word} camber",
        unit="deg",
        present=now.camber,
        name=lambda i: f"camber {values[i]:+.2f} deg",
        what=lambda i: (
            f"camber {values[i]:+.2f} instead of {now.camber:+.2f} deg at rest, set: {_words(known.settings[rows[i]])}"
        ),
        effects=effects,
        apply=lambda i: {"--settings": _words(known.settings[rows[i]])},
        caution=CAUTION,
    )


def _words(settings: Sequence[Setting]) -> str:
    """Settings as `check --settings` reads them."""
    return "; ".join(
        f"{setting.adjuster} = {', '.join(f'{a:g}' for a in setting.angles)}"
        if setting.angles
        else f"{setting.adjuster} = longer {setting.length:g}"
        if setting.length is not None
        else f"{setting.adjuster} = out {setting.out or 0:g}, forward {setting.forward or 0:g}"
        for setting in settings
    )
