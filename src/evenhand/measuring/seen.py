"""What was seen of a take, joined with what was heard: each hand's heights and rises, and their findings.

A finding is made only where its whole 95 % range lies beyond its edge. The edges are common practice, not
thresholds of an ear: a hand's strokes lie outside the class that was asked for; one hand plays 1 in (2.5 cm)
higher than the other at the same notes; a third of a hand's free strokes are lifted. The answer about
lifting is experimental.

Conventions: heights in cm over the pad; shares in %; differences right minus left.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby

import numpy as np

from evenhand.film import FilmFacts
from evenhand.measuring.estimates import (
    FEWEST,
    Scatter,
    difference_of,
    mean_of,
    scatter_of,
    share_of,
    spread_of,
    too_few,
    within,
)
from evenhand.measuring.values import Evidence, Finding, HeardTake, Measure, either_way, one_way
from evenhand.music.exercise import HANDS, Exercise, Hand
from evenhand.music.strokes.heights import StrokeClass, StrokeHeights
from evenhand.take import Fact, Hit, Remark
from evenhand.watching.strokes import class_limits
from evenhand.watching.values import RiseKind, SeenStroke, Watched

UNEVEN_CM = 2.54
LIFTED_PERCENT = 33.0
SURE_HAND = 0.8  # below, a hand is not held against what is written
FEWEST_OTHER = 2  # strokes by the other hand, and
OTHER_SHARE = 0.05  # so many of all: the sticking was another
MOST_BARS = 3  # that are named


@dataclass(frozen=True, slots=True)
class AskedStroke:
    """What was asked of a hit: the note it is, the hand and the height it was to start from."""

    hit: Hit
    asked_cm: float | None = None
    asked: StrokeClass | None = None
    up: bool = False  # the stick was to be lifted after it


@dataclass(frozen=True, slots=True)
class HandSeen:
    """One hand. ``over_asked_cm`` is how much higher than asked; ``rises`` are shares of those judged, %."""

    height_mean_cm: Measure
    height_sd_cm: Measure
    rebound_mean_cm: Measure
    over_asked_cm: Measure
    rises: Mapping[RiseKind, Measure]


@dataclass(frozen=True, slots=True)
class SeenTake:
    """A take that was heard and seen. ``asked`` has a row for each stroke seen, in the same order.

    ``positions`` has the mean height of each written note, ``stroke`` the class that all were to be played
    from, where somebody said. The findings are the ear's and the eye's.
    """

    heard: HeardTake
    film: FilmFacts
    watched: Watched
    asked: tuple[AskedStroke, ...]
    hands: Mapping[Hand, HandSeen]
    balance_cm: Measure
    positions: Mapping[int, Measure] = field(default_factory=dict)
    stroke: StrokeClass | None = None


def hands_seen(
    strokes: Sequence[SeenStroke], asked: Sequence[AskedStroke], scale_sd: float
) -> dict[Hand, HandSeen]:
    """Measure each hand that was seen; grace notes and bounces have heights of their own and stay out."""
    return {
        hand: _hand(_rows(strokes, asked, hand), scale_sd)
        for hand in HANDS
        if any(s.hand == hand for s in strokes)
    }


Row = tuple[SeenStroke, AskedStroke]


def _rows(strokes: Sequence[SeenStroke], asked: Sequence[AskedStroke], hand: Hand) -> list[Row]:
    return [row for row in zip(strokes, asked, strict=True) if row[0].hand == hand and not row[1].hit.grace]


def _hand(rows: Sequence[Row], scale_sd: float) -> HandSeen:
    high = [(stroke.preparation_cm, of) for stroke, of in rows if stroke.preparation_cm is not None]
    over = [(cm - of.asked_cm, of) for cm, of in high if of.asked_cm is not None]
    back = [(stroke.rebound_cm, of) for stroke, of in rows if stroke.rebound_cm is not None]
    heights = _scatter(high)
    return HandSeen(
        _with_scale(mean_of(heights, "cm"), scale_sd),
        spread_of(heights, "cm"),
        _with_scale(mean_of(_scatter(back), "cm"), scale_sd),
        _with_scale(mean_of(_scatter(over), "cm"), scale_sd, heights.mean),
        rise_shares([stroke.rise for stroke, _ in rows if stroke.rise is not None]),
    )


def _scatter(values: Sequence[tuple[float, AskedStroke]]) -> Scatter:
    positions = np.array(
        [-1 if of.hit.position is None else of.hit.position for _, of in values], dtype=np.int64
    )
    return scatter_of(
        np.array([value for value, _ in values], dtype=np.float64), positions - positions.min(initial=0)
    )


def _with_scale(figure: Measure, scale_sd: float, of_cm: float | None = None) -> Measure:
    """Widen a mean height by what the scale leaves open, which is the same for all strokes."""
    if figure.value is None or figure.ci95 is None:
        return figure
    own = (figure.ci95[1] - figure.ci95[0]) / 2
    return within(
        figure.value, float(np.hypot(own, 1.96 * scale_sd * (of_cm or figure.value))), figure.n, figure.unit
    )


def rise_shares(rises: Sequence[RiseKind]) -> dict[RiseKind, Measure]:
    """Return the share of each kind of rise, %, with Wilson's range."""
    n, counts = len(rises), Counter(rises)
    kinds: tuple[RiseKind, ...] = ("free", "unsure", "lifted")
    if n < FEWEST:
        return {kind: too_few(n, "%") for kind in kinds}
    return {kind: share_of(counts[kind], n) for kind in kinds}


