"""What was heard of dropped sticks, in words: for the terminal and for the page.

Loudness as height, in words: for the terminal and for the pictures.

A minute of single strokes in words: for the terminal and for the page.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from evenhand.measuring.values import AUDIBLE_LEVEL_DB, Measure, audible_ms, either_way
from evenhand.music.exercise import HAND_NAMES, HANDS, other_hand
from evenhand.music.strokes.heights import CM_PER_INCH, STROKE_CLASSES, StrokeClass, Unit
from evenhand.progress.bounce.grips import ENOUGH, HandGrips
from evenhand.progress.bounce.restitution import (
    Agreement,
    BounceComparison,
    HeardBounce,
    HeardDrop,
    LabelBounce,
)
from evenhand.progress.heights import (
    PHYSICS_DB_PER_DECADE,
    HandScale,
    HeightCalibration,
    SaidHeights,
    SaidStroke,
)
from evenhand.progress.minute.rates import HeardMinute
from evenhand.report.words.figures import (
    SIDE_WORDS,
    capitalised,
    count,
    duration,
    hand_words,
    interval_words,
    listed,
    plain,
    with_range,
)
from evenhand.report.words.remarks import remark_words
from evenhand.take import Remark


def bounce_top_words(heard: HeardBounce) -> str:
    """Say the one thing that matters most."""
    if heard.longest is not None:
        return f"The stick bounces longest with {spoken(heard.longest)}."
    free = [drop for drop in heard.drops if drop.kind == "free"]
    if len(heard.labels) > 1:
        names = listed([spoken(label.label) for label in heard.labels])
        return f"Can't tell yet which bounces longest: {names}."
    if not free:
        return "No drop was left alone until it came to rest."
    if len(free) == len(heard.drops):
        said = "The drop was" if len(free) == 1 else "All drops were"
        return f"{said} free: the stick was left alone."
    return f"{len(free)} of {count(len(heard.drops), 'drop')} were free: the stick was left alone."


def drops_words(drops: Sequence[HeardDrop]) -> str:
    """Say to the student what became of the drops."""
    free = sum(drop.kind == "free" for drop in drops)
    if not drops:
        return "No drop was heard. Let the stick fall on the pad, near to the microphone."
    facts = Remark("drops heard", {"n": len(drops), "free": free})
    return remark_words(facts)


def grip_lines(found: HandGrips) -> tuple[str, list[str]]:
    """Say which grip of a hand bounces longest; then what each grip came to, and by how much they differ."""
    return _grips_top(found), [*map(_grip_line, found.grips), *_pairs(found)]


def _grips_top(found: HandGrips) -> str:
    """Say of one hand which grip bounces longest, or what is lacking to tell."""
    hand, compared = capitalised(hand_words(found.hand)), found.compared
    if len(found.grips) < 2:
        return f"{hand}: one grip so far. Try another: {ENOUGH} free drops of each can be compared."
    if found.longest is not None:
        return f"{hand}: it bounces longest with {found.longest}."
    if len(compared) < 2:
        return f"{hand}: can't tell yet. Two grips need {ENOUGH} free drops each."
    return f"{hand}: can't tell yet which of {listed([each.label for each in compared])} bounces longest."


def _grip_line(grip: LabelBounce) -> str:
    more = ENOUGH - grip.free
    lacking = f" {capitalised(count(more, 'free drop'))} more, and it can be compared." if more > 0 else ""
    return capitalised(f"{label_line(grip)}{lacking}")


def _pairs(found: HandGrips) -> list[str]:
    return [pair_line(pair) for pair in found.comparisons] if len(found.compared) > 1 else []


def spoken(label: str) -> str:
    """Name a hand, or a grip, inside a sentence.

    >>> spoken("R"), spoken("fingertips")
    ('the right hand', 'fingertips')
    """
    return next((f"the {HAND_NAMES[hand]} hand" for hand in HANDS if hand == label), label)


def kept(figure: Measure) -> str:
    """Write a restitution with its interval."""
    if figure.value is None:
        return "too few to tell"
    return with_range(figure, 2, "")


def height(figure: Measure, unit: Unit) -> str:
    """Write a height with its range.

    >>> height(Measure(20.32, 5, "cm", (19.05, 22.86)), "in")
    '8.0 in (7.5 to 9.0)'
    """
    if figure.value is None:
        return "–"
    per, decimals = (CM_PER_INCH, 1) if unit == "in" else (1.0, 0)
    ends = None if figure.ci95 is None else (figure.ci95[0] / per, figure.ci95[1] / per)
    return with_range(Measure(figure.value / per, figure.n, unit, ends), decimals)


def label_line(label: LabelBounce) -> str:
    """Say what was heard of one grip or hand."""
    drops = f"{label.free} of {count(label.drops, 'drop')} free"
    if label.restitution.value is None:
        return f"{label.label}: {drops}; too few to tell how it bounces."
    blows = label.bounces.value
    mean = "" if blows is None else f", {plain(blows, 0)} bounces on average"
    return f"{label.label}: keeps {kept(label.restitution)} of its speed at a bounce{mean}; {drops}."


def pair_line(pair: BounceComparison) -> str:
    """Say how two grips or hands stand to each other."""
    one, other = spoken(pair.first), spoken(pair.second)
    if pair.difference.value is None:
        return f"Between {one} and {other}: can't tell: a free drop is missing."
    figures = with_range(pair.difference, 3, "of the speed")
    if pair.longer is None:
        return f"Between {one} and {other}: can't tell yet; the difference is {figures}."
    shorter = other if pair.longer == pair.first else one
    return f"It bounces longer with {spoken(pair.longer)} than with {shorter}: by {figures}."


def drop_cells(number: int, drop: HeardDrop, unit: Unit) -> tuple[str, ...]:
    """Return one drop's row: number, label, when, blows, kept, height, kind."""
    return (
        str(number),
        drop.label or "",
        f"{plain(drop.start_s, 2)} s",
        str(drop.bounces),
        kept(drop.restitution),
        height(drop.first_height_cm, unit),
        drop.kind,
    )


