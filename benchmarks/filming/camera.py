"""A pinhole camera at the player's side.

Conventions: the world is x the way the player looks, y to the player's left, z up, cm, the pad's middle at
the top its origin; pictures have x to the right and y down, pixels, the first pixel's middle at (.5, .5).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.filming.case import View

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Camera:
    """Where it stands; its axes as rows: right, down, into the picture; focal length and middle in px."""

    place: Floats
    axes: Floats
    focal_px: float
    middle: Floats

    @classmethod
    def of(cls, view: View, size: tuple[int, int]) -> Camera:
        """Put a camera where a view says."""
        yaw, pitch, roll = (math.radians(a) for a in (view.yaw_deg, view.pitch_deg, view.roll_deg))
        across = 1.0 if view.side == "R" else -1.0
        ahead = np.array(
            [math.sin(yaw) * math.cos(pitch), across * math.cos(yaw) * math.cos(pitch), -math.sin(pitch)]
        )
        right = np.cross(ahead, [0.0, 0.0, 1.0])
        right /= np.linalg.norm(right)
        down = np.cross(ahead, right)
        turned = math.cos(roll) * right + math.sin(roll) * down
        axes = np.stack([turned, math.cos(roll) * down - math.sin(roll) * right, ahead])
        far = 100 * view.distance_m
        target = np.array([view.centre_cm[0], 0.0, view.centre_cm[1]])
        return cls(target - far * ahead, axes, size[0] * far / view.field_cm, np.array(size) / 2)

    def picture(self, points: Floats) -> tuple[Floats, Floats]:
        """Return where points are seen, and how many pixels a cm is there.

        Parameters
        ----------
        points
            Places in the world, shape (n, 3).

        Returns
        -------
        Pixels, shape (n, 2), and pixels a cm, shape (n,).
        """
        seen = (points - self.place) @ self.axes.T
        scale = self.focal_px / np.maximum(seen[:, 2], 1.0)
        return self.middle + seen[:, :2] * scale[:, None], scale

    def upright(self, x: float, y: float) -> float:
        """Return how many pixels a cm of height over a place on the pad is."""
        seen, _ = self.picture(np.array([[x, y, 0.0], [x, y, 10.0]]))
        return float(np.linalg.norm(seen[1] - seen[0])) / 10
