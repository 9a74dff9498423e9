"""Why one exercise is harder than another, and why none is as it was asked for, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from evenhand.music.exercise import HAND_NAMES
from evenhand.music.search import Lies, StickingFound
from evenhand.music.writing.demands import COMPONENTS, LONGEST_RUN, LONGEST_STRETCH
from evenhand.music.writing.difficulty import SAME_LOAD, Difficulty
from evenhand.music.writing.features import Feature
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
        "stretch": f"{_stretch(now)} without a pause",
        "heights": f"a hand changes its height {_times(now.height_changes)}",
        "ornaments": f"it has {_rate(now.ornaments)} graces or buzzes a second",
        "mixed": f"its runs change their length more often, {_times(now.run_changes)}",
        "unfamiliar": "more of its hand changes are in no single, double or paradiddle",
        "rhythm": f"its note value changes {_times(now.value_changes)}",
        "lead": "the weaker hand leads",
    }[component]


def _busy(now: Difficulty) -> str:
    return f"the {HAND_NAMES[now.hand]} hand plays {_rate(now.hand_rate)} strokes a second"


def _stretch(now: Difficulty) -> str:
    notes = now.stretch_notes
    return "its fastest notes go on" if notes == LONGEST_STRETCH else f"{notes} of its fastest notes come"


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


LIES_WORDS: Mapping[Lies, str] = {
    "whole": "just this sticking",
    "turned": "the same going round, begun on its note {note}",
    "begins": "begins with it",
    "inside": "in it from note {note}",
    "around": "over the repeat, from note {note}",
}


def lies_words(found: StickingFound) -> str:
    """Say where a sticking that was looked for lies in an exercise.

    >>> lies_words(StickingFound("around", 6, hands_swapped=True))
    'over the repeat, from note 7, hands swapped'
    """
    said = LIES_WORDS[found.lies].format(note=found.note + 1)
    swapped = ", hands swapped" if found.hands_swapped else ""
    return f"{said}{swapped}{', with rests between' if found.rests_between else ''}"


NOT_WEIGHED = (
    "Weighed: which hand leads or is alone, doubles, accents, flams and drags, and what is like those "
    "chosen already. Not weighed: the tempo, how loud a passage is, reading, and how it feels to play."
)
FEATURE_WORDS: Mapping[Feature, str] = {
    "accents": "accent changes",
    "ornaments": "flams, drags and buzzes",
    "rolls": "rolls",
    "lead": "leads",
}


def beside_words(beside: Sequence[tuple[Feature, int, int]]) -> str:
    """Say what else a list has, and how much of it the chosen hold; "" where they hold it all.

    >>> beside_words([("accents", 3, 8), ("lead", 2, 2)])
    'Of what else the list has they hold 3 of 8 accent changes: --hold accents holds all.'
    """
    lacking = [(name, n, of) for name, n, of in beside if n < of]
    if not lacking:
        return ""
    said = listed([f"{n} of {of} {FEATURE_WORDS[name]}" for name, n, of in lacking])
    options = " ".join(f"--hold {name}" for name, _, _ in lacking)
    return f"Of what else the list has they hold {said}: {options} holds all."