def seen_rows(heard: HeardBounce, unit: Unit) -> list[tuple[str, ...]]:
    """Return a row for each drop that was seen: from how high, what it keeps by its heights."""
    return [
        (
            str(number),
            height(drop.seen.drop_height_cm, unit),
            kept(drop.seen.restitution),
            AGREE[drop.seen.agrees],
        )
        for number, drop in enumerate(heard.drops, start=1)
        if drop.seen is not None
    ]


AGREE: Mapping[Agreement, str] = {"agree": "agrees", "differ": "does not agree", "can't tell": "can't tell"}
SEEN_HEADS = ("drop", "dropped from, seen", "keeps, by heights", "with the times")
SEEN_NOTE = (
    "By heights: how high the stick comes back, as it is seen. By times: how soon it hits again, as "
    "it is heard. Where both agree, the share of speed kept can be believed; where they do not, look whether "
    "the stick turned freely, and whether all of its way was in the picture."
)
DROP_HEADS = ("drop", "with", "at", "bounces", "keeps of its speed", "dropped from", "it was")
HEIGHT_NOTE = (
    "Heights are those of a free fall that takes as long. A stick that turns in the hand falls differently, "
    "so compare heights only with each other; the share of speed kept does not depend on it."
)
DAMPED_NOTE = "A damped drop says how freely it bounced up to there; only free drops are compared."


PLURALS: dict[StrokeClass, str] = {"tap": "taps", "half": "halves", "full": "fulls"}
SCALE_NAMES: Mapping[str, str] = {
    **{str(hand): name for hand, name in HAND_NAMES.items()},
    "both": "both hands",
}
SCALE_HEADS = ("hand", "dB a decade of height", "95 % range", "taps", "halves", "fulls", "spread")
SAID_HEADS = ("hand", "taps", "halves", "fulls", "none of them", "sure by more than 0.9")
PHYSICS_NOTE = (
    f"By physics it is about {PHYSICS_DB_PER_DECADE:g} dB a decade (ten times the height) where the stick "
    "only falls; a player who adds force to the high strokes shows more."
)
SURE = 0.9