def balance_of(strokes: Sequence[SeenStroke], asked: Sequence[AskedStroke], scale_sd: float) -> Measure:
    """Return how much higher the right hand plays than the left where the same height is asked of both."""
    scatters = []
    shared = _shared_heights(asked)
    for hand in HANDS:
        rows = [
            (s.preparation_cm, of) for s, of in _rows(strokes, asked, hand) if s.preparation_cm is not None
        ]
        scatters.append(_scatter([row for row in rows if row[1].asked_cm in shared]))
    right, left = scatters
    return _with_scale(difference_of(right, left, "cm"), scale_sd, (right.mean + left.mean) / 2)


def _shared_heights(asked: Sequence[AskedStroke]) -> set[float | None]:
    """Return the heights that are asked of both hands."""
    by_hand = {hand: {of.asked_cm for of in asked if of.hit.hand == hand} for hand in HANDS}
    return by_hand["R"] & by_hand["L"]


def heights_by_position(strokes: Sequence[SeenStroke], asked: Sequence[AskedStroke]) -> dict[int, Measure]:
    """Return the mean height of each written note."""
    values: dict[int, list[tuple[float, AskedStroke]]] = {}
    for stroke, of in zip(strokes, asked, strict=True):
        if of.hit.position is not None and not of.hit.grace and stroke.preparation_cm is not None:
            values.setdefault(of.hit.position, []).append((stroke.preparation_cm, of))
    return {position: mean_of(_scatter(own), "cm") for position, own in sorted(values.items())}


def measures_seen(take: SeenTake) -> dict[str, Measure]:
    """Give what a path may ask to be seen, by its place: shares of each hand's strokes and the balance, %.

    A share is of the strokes that were judged: free of those whose rise was, in its class of those that were
    asked from one.
    """
    out: dict[str, Measure] = {}
    for hand in HANDS:
        rows = _rows(take.watched.strokes, take.asked, hand)
        out |= _share(f"seen.{hand}.free_percent", [s.rise == "free" for s, _ in rows if s.rise is not None])
        asked = [s.stroke == of.asked for s, of in rows if of.asked is not None and s.stroke is not None]
        out |= _share(f"seen.{hand}.in_class_percent", asked)
    return out | _relative(take)


def _relative(take: SeenTake) -> dict[str, Measure]:
    """Give the balance in % of both hands' mean height."""
    means = [own.height_mean_cm.value for own in take.hands.values()]
    apart = take.balance_cm
    if len(means) < len(HANDS) or None in means or apart.value is None or apart.ci95 is None:
        return {}
    percent = 100 * len(HANDS) / sum(filter(None, means))
    low, high = (percent * edge for edge in apart.ci95)
    return {"seen.height_percent": Measure(percent * apart.value, apart.n, "%", (low, high))}


def _share(place: str, held: Sequence[bool]) -> dict[str, Measure]:
    return {place: share_of(sum(held), len(held))} if held else {}


