"""Why one exercise is harder than another, and why none is as it was asked for, in words.

Remarks on a stroke plan in words; notes count from 1.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import pairwise

from evenhand.music.exercise import HAND_NAMES
from evenhand.music.strokes.heights import Unit, height_words
from evenhand.music.strokes.remarks import BOUNCE_UNDER_S, WRISTS_OVER_S, StrokeRemark, StrokeRemarkKind
from evenhand.music.writing.difficulty import COMPONENTS, LONGEST_RUN, SAME_LOAD, Difficulty
from evenhand.music.writing.generation import Conflict
from evenhand.report.words.figures import capitalised, count, listed


def explain(ordered: Sequence[Difficulty]) -> list[str]:
    """Say of each exercise, ordered easy to hard, why it comes after the one before."""
    if not ordered:
        return []
    first = f"the easiest of these: {_easiest(ordered[0])}" if len(ordered) > 1 else _easiest(ordered[0])
    return [first, *(_harder(now, before) for before, now in pairwise(ordered))]


def _easiest(first: Difficulty) -> str:
    if first.run_notes == 1:
        return f"no hand plays two in a row, and {_busy(first)}"
    return _run(first)


def _harder(now: Difficulty, before: Difficulty) -> str:
    """Name what weighs most in the step from one exercise to the next."""
    if now.load - before.load < SAME_LOAD:
        return "as hard as the one before"
    steps = [mine - theirs for mine, theirs in zip(now.weighed, before.weighed, strict=True)]
    most = COMPONENTS[steps.index(max(steps))]
    return f"harder than the one before because {_said(now, most)}"


def _said(now: Difficulty, component: str) -> str:
    """Say one component of an exercise."""
    return {
        "hand": _busy(now),
        "run": _run(now),
        "heights": f"a hand changes its height {_times(now.height_changes)}",
        "ornaments": f"it has {_rate(now.ornaments)} graces or buzzes a second",
        "mixed": f"its runs change their length more often, {_times(now.run_changes)}",
        "unfamiliar": "more of its hand changes are in no single, double or paradiddle",
    }[component]


def _busy(now: Difficulty) -> str:
    return f"the {HAND_NAMES[now.hand]} hand plays {_rate(now.hand_rate)} strokes a second"


def _run(now: Difficulty) -> str:
    """Say the run that asks for most."""
    hand, rate = HAND_NAMES[now.run_hand], _rate(now.run_rate)
    if now.run_notes > LONGEST_RUN:
        return f"the {hand} hand plays without a break at {rate} strokes a second"
    return f"the {hand} hand plays {now.run_notes} in a row at {rate} strokes a second"


def _times(rate: float) -> str:
    return f"{_rate(rate)} times a second"


def _rate(rate: float) -> str:
    """Say how often a second.

    >>> _rate(7.0), _rate(4.6667), _rate(0.04)
    ('7', '4.7', '0.04')
    """
    return f"{rate:.1f}".removesuffix(".0") if rate >= 0.1 else f"{rate:.2g}"


def why_none(conflict: Conflict) -> str:
    """Say what cannot go together, what there is instead, and what would be left without one of it."""
    parts = (_says_none(conflict), _what_there_is(conflict), _given_up(conflict))
    return " ".join(part for part in parts if part)


def _says_none(conflict: Conflict) -> str:
    notes = count(conflict.length, "note")
    words = [each.words for each in conflict.properties]
    if len(words) == 1:
        never = conflict.properties[0].never
        return f"No sticking of {notes} has {words[0]}{f': {never}' if never else ''}."
    return f"With {notes}, {listed(words)} do not go together."


def _what_there_is(conflict: Conflict) -> str:
    """Say what the last of the conflict that counts something comes to under the others."""
    if conflict.counted is None:
        return ""
    said = conflict.counted.says(_values(conflict.counts, conflict.counted.names))
    others = listed([each.words for each in conflict.others]) if conflict.others else ""
    return f"With {others}, {said}." if others else f"{capitalised(said)}."


def _given_up(conflict: Conflict) -> str:
    """Say what there would be if one property of all that were asked were given up."""
    if len(conflict.left) < 2:
        return ""
    parts = [
        f'leave out "{each.words}", and there {"is 1" if n == 1 else f"are {n:,}"}'
        for each, n in conflict.left
        if n
    ]
    if not parts:
        return "To leave out any one of what was asked is not enough."
    return f"{capitalised('; '.join(parts))}."


def _values(values: Sequence[int], names: Mapping[int, str]) -> str:
    """Say whole numbers: one, a stretch, or one by one; ``names`` has those that are said by a word.

    >>> _values([4], {}), _values([3, 4, 5], {}), _values([0, 2, 4], {}), _values([0, 8], {})
    ('4', '3 to 5', '0, 2 or 4', '0 or 8')
    """
    said = [names.get(value, str(value)) for value in values]
    if len(values) == 1:
        return said[0]
    even = values[-1] - values[0] == len(values) - 1 and len(values) > 2
    return f"{said[0]} to {said[-1]}" if even else f"{', '.join(said[:-1])} or {said[-1]}"


def found_words(number: int, asked: str, shown: int) -> str:
    """Say how many exercises there are, and how many of them are shown."""
    cut = f" The {shown} easiest are shown." if shown < number else ""
    return f"{number} found: {asked}.{cut}"


def covering_words(chosen: int, of: int, *, changes: int, notes: int, needed: int | None) -> str:
    """Say how many exercises hold all hand changes; ``needed`` at least, where fewer might do."""
    if not changes:
        return f"No exercise of the list has {notes} notes in a row without a rest: nothing to choose."
    fewest = "no fewer do" if needed is None else f"fewer might do, but not fewer than {needed}"
    verb = "holds" if chosen == 1 else "hold"
    return f"{chosen} of {of} {verb} all {changes} hand changes of {notes} notes; {fewest}."


NAMED = 6  # so many notes are named; of more, the first are
_ALONE = (
    "{notes} from {height_cm}: by rebound and weight alone, up and down takes {needed_s}; "
    "there is {given_s}, enough for {reached_cm}."
)
STROKE_REMARKS: Mapping[StrokeRemarkKind, str] = {
    "needs_throw": (
        f"{_ALONE} It takes force: the stick is thrown, not dropped. Relaxed up to {{relaxed_bpm}}."
    ),
    "needs_lift": (
        f"{_ALONE} Rebound is not enough: rising alone takes {{rise_s}}, so the hand must lift. "
        "Relaxed up to {relaxed_bpm}."
    ),
    "stop_low": (
        "{notes}: a down stroke whose hand strikes again {given_s} later. "
        "Two wrist strokes usually end at {wrists_s} to {bounce_s}: "
        "stopping the stick low in that time is hard, and the next note comes too loud."
    ),
    "quick_lift": (
        "{notes}: an up stroke with {given_s} to get from low to {height_cm}; "
        "a free rise alone takes {rise_s}. Start the next note lower, or take it slower."
    ),
    "loud_second": (
        "{notes}: higher than the same hand's note {given_s} before. "
        "A bounce is never louder than its throw, so this takes a stroke of its own, from the fingers."
    ),
    "fast_hand": (
        "{hands} strikes every {given_s}, {rate:.1f} a second: "
        "a hand's steady limit is usually given as 5 to 7 a second."
    ),
    "grace_after_high": (
        "{notes}: by the hand that has just come from high. "
        "Its stick stops low after that note and waits there."
    ),
    "buzz": "{notes}: a buzz uses its rebound up on the head; the hand lifts the stick after it.",
}


def stroke_remark_words(remark: StrokeRemark, unit: Unit, beat: Fraction) -> str:
    """Say a remark, heights in a unit and tempos in a beat."""
    figures = {**remark.figures, "wrists_s": WRISTS_OVER_S, "bounce_s": BOUNCE_UNDER_S}
    said = {name: _figure_words(name, value, unit, beat) for name, value in figures.items()}
    given_s = remark.figures.get("given_s")
    return STROKE_REMARKS[remark.kind].format(
        notes=_blows(remark), hands=_hands(remark), rate=1 / given_s if given_s else 0.0, **said
    )


def tempo_below(beat: Fraction, bpm: float) -> str:
    """Write a tempo rounded down to whole beats.

    >>> tempo_below(Fraction(1, 8), 251.7)
    '1/8 = 251'
    """
    return f"{beat.numerator}/{beat.denominator} = {math.floor(bpm + 1e-9)}"


def _figure_words(name: str, value: float, unit: Unit, beat: Fraction) -> str:
    if name.endswith("_cm"):
        return height_words(value, unit)
    if name.endswith("_bpm"):
        return tempo_below(beat, value)
    return f"{value:.2f} s" if value >= 0.195 else f"{value:.3f} s"


def _blows(remark: StrokeRemark) -> str:
    """Name some blows: "Notes 1, 3 and 5", "The grace at note 2"."""
    numbers = [str(position + 1) for position in remark.positions]
    said = listed(numbers)
    if len(numbers) > NAMED:
        said = f"{', '.join(numbers[:NAMED])} and {len(numbers) - NAMED} more"
    notes = f"{'note' if len(numbers) == 1 else 'notes'} {said}"
    if remark.graces:
        return f"The {'grace' if remark.graces == 1 else 'graces'} at {notes}"
    return capitalised(notes)


def _hands(remark: StrokeRemark) -> str:
    return "Each hand" if len(remark.hands) == 2 else f"The {HAND_NAMES[remark.hands[0]]} hand"
