"""Where a tape-measured suspension puts its hub, worked out from the definition alone.

At a height h of its own the suspension has carried hub face and steering axis, as one rigid piece, by
(0, track h / 100, h) and turned it about the wheel's level fore-aft axis through the hub face, so that the
camber is camber + rate h / 100. A path that was read at 100 mm alone may bend: bend (h / 100) (h / 100 - 1) comes
to either, nothing at the reference pose and where it was read; of one that was read nowhere, bend (h / 100)^2.
Then the piece turns about its steering axis. h and that turn are the two unknowns; hub z and steer as asked are the
two equations, solved by Newton's method with a numerical Jacobian. Quaternion-free on purpose: a turn is the
two-term formula on vectors.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np


def turned(vector: np.ndarray, axis: np.ndarray, angle: np.ndarray) -> np.ndarray:
    """Vectors (n, 3) turned about unit axes (n, 3) by angles (n,) [rad], right-handed."""
    along = np.sum(vector * axis, -1, keepdims=True) * axis
    across = vector - along
    return along + across * np.cos(angle)[:, None] + np.cross(axis, across) * np.sin(angle)[:, None]


@dataclass(frozen=True)
class Tape:
    """The suspension of an axle, read from the map a profile is written from. Angles in degrees."""

    hub_face: np.ndarray
    camber: float
    toe_in: float
    camber_rate: float  # per 100 mm
    track_rate: float
    axis: np.ndarray | None  # lower and upper point (2, 3)
    lock_left: float
    lock_right: float
    limit: np.ndarray  # travel, share (n, 2)
    camber_bend: float = 0.0
    out_bend: float = 0.0
    camber_read: float = 1.0  # where, in 100 mm of travel, the rate was read; 0: over as much bump as droop
    out_read: float = 1.0

    @classmethod
    def of(cls, axle: dict[str, Any]) -> Tape:
        """From an axle of a profile."""
        tape, locks = axle["suspension"], axle.get("steering", {"lock_left": 0.0, "lock_right": 0.0})
        axis = tape.get("steering_axis")
        return cls(
            np.array([0.0, axle["hub_face_width"] / 2, 0.0]),
            tape["camber"],
            tape["toe_in"],
            tape["camber_per_100mm"],
            tape["track_per_100mm"],
            np.array([axis["lower"], axis["upper"]], dtype=float) if axis else None,
            locks["lock_left"],
            locks["lock_right"],
            np.array(axle.get("steer_limit", [[0.0, 1.0]]), dtype=float),
        )

    @property
    def steers(self) -> bool:
        """Whether the axle can be steered."""
        return self.axis is not None and self.lock_left + self.lock_right > 0

    def reach(self, travel: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Steer [deg] at right lock and at left lock, at travels (n,)."""
        share = np.interp(travel, self.limit[:, 0], self.limit[:, 1])
        return -self.lock_right * share, self.lock_left * share

    def frame(self) -> np.ndarray:
        """Hub frame at the reference pose: columns x', y', z' (3, 3)."""
        steer, camber = np.radians(-self.toe_in), np.radians(self.camber)
        spin = np.array([-np.sin(steer) * np.cos(camber), np.cos(steer) * np.cos(camber), -np.sin(camber)])
        forward = np.array([np.cos(steer), np.sin(steer), 0.0])
        return np.stack([forward, spin, np.cross(forward, spin)], -1)

    def carried(self, h: np.ndarray, turn: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Hub face (n, 3) and frame (n, 3, 3) at heights h and turns [rad] about the steering axis."""
        zero, frame = np.zeros_like(h), self.frame()
        forward = np.broadcast_to(frame[:, 0], (len(h), 3))
        # about x' forward, a positive turn lowers camber
        lean = np.radians(-self.camber_rate * h / 100 - self.camber_bend * (h / 100) * (h / 100 - self.camber_read))
        shift = np.stack(
            [zero, self.track_rate * h / 100 + self.out_bend * (h / 100) * (h / 100 - self.out_read), h], -1
        )
        columns = [turned(np.broadcast_to(frame[:, i], (len(h), 3)), forward, lean) for i in range(3)]
        hub = self.hub_face + shift
        if self.axis is None:
            return hub, np.stack(columns, -1)
        lower, upper = (
            self.hub_face + shift + turned(np.broadcast_to(p - self.hub_face, (len(h), 3)), forward, lean)
            for p in self.axis
        )
        axis = (upper - lower) / np.linalg.norm(upper - lower, axis=-1, keepdims=True)
        return lower + turned(hub - lower, axis, turn), np.stack([turned(c, axis, turn) for c in columns], -1)

    def poses(self, travel: np.ndarray, steer: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Hub face (n, 3) [mm] and rotation (n, 3, 3) at travels [mm] and steer angles [deg]."""
        travel, steer = np.asarray(travel, dtype=float), np.radians(np.asarray(steer, dtype=float))
        h, turn = travel.copy(), steer + np.radians(self.toe_in)
        if not self.steers:
            return self.carried(h, np.zeros_like(h))

        def errors(h: np.ndarray, turn: np.ndarray) -> np.ndarray:
            hub, frame = self.carried(h, turn)
            spin = frame[:, :, 1]
            return np.stack([hub[:, 2] - travel, 100 * (np.arctan2(-spin[:, 0], spin[:, 1]) - steer)], -1)

        for _ in range(30):
            now = errors(h, turn)
            if np.abs(now).max() < 1e-11:
                break
            dh, dt = 1e-3, 1e-5
            by_h = (errors(h + dh, turn) - errors(h - dh, turn)) / (2 * dh)
            by_turn = (errors(h, turn + dt) - errors(h, turn - dt)) / (2 * dt)
            step = np.linalg.solve(np.stack([by_h, by_turn], -1), now[..., None])[..., 0]
            h, turn = h - step[:, 0], turn - step[:, 1]
        else:
            assert np.abs(now).max() < 1e-9
        return self.carried(h, turn)
