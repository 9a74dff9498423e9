"""Watch a film: coloured patches and the hits' times in, strokes with their heights out.

This is the main path, stage by stage. Conventions: a stick's times are the picture's until the sound's
shift is known, the sound's from there on; heights in cm over each hand's own zero, where its hits are;
nothing here reads a file, a clock or a random number.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenhand.arrays import Floats, median
from evenhand.film import FilmSample, SeenFilm
from evenhand.music.exercise import HANDS, Hand
from evenhand.music.strokes.heights import COMMON_HEIGHTS, StrokeHeights
from evenhand.watching.impacts import HitBy, Impacts, impacts_of, shift_of, struck_by
from evenhand.watching.pad import USUAL_DISTANCE_CM, Pad, find_pad
from evenhand.watching.peaks import COMMON_LIFT_SCALE, SeenWay
from evenhand.watching.set_up import warnings_of
from evenhand.watching.sticks import COMMON_STICK_CM, PadScale, TipTrack, scales_of, tip_of
from evenhand.watching.strokes import Judging, strokes_of
from evenhand.watching.tapes import Survey, Tape
from evenhand.watching.tracks import follow
from evenhand.watching.values import LiftScale, SeenStick, Watched

ROUGH_WIDTH_CM = 100.0  # of the picture, until the scale is known
LOW = 0.97  # quantile of the tip's place that is near its zero
LEAST_TILT_DEG, MOST_TILT_DEG = 1.5, 20.0  # what is turned back; less may be the picture's perspective
LANDS_SHARE = 0.05  # of a tip's whole way: so near to its zero it lands
LEAST_OPEN, MOST_NEARER_CM = 0.07, 15.0  # a pad seen from its edge tells no depth; two hands' depth apart
LEAST_SEEN = 0.5  # of the frames: a stick that is hidden more often has no heights
OWN_HITS = 3  # from which a hand's zero is taken from its hits


@dataclass(frozen=True, slots=True)
class FilmRequest:
    """What is known of a film before it is watched.

    ``hits_s`` are on the sound's timeline, rising. ``ups`` are the places in them of strokes after which the
    stick was to be lifted. ``pad_cm`` is how wide the pad is, None where nobody says; ``stick_cm`` how long a
    stick is.
    """

    hits_s: tuple[float, ...]
    ups: frozenset[int] = frozenset()
    pad_cm: float | None = None
    stick_cm: float = COMMON_STICK_CM
    heights: StrokeHeights = COMMON_HEIGHTS
    lifting: LiftScale = COMMON_LIFT_SCALE


@dataclass(frozen=True, slots=True, eq=False)
class PlacedSticks:
    """What heights are made of: tips, where they come down, their zeros (px) and scales (px for a cm)."""

    tips: Mapping[Hand, TipTrack]
    impacts: Mapping[Hand, Impacts]
    zeros: Mapping[Hand, float]
    scales: Mapping[Hand, float]
    scale_sd: float
    shift_s: float | None
    struck: tuple[HitBy, ...]
    pad: Pad | None
    near_cm: float | None

    def ways(self) -> dict[Hand, SeenWay]:
        """Return each stick's heights where it was seen; a stick that was hidden too often has none."""
        out = {}
        for hand, tip in self.tips.items():
            if tip.seen < LEAST_SEEN:
                continue
            height = tip.height_cm(self.zeros[hand], self.scales[hand])
            seen = np.isfinite(height)
            out[hand] = SeenWay(tip.times_s[seen], height[seen], tip.angle_deg[seen])
        return out


def watch(
    film: SeenFilm, sample: FilmSample, survey: Survey, tapes: Mapping[Hand, Tape], request: FilmRequest
) -> Watched:
    """Watch a film in which the tapes' colours were looked for, the right hand's first."""
    hands = [hand for hand in HANDS if hand in tapes]
    tracks = dict(zip(hands, follow(film, len(hands)), strict=True))
    tips = {hand: tip_of(track, stick_cm=request.stick_cm) for hand, track in tracks.items()}
    placed = place(tips, sample, survey, request)
    pad = placed.pad
    near_cm, shown = placed.near_cm, tips
    if pad is not None:
        tilt_deg = _to_be_levelled(pad, near_cm)
        tips = {
            hand: tip_of(track, tilt_deg, request.stick_cm).seen_from_above(pad.upright_share)
            for hand, track in tracks.items()
        }
        placed = place(tips, sample, survey, request, pad, near_cm)
    sized = bool(placed.scales) and placed.shift_s is not None
    ways = placed.ways() if sized else {}
    judging = Judging(placed.scale_sd, sample.facts.fps, request.lifting)
    strokes = strokes_of(request.hits_s, placed.struck, ways, request.ups, request.heights, judging)
    watched = Watched(
        strokes,
        {hand: _stick(placed, hand, shown[hand]) for hand in placed.tips} if sized else {},
        (),
        {hand: tape.name for hand, tape in tapes.items()},
        None if placed.shift_s is None else 1000 * placed.shift_s,
        sample.facts.fps,
        placed.scale_sd,
    )
    return replace(watched, warnings=warnings_of(watched, sample, survey, tapes, pad, film, near_cm=near_cm))