def calibration_words(calibration: HeightCalibration) -> str:
    """Say what the calibration gives."""
    slope = calibration.scales["both"].slope_db_per_decade
    if slope.value is None:
        return "The scale is not known yet."
    doubled = slope.value * 0.30103
    own = [scale for of, scale in calibration.scales.items() if of != "both"] or [calibration.scales["both"]]
    spread = max(scale.spread_db for scale in own)
    louder = f"Twice the height is {plain(doubled, 1)} dB louder"
    return f"{louder}; hits of one height spread by {plain(spread, 1)} dB."


def scale_cells(name: str, scale: HandScale) -> tuple[str, ...]:
    """Return one hand's row."""
    slope = scale.slope_db_per_decade
    levels = [f"{plain(scale.classes[stroke].mean_db, 1)} dB" for stroke in STROKE_CLASSES]
    return (
        SCALE_NAMES[name],
        plain(slope.value or 0.0, 1),
        interval_words(slope.ci95, 1),
        *levels,
        f"{plain(scale.spread_db, 1)} dB",
    )


def said_words(said: SaidHeights) -> str:
    """Say what the take's hits were, in one sentence."""
    if said.refused is not None:
        return remark_words(said.refused)
    kinds = Counter(stroke.stroke for stroke in said.strokes)
    parts = [count(kinds[each], each, PLURALS[each]) for each in STROKE_CLASSES if kinds[each]]
    if kinds[None]:
        parts.append(f"{kinds[None]} unlike any of them")
    return f"{count(len(said.strokes), 'hit')}: most likely {listed(parts)}."


def said_rows(said: SaidHeights) -> list[tuple[str, ...]]:
    """Return a row for each hand that there are hits of."""
    hands = [hand for hand in ("R", "L", None) if any(s.hand == hand for s in said.strokes)]
    return [_hand_row(hand, [s for s in said.strokes if s.hand == hand]) for hand in hands]


def _hand_row(hand: str | None, strokes: Sequence[SaidStroke]) -> tuple[str, ...]:
    kinds = Counter(stroke.stroke for stroke in strokes)
    sure = sum(1 for stroke in strokes if (stroke.probability or 0.0) > SURE)
    name = SCALE_NAMES[hand] if hand is not None else "not known"
    numbers = [kinds[each] for each in STROKE_CLASSES]
    return (name, *(str(n) for n in numbers), str(kinds[None] or ""), f"{sure} of {len(strokes)}")


FIGURE_HEADS = ("figure", "value", "95 % range", "from")


def minute_top_words(heard: HeardMinute) -> str:
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
    figures = with_range(slope, 2, "strokes a second, each minute", sign=True)
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
    first = heard.first_hand
    return "the second hand" if first is None else f"the {HAND_NAMES[other_hand(first)]} hand"


def _late_line(heard: HeardMinute) -> str:
    late, edge = heard.second_hand_late_ms, audible_ms(heard.interval_ms.value)
    if late.value is None:
        return ""
    low, high = sorted(abs(end) for end in late.ci95 or (0.0, 0.0))
    one_way = late.ci95 is not None and late.ci95[0] * late.ci95[1] > 0
    span = f" ({plain(low)} to {plain(high)})" if one_way else ""
    figures = f"{plain(abs(late.value))} ms {'late' if late.value >= 0 else 'early'}{span}"
    named, side = capitalised(second_hand(heard)), SIDE_WORDS[either_way(late, edge)]
    return f"{named} comes {figures}: long and short in turn; {side} (from {plain(edge)} ms)."


def _level_line(heard: HeardMinute) -> str:
    level = heard.level_difference_db
    if level.value is None:
        return ""
    figures = f"{plain(abs(level.value))} dB {'louder' if level.value >= 0 else 'softer'}"
    named, side = capitalised(second_hand(heard)), SIDE_WORDS[either_way(level, AUDIBLE_LEVEL_DB)]
    return f"{named} is {figures}; {side} (from about 1 dB)."


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
