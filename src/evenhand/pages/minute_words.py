"""A minute of single strokes in words: for the terminal and for the page."""

from __future__ import annotations

from evenhand.domain.audible import AUDIBLE_LEVEL_DB, audible_ms, either_way
from evenhand.domain.measures import Measure
from evenhand.domain.minute import HeardMinute
from evenhand.pages.figures import count, duration, interval_words, plain, signed

FIGURE_HEADS = ("figure", "value", "95 % range", "from")


def top_words(heard: HeardMinute) -> str:
    """Say how many strokes there were."""
    strokes = count(heard.strokes, "stroke")
    if heard.whole:
        each = "" if heard.asked_s == 60 else f", {plain(heard.per_minute, 0)} a minute"
        return f"{strokes} in {plain(heard.asked_s, 0)} s{each}."
    return (
        f"{strokes} in {plain(heard.seconds, 1)} s: at that rate it would be "
        f"{plain(heard.per_minute, 0)} in a minute."
    )


def count_lines(heard: HeardMinute) -> list[str]:
    """Say what stands behind the count."""
    lines = []
    if heard.hidden:
        lines.append(
            f"{heard.hidden} of them were not heard by themselves, the one before still ringing: "
            "they are counted because the strokes go on evenly around them."
        )
    if heard.left_out_s:
        places = ", ".join(plain(at, 1) for at in heard.left_out_s[:6])
        more = " ..." if len(heard.left_out_s) > 6 else ""
        lines.append(f"{count(len(heard.left_out_s), 'stroke')} left out, at {places}{more} s of the file.")
    if heard.stops:
        lines.append(f"The playing broke off {count(heard.stops, 'time')}.")
    return lines


def tiring_line(heard: HeardMinute) -> str:
    """Say whether the rate fell."""
    slope = heard.tiring_per_minute
    if slope.value is None or slope.ci95 is None:
        return "Can't tell from so few seconds whether it tires."
    low, high = slope.ci95
    figures = f"{signed(slope.value, 2)} strokes a second, each minute ({interval_words(slope.ci95, 2)})"
    if high < 0:
        return f"It slows down: {figures}."
    if low > 0:
        return f"It gets faster: {figures}."
    return f"Can't tell yet whether it slows down: {figures}."


def hands_lines(heard: HeardMinute) -> list[str]:
    """Say how the two hands stand to each other."""
    return [line for line in (_late_line(heard), _level_line(heard)) if line]


def second_hand(heard: HeardMinute) -> str:
    """Name the hand that plays the second, fourth ... stroke."""
    return {"R": "the left hand", "L": "the right hand"}.get(heard.first_hand or "", "the second hand")


def _late_line(heard: HeardMinute) -> str:
    late = heard.second_hand_late_ms
    if late.value is None:
        return ""
    edge = audible_ms(heard.interval_ms.value)
    side = {"over": "can be heard", "under": "can't be heard", "open": "can't tell yet"}[
        either_way(late, edge)
    ]
    how = "late" if late.value >= 0 else "early"
    span = (
        tuple(sorted(abs(end) for end in late.ci95))
        if late.ci95 and late.ci95[0] * late.ci95[1] > 0
        else None
    )
    figures = f"{plain(abs(late.value), 1)} ms {how}" + (
        f" ({plain(span[0], 1)} to {plain(span[1], 1)})" if span else ""
    )
    name = second_hand(heard)
    named = f"{name[0].upper()}{name[1:]}"
    return f"{named} comes {figures}: long and short in turn; {side} (from {plain(edge, 1)} ms)."


def _level_line(heard: HeardMinute) -> str:
    level = heard.level_difference_db
    if level.value is None:
        return ""
    side = {"over": "can be heard", "under": "can't be heard", "open": "can't tell yet"}[
        either_way(level, AUDIBLE_LEVEL_DB)
    ]
    name = second_hand(heard)
    how = "louder" if level.value >= 0 else "softer"
    return f"{name[0].upper()}{name[1:]} is {plain(abs(level.value), 1)} dB {how}; {side} (from about 1 dB)."


def figure_rows(heard: HeardMinute) -> list[tuple[str, ...]]:
    """Return every figure with its interval and count."""
    named: list[tuple[str, Measure, int]] = [
        ("interval between strokes", heard.interval_ms, 1),
        ("spread of intervals, each hand about its own", heard.interval_sd_ms, 1),
        ("second hand late", heard.second_hand_late_ms, 1),
        ("second hand louder", heard.level_difference_db, 1),
        ("change of the rate", heard.tiring_per_minute, 2),
    ]
    return [_row(name, figure, decimals) for name, figure, decimals in named]


def _row(name: str, figure: Measure, decimals: int) -> tuple[str, ...]:
    if figure.value is None:
        return (name, "too few to tell", "", str(figure.n))
    unit = figure.unit.replace("strokes/s/min", "a second, each minute")
    return (
        name,
        f"{plain(figure.value, decimals)} {unit}",
        interval_words(figure.ci95, decimals),
        str(figure.n),
    )


def facts(heard: HeardMinute) -> tuple[str, ...]:
    """Return the facts under the sentence on top."""
    rate = "" if heard.seconds <= 0 else f"{plain(heard.per_minute / 60, 1)} strokes a second on average"
    return (rate, f"counted from {plain(heard.start_s, 2)} s", f"{duration(heard.input.seconds)} recorded")