def _to_be_levelled(pad: Pad, near_cm: float | None) -> float:
    """Return by how much the picture is turned back, degrees: not by perspective, nor by half a pad."""
    level = pad.cut_off or near_cm is not None or not LEAST_TILT_DEG < abs(pad.tilt_deg) < MOST_TILT_DEG
    return 0.0 if level else pad.tilt_deg


def place(
    tips: Mapping[Hand, TipTrack],
    sample: FilmSample,
    survey: Survey,
    request: FilmRequest,
    pad: Pad | None = None,
    near_cm: float | None = None,
) -> PlacedSticks:
    """Find the scale, the shift and the zeros: first roughly, then by each hand's own hits.

    ``pad`` and ``near_cm`` are given where they were found before.
    """
    rough = sample.facts.width_px / ROUGH_WIDTH_CM
    scales = {hand: tip.px_per_cm or rough for hand, tip in tips.items()}
    zeros = {hand: _lowest(tip) for hand, tip in tips.items()}
    hits_s = np.array(request.hits_s)
    impacts = _impacts(tips, zeros, scales)
    shift_s = shift_of(hits_s, impacts)
    if shift_s is None:
        nobody = tuple(HitBy(None, None, t) for t in request.hits_s)
        return PlacedSticks(tips, impacts, zeros, {}, 0.0, None, nobody, pad, near_cm)
    struck = struck_by(hits_s - shift_s, _heights(tips, zeros, scales), impacts)
    zeros = {hand: _zero(tips[hand], struck, hand, zeros[hand]) for hand in tips}
    lands = _landings(tips, zeros)
    middle = (float(np.mean([x for x, _ in lands.values()])), max(y for _, y in lands.values()))
    pad = pad or find_pad(survey.y, survey.u, survey.v, middle, max(scales.values()), sample.grid_px)
    told = _pad_scale(pad, request.pad_cm, lands, min(scales.values()))
    if pad is not None:
        near_cm = near_cm or pad.near_cm(sample.facts.width_px, told.px_per_cm or min(scales.values()))
    own, scale_sd = scales_of(tips, replace(told, distance_cm=near_cm or USUAL_DISTANCE_CM))
    impacts = _impacts(tips, zeros, own or scales)
    struck = struck_by(hits_s - shift_s, _heights(tips, zeros, own or scales), impacts)
    return PlacedSticks(tips, impacts, zeros, own, scale_sd, shift_s, tuple(struck), pad, near_cm)


def _lowest(tip: TipTrack) -> float:
    seen = tip.y[np.isfinite(tip.y)]
    return float(np.quantile(seen, LOW)) if seen.size else 0.0


def _impacts(
    tips: Mapping[Hand, TipTrack], zeros: Mapping[Hand, float], scales: Mapping[Hand, float]
) -> dict[Hand, Impacts]:
    return {hand: impacts_of(*each) for hand, each in _heights(tips, zeros, scales).items()}


def _heights(
    tips: Mapping[Hand, TipTrack], zeros: Mapping[Hand, float], scales: Mapping[Hand, float]
) -> dict[Hand, tuple[Floats, Floats]]:
    return {hand: (tip.times_s, tip.height_cm(zeros[hand], scales[hand])) for hand, tip in tips.items()}


def _zero(tip: TipTrack, struck: Sequence[HitBy], hand: Hand, rough_px: float) -> float:
    """Return where a hand's tip is when it hits, px: its way up to each hit and from it, carried on to it."""
    seen = np.isfinite(tip.y)
    way = SeenWay(tip.times_s[seen], tip.y[seen], tip.angle_deg[seen])
    met = [y for each in struck if each.hand == hand for y in way.carried_to(each.time_s)]
    return median(np.array(met)) if len(met) >= OWN_HITS else rough_px


def _landings(tips: Mapping[Hand, TipTrack], zeros: Mapping[Hand, float]) -> dict[Hand, tuple[float, float]]:
    """Return where each stick lands in the picture."""
    out = {}
    for hand, tip in tips.items():
        seen = np.isfinite(tip.y)
        low = seen & (
            np.abs(tip.y - zeros[hand]) < LANDS_SHARE * (np.ptp(tip.y[seen]) if seen.any() else 0.0)
        )
        out[hand] = (median(tip.x[low if low.any() else seen]) if seen.any() else 0.0, zeros[hand])
    return out


def _pad_scale(
    pad: Pad | None, pad_cm: float | None, lands: Mapping[Hand, tuple[float, float]], px_per_cm: float
) -> PadScale:
    """Return what the pad tells of the scales."""
    if pad is None:
        return PadScale()
    known = None if pad_cm is None or pad.cut_off else pad.width_px / pad_cm
    if len(lands) < 2 or pad.open_share is None or pad.open_share < LEAST_OPEN:
        return PadScale(known)
    nearer_cm = (lands["R"][1] - lands["L"][1]) / ((known or px_per_cm) * pad.open_share)
    return PadScale(known, min(max(nearer_cm, -MOST_NEARER_CM), MOST_NEARER_CM))


def _stick(placed: PlacedSticks, hand: Hand, shown: TipTrack) -> SeenStick:
    """Return one hand's stick over the film, on the sound's timeline."""
    tip = placed.tips[hand]
    return SeenStick(
        tip.times_s + (placed.shift_s or 0.0),
        tip.height_cm(placed.zeros[hand], placed.scales[hand]),
        placed.scales[hand],
        tip.bands,
        tip.seen,
        (shown.x, shown.y),
    )