def seen_findings(take: SeenTake, heights: StrokeHeights) -> tuple[Finding, ...]:
    """Return what was found in what was seen."""
    found = [*_other_sticking(take)]
    for hand, own in take.hands.items():
        found += _out_of_class(take, hand, own, heights)
        found += _lifted(hand, own, take.heard.exercise)
    return (*found, *_uneven(take))


def _other_sticking(take: SeenTake) -> Iterator[Finding]:
    """Find that other hands played than are written, and say in which bars."""
    exercise = take.heard.exercise
    rows = [
        (stroke, of.hit)
        for stroke, of in zip(take.watched.strokes, take.asked, strict=True)
        if of.hit.hand is not None
        and stroke.hand is not None
        and (stroke.hand_probability or 0.0) >= SURE_HAND
    ]
    others = [hit for stroke, hit in rows if stroke.hand != hit.hand]
    if exercise is None or len(others) < max(FEWEST_OTHER, OTHER_SHARE * len(rows)):
        return
    facts: dict[str, Fact] = {"n": len(others), "of": len(rows), "played": _bars_played(take, exercise)}
    positions = tuple(sorted({hit.position for hit in others if hit.position is not None}))
    share = share_of(len(others), len(rows))
    evidence = Evidence("other_hand", *_as_evidence(share), positions=positions)
    yield Finding("other_sticking", evidence, remark=Remark("other sticking", facts))


def _bars_played(take: SeenTake, exercise: Exercise) -> str:
    """Write the first bars that were played otherwise, such as ``2 RLRL, 4 RLRR``."""
    bar = exercise.meter.bar if exercise.meter is not None else exercise.length
    rows = [
        (int(of.hit.written / float(bar) + 1e-6) + 1, stroke.hand or "?", of.hit.hand)
        for stroke, of in zip(take.watched.strokes, take.asked, strict=True)
        if of.hit.written is not None and not of.hit.grace
    ]
    said = []
    for number, group in groupby(rows, key=lambda row: row[0]):
        hands = list(group)
        if any(seen not in {written, "?"} for _, seen, written in hands):
            said.append(f"{number} {''.join(seen for _, seen, _ in hands)}")
    more = f" and {len(said) - MOST_BARS} more" if len(said) > MOST_BARS else ""
    return ", ".join(said[:MOST_BARS]) + more


def _out_of_class(take: SeenTake, hand: Hand, own: HandSeen, heights: StrokeHeights) -> Iterator[Finding]:
    """Find that a hand's strokes lie outside the class that was asked of it, where one was."""
    asked = {of.asked for of in take.asked if of.hit.hand == hand and of.asked is not None}
    if len(asked) != 1 or own.over_asked_cm.value is None:
        return
    (stroke,) = asked
    low, high = class_limits(heights)
    edges = {"tap": (0.0, low), "half": (low, high), "full": (high, float("inf"))}[stroke]
    aim = heights.of(stroke).aim_cm
    edge = edges[1] - aim if own.over_asked_cm.value > 0 else aim - edges[0]
    if either_way(own.over_asked_cm, edge) == "over":
        evidence = _evidence(f"hands.{hand}.over_asked_cm", own.over_asked_cm, hand, take.heard.exercise)
        yield Finding("stroke_heights", evidence, figures={"height": own.height_mean_cm})


def _lifted(hand: Hand, own: HandSeen, exercise: Exercise | None) -> Iterator[Finding]:
    lifted = own.rises["lifted"]
    if one_way(lifted, LIFTED_PERCENT) == "over":
        evidence = _evidence(f"hands.{hand}.rises.lifted", lifted, hand, exercise)
        yield Finding("lifted_stick", evidence, figures={"free": own.rises["free"]})


def _uneven(take: SeenTake) -> Iterator[Finding]:
    if either_way(take.balance_cm, UNEVEN_CM) == "over":
        yield Finding("uneven_heights", Evidence("balance.height_cm", *_as_evidence(take.balance_cm)))


def _evidence(measure: str, figure: Measure, hand: Hand, exercise: Exercise | None) -> Evidence:
    positions = (
        () if exercise is None else tuple(p for p in exercise.struck if exercise.notes[p].hand == hand)
    )
    return Evidence(measure, *_as_evidence(figure), positions=positions)


def _as_evidence(figure: Measure) -> tuple[float | None, str, int, tuple[float, float] | None]:
    return figure.value, figure.unit, figure.n, figure.ci95
