"""From bands in the picture to heights over the pad: the tip, its angle, and the scale of each hand.

The piece between a stick's two bands is a ruler. A stick that points d degrees inward is seen cos(d) as long
while it lies, and in full as far as it stands: (across / cos d)^2 + up^2 = (scale x distance)^2. How far
sticks point inward is known by habit only, so the pad, where its width is said, weighs more. By how much
the nearer hand's scale is larger follows from where the two land on the pad, seen from above. One band
stands for the tip.

Conventions: px of the picture as shown, y downwards; cm; arrays of shape (n_frames,), NaN where not seen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from evenhand.arrays import Floats, median
from evenhand.music.exercise import Hand
from evenhand.watching.pad import USUAL_DISTANCE_CM
from evenhand.watching.tracks import BandTrack

COMMON_STICK_CM = 40.6  # 16 in
HELD_SHARE = 2 / 3  # of its length from its tip a stick is held: its centre of percussion is then the tip
TURNING = 0.8  # of a tip's way up by turning, the rest by the rising hand (simulated; a person's own differs)
TIP_CM, BETWEEN_CM = 3.75, 7.5  # from the tip to the middle of the first band, and on to that of the second
INWARD_COS = 0.90  # 26 degrees inward: common practice
LEVEL = 0.35  # up over across: a stick that lies about level
BY_BANDS_SD, BY_PAD_SD = 0.05, 0.015  # of a scale: how far sticks point inward; a pad's edges
MOST_APART = 0.15  # of the two scales: beyond, what was found is not the pad, or not of that width
HANDS_ALIKE_SD = (
    0.03  # of the ratio of the hands' scales: they are some cm apart, the camera 1.2 m away or more
)
BANDS_RATIO_SD = 0.06  # the same by the bands: a camera not quite at the side sees one stick shorter
LANDING_RATIO_SD = 0.012  # the same by where they land on the pad


@dataclass(frozen=True, slots=True, eq=False)
class TipTrack:
    """A stick's tip in the picture, its angle, and the scale: px for a cm. All arrays (n_frames,)."""

    times_s: Floats
    x: Floats
    y: Floats
    angle_deg: Floats
    px_per_cm: float | None
    bands: int
    seen: float
    lever: float = 1.0  # the tip's way up over that of the place that is followed

    def height_cm(self, zero_px: float, px_per_cm: float) -> Floats:
        """Return the tip's height over its zero, shape (n_frames,)."""
        return np.asarray(self.lever * (zero_px - self.y) / px_per_cm)

    def seen_from_above(self, upright_share: float) -> TipTrack:
        """Return it with heights that are seen so high, of what the scale says."""
        return replace(self, lever=self.lever / upright_share)


def tip_of(track: BandTrack, level_deg: float = 0.0, stick_cm: float = COMMON_STICK_CM) -> TipTrack:
    """Find a stick's tip from its bands; ``level_deg`` is how far the camera is tilted, taken off."""
    level = _levelled(track, level_deg)
    return _tip_of_two(level) if track.bands == 2 else _tip_of_one(level, stick_cm)


def _levelled(track: BandTrack, deg: float) -> BandTrack:
    """Turn a track's places back by the camera's tilt, about the picture's corner."""
    if not deg:
        return track
    cos, sin = np.cos(np.radians(deg)), np.sin(np.radians(deg))
    (x, y), (back_x, back_y) = (
        (cos * x + sin * y, cos * y - sin * x) for x, y in ((track.x, track.y), (track.back_x, track.back_y))
    )
    return BandTrack(track.times_s, x, y, back_x, back_y, track.bands)


def _tip_of_two(track: BandTrack) -> TipTrack:
    across, up = track.x - track.back_x, track.back_y - track.y
    share = TIP_CM / BETWEEN_CM
    angle = np.degrees(np.arctan2(up, np.abs(across) / INWARD_COS))
    length = _level_length(across, up)
    scale = None if length is None else length / BETWEEN_CM
    x, y = track.x + share * across, track.y - share * up
    return TipTrack(track.times_s, x, y, angle, scale, 2, track.seen)


def _level_length(across: Floats, up: Floats) -> float | None:
    """Return how long the piece between two bands is seen from right beside it, px; None if never level."""
    level = np.abs(up) < LEVEL * np.abs(across)
    if not level.any():
        return None
    return median(np.hypot(across[level] / INWARD_COS, up[level]))


def _tip_of_one(track: BandTrack, stick_cm: float) -> TipTrack:
    """Take the band for the tip, whose way up is longer by as much as the stick turns."""
    reach_cm = HELD_SHARE * stick_cm
    lever = reach_cm / (reach_cm - TURNING * TIP_CM)
    return TipTrack(
        track.times_s, track.x, track.y, np.full(track.y.size, np.nan), None, 1, track.seen, lever
    )


@dataclass(frozen=True, slots=True)
class PadScale:
    """What the pad tells of scales: px for a cm at its middle, and how many cm the right hand lands nearer.

    None of either where it cannot be told. ``distance_cm`` is how far off the camera is.
    """

    px_per_cm: float | None = None
    right_nearer_cm: float | None = None
    distance_cm: float = USUAL_DISTANCE_CM


def scales_of(tips: Mapping[Hand, TipTrack], pad: PadScale) -> tuple[dict[Hand, float], float]:
    """Return each hand's scale, px for a cm, and by how much all of them may be off, as a share.

    Empty where neither bands nor pad give one.
    """
    own = {hand: np.log(tip.px_per_cm) for hand, tip in tips.items() if tip.px_per_cm is not None}
    known = [(float(np.mean(list(own.values()))), BY_BANDS_SD)] if own else []
    if pad.px_per_cm is not None and not (own and abs(np.log(pad.px_per_cm) - known[0][0]) > MOST_APART):
        known.append((float(np.log(pad.px_per_cm)), BY_PAD_SD))
    if not known:
        return {}, 0.0
    middle, sd = _weighed(known)
    half = 0.0
    if set(tips) == {"R", "L"}:
        ratios = [(0.0, HANDS_ALIKE_SD)]
        if len(own) == 2:
            ratios.append((own["R"] - own["L"], BANDS_RATIO_SD))
        if pad.right_nearer_cm is not None:
            ratios.append((pad.right_nearer_cm / pad.distance_cm, LANDING_RATIO_SD))
        half = _weighed(ratios)[0] / 2
    lean = {"R": half, "L": -half}
    return {hand: float(np.exp(middle + lean[hand])) for hand in tips}, sd


def _weighed(known: list[tuple[float, float]]) -> tuple[float, float]:
    """Return the mean of values by their standard deviations, and its own."""
    values, sds = np.array(known).T
    weights = sds**-2
    return float(weights @ values / weights.sum()), float(weights.sum() ** -0.5)
