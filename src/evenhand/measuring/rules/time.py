"""Questions of time: where the hands stand, how they scatter, where the tempo goes, whether the take tires.

Conventions: ms; negative = early; balance is right minus left. Without a click through the playing, nothing
is called early or late but against the other hand or the hand's other notes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from statistics import fmean, median

from evenhand.measuring.rules.sound import SECONDS_A_MINUTE, TakeFigures, Verdict
from evenhand.measuring.values import (
    AUDIBLE_LEVEL_DB,
    FindingKind,
    Measure,
    PositionMeasures,
    audible_tempo_share,
    either_way,
    one_way,
)
from evenhand.music.exercise import Hand

RUN_FROM_CLICK = "run_from_click_ms"
FEWEST_FOR_RUN = 8  # hits


def hand_behind(take: TakeFigures) -> Iterator[Verdict]:
    """Ask whether one hand comes behind the other; against a click, whether a hand comes early or late."""
    if take.heard.clock == "click":
        against_click = list(_against_click(take))
        over = [verdict for verdict in against_click if verdict.side == "over"]
        if over:
            yield from [_both(over)] if len({v.kind for v in over}) < len(over) else over
            return
    figure = take.measures.balance_timing_ms
    if figure.value is not None:
        hand: Hand = "L" if figure.value < 0 else "R"
        yield take.verdict("late_hand", "balance.timing_ms", figure, hand)


def _against_click(take: TakeFigures) -> Iterator[Verdict]:
    """Ask of each hand whether it comes early or late on the click."""
    for hand in take.hands:
        figure = take.measures.hands[hand].timing_mean_ms
        if figure.value is None:
            continue
        kind: FindingKind = "late_hand" if figure.value > 0 else "early_hand"
        yield take.verdict(kind, f"hands.{hand}.timing_mean_ms", figure, hand)


def _both(over: list[Verdict]) -> Verdict:
    """Join two hands that are early, or late, to one verdict."""
    worst = max(over, key=lambda v: v.times)
    positions = tuple(sorted(p for v in over for p in v.positions))
    figures: dict[str, Measure] = {v.hand: v.figure for v in over if v.hand is not None}
    return replace(worst, hand=None, positions=positions, figures=figures)


def wandering(take: TakeFigures) -> Iterator[Verdict]:
    """Ask of each hand whether its timing scatters so far that single notes stand out.

    Where the hand's notes each keep their own place, and only the places differ, no hand wanders: that is
    asked note by note.
    """
    for hand in take.hands:
        figure = take.measures.hands[hand].timing_sd_ms
        if figure.value is None:
            continue
        side = one_way(figure, take.audible_ms)
        if side == "over" and _within_notes_ms(take, hand) < take.audible_ms:
            side = "open"
        yield replace(take.verdict("wandering_hand", f"hands.{hand}.timing_sd_ms", figure, hand), side=side)


def _within_notes_ms(take: TakeFigures, hand: Hand) -> float:
    """Return a hand's spread without each note's own mean, or all of it where notes have too few hits."""
    total = take.measures.hands[hand].timing_sd_ms.value or 0.0
    rows = [(m.value, m.n) for m in (r.timing_ms for r in take.measures.positions if r.hand == hand)]
    known = [(value, n) for value, n in rows if value is not None]
    if len(known) < len(rows) or not known:
        return total
    n_all = sum(n for _, n in known)
    mean = sum(value * n for value, n in known) / n_all
    between = sum(n * (value - mean) ** 2 for value, n in known)
    return math.sqrt(max(total**2 * (n_all - 1) - between, 0.0) / max(n_all - len(known), 1))


def displaced_note(take: TakeFigures) -> Iterator[Verdict]:
    """Ask of each hand which note lies furthest from its others; doubles have a question of their own."""
    for hand in take.hands:
        seconds = take.seconds(hand)
        doubled = {p for second in seconds for p in (second, (second - 1) % len(take.exercise.notes))}
        rows = [r for r in take.measures.positions if r.hand == hand and r.timing_ms.value is not None]
        if len(rows) < 3 or doubled.issuperset(r.position for r in rows):
            continue
        verdicts = [_against_others(take, row, rows) for row in rows if row.position not in doubled]
        yield max(verdicts, key=lambda v: (v.side == "over", v.times))


def _against_others(take: TakeFigures, row: PositionMeasures, rows: list[PositionMeasures]) -> Verdict:
    """Judge one note's timing against the median of the hand's others."""
    place = median([r.timing_ms.value or 0.0 for r in rows if r.position != row.position])
    figure = row.timing_ms
    low, high = figure.ci95 or (0.0, 0.0)
    moved = Measure((figure.value or 0.0) - place, figure.n, "ms", (low - place, high - place))
    kind: FindingKind = "late_hand" if (moved.value or 0.0) > 0 else "early_hand"
    side = either_way(moved, take.audible_ms)
    return Verdict(
        kind,
        side if side == "over" else "under",  # one note among many: not worth a question of its own
        "positions.timing_ms",
        moved,
        take.audible_ms,
        row.hand,
        (row.position,),
    )


def leaving_click(take: TakeFigures) -> Iterator[Verdict]:
    """Ask whether the playing runs away from the click from start to end: an even tempo, but another one."""
    if take.heard.clock != "click":
        return
    timed = [(h.time_s, h.asynchrony_ms) for h in take.heard.hits if h.asynchrony_ms is not None]
    tempo = take.measures.tempo_bpm
    if len(timed) < FEWEST_FOR_RUN or not tempo.value or tempo.ci95 is None:
        return
    middle, mean = fmean(t for t, _ in timed), fmean(ms for _, ms in timed)
    spread = sum((t - middle) ** 2 for t, _ in timed)
    if spread <= 0:
        return
    seconds = take.minutes * SECONDS_A_MINUTE
    run_ms = seconds * sum((t - middle) * (ms - mean) for t, ms in timed) / spread
    reach_ms = 1000 * seconds * (tempo.ci95[1] - tempo.ci95[0]) / 2 / tempo.value
    run = Measure(run_ms, len(timed), "ms", (run_ms - reach_ms, run_ms + reach_ms))
    side = either_way(run, take.audible_ms)
    yield Verdict(
        "hurrying" if run_ms < 0 else "dragging",
        side if side == "over" else "under",  # playing with a click is not asked again for this
        RUN_FROM_CLICK,
        run,
        take.audible_ms,
    )


def changing_tempo(take: TakeFigures) -> Iterator[Verdict]:
    """Ask whether the tempo grows or sinks by more over the take than an ear lets pass."""
    drift, tempo = take.measures.drift_bpm_per_min, take.measures.tempo_bpm
    if drift.value is None or drift.ci95 is None or not tempo.value or not take.minutes:
        return
    percent = 100 * take.minutes / tempo.value
    ends = (drift.ci95[0] * percent, drift.ci95[1] * percent)
    change = Measure(drift.value * percent, drift.n, "%", ends)
    edge = 100 * audible_tempo_share(drift.n - 1)
    kind: FindingKind = "hurrying" if drift.value > 0 else "dragging"
    half = drift.value * take.minutes / 2
    yield Verdict(
        kind,
        either_way(change, edge),
        "drift_bpm_per_min",
        drift,
        edge / percent,
        figures={
            "change": change,
            "audible from": Measure(edge, drift.n, "%"),
            "first": Measure(tempo.value - half, tempo.n, tempo.unit),
            "last": Measure(tempo.value + half, tempo.n, tempo.unit),
        },
    )


def tiring(take: TakeFigures) -> Iterator[Verdict]:
    """Ask whether the sound sinks, or timing comes apart, towards the end."""
    verdicts = [verdict for verdict in (_sinking(take), _coming_apart(take)) if verdict is not None]
    over = [verdict for verdict in verdicts if verdict.side == "over"]
    if over:
        yield replace(over[0], figures={name: each for v in over for name, each in v.figures.items()})
    else:
        yield from verdicts


def _sinking(take: TakeFigures) -> Verdict | None:
    """Judge the level from start to end."""
    trend = take.measures.level_trend_db_per_min
    if trend is None or trend.value is None or trend.value > 0 or not take.minutes:
        return None
    lost = _over_take(trend, take.minutes, "dB")
    return Verdict(
        "tiring",
        one_way(lost, -AUDIBLE_LEVEL_DB),
        "fatigue.level_trend_db_per_min",
        trend,
        AUDIBLE_LEVEL_DB / take.minutes,
        figures={"softer by": lost},
    )


def _coming_apart(take: TakeFigures) -> Verdict | None:
    """Judge the timing from start to end: its scatter must surely grow, and be heard in the end."""
    trend = take.measures.spread_trend_ms_per_min
    spreads = [h.timing_sd_ms.value for h in take.measures.hands.values() if h.timing_sd_ms.value is not None]
    if trend is None or trend.value is None or trend.ci95 is None or not spreads or not take.minutes:
        return None
    grown = _over_take(trend, take.minutes, "ms")
    at_end = sum(spreads) / len(spreads) + (grown.value or 0.0) / 2
    return Verdict(
        "tiring",
        "over" if trend.ci95[0] > 0 and at_end > take.audible_ms else "under",
        "fatigue.spread_trend_ms_per_min",
        trend,
        take.audible_ms / take.minutes,
        figures={"scatter grows by": grown},
    )


def _over_take(trend: Measure, minutes: float, unit: str) -> Measure:
    """Return what a trend comes to from start to end."""
    low, high = trend.ci95 or (0.0, 0.0)
    return Measure((trend.value or 0.0) * minutes, trend.n, unit, (low * minutes, high * minutes))
