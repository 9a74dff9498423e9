"""Remarks in words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from evenhand.measuring.values import HeardTake
from evenhand.report.words.figures import count
from evenhand.take import ExtraReason, Fact, Remark, RemarkKind

Facts = Mapping[str, Fact]
EXTRA_REASONS: Mapping[ExtraReason, str] = {
    "before the start": "before the first note",
    "count-in": "taken for a count-in",
    "between": "between the notes",
    "after": "after the last note",
    "too soft": "too soft to be sure of",
}


def _without_note(facts: Facts) -> str:
    parts = [f"{facts[reason]} {words}" for reason, words in EXTRA_REASONS.items() if facts.get(reason)]
    return f"{facts['n']} hits were given no note: {', '.join(parts)}."


REMARKS: Mapping[RemarkKind, str | Callable[[Facts], str]] = {
    "written": "{text}",
    "no note found": "No note of the exercise was found in the take.",
    "notes unmatched": (
        "This does not sound like the exercise: {missed} of {asked} notes unmatched, "
        "{between} hits that are not in it."
    ),
    "hits off the notes": (
        "This does not sound like the exercise: its hits stand {spread_ms:.0f} ms "
        "(spread, {n} hits) from where the notes would be."
    ),
    "two alignments": (
        "The take fits two alignments: begun with note {note} at {at_s:.1f} s, as taken here, "
        "or with note {other_note} at {other_at_s:.1f} s."
    ),
    "hands from habit": (
        "The first hit was taken for the exercise's first note: nothing in the sound tells the hands apart."
    ),
    "no click found": "No click was found, though one was said to be heard: timing is judged without it.",
    "another note value": "The tempo given was {asked}; the take fits {fits}, and is heard so.",
    "another tempo": (
        "Played {by_percent:.0f} % {way} than the {asked} asked for: "
        "is it the right exercise, or another note value?"
    ),
    "hits without a note": _without_note,
    "maybe a count-in": "The first {n} hits may be a count-in; they are taken for notes.",
    "maybe notes": "The first {n} hits are taken for a count-in, and may be notes.",
    "corrected": lambda facts: f"Corrected by hand: {count(int(facts['n']), 'hit')}.",
    "too few hits": lambda facts: f"Too few hits to judge: {count(int(facts['n']), 'was', 'were')} heard.",
    "nothing stands out": "Nothing stands out, and it is too early to call it even: play more repetitions.",
}
THEN: Mapping[RemarkKind, str] = {  # what follows from it, or helps
    "two alignments": (
        "Which hand is which cannot be told from the sound; a click in the recording would tell."
    ),
    "no click found": "Clicks that sound before the playing make it easier to find.",
    "maybe a count-in": "If they are one, hear the take again as beginning at {at_s:.2f} s.",
    "maybe notes": "If they are notes, hear the take again as beginning at {at_s:.2f} s.",
    "too few hits": ("{fewest} with each hand give first figures, 8 repetitions or more give answers."),
}


def remark_sentences(remark: Remark) -> tuple[str, ...]:
    """Say a remark, and what follows from it.

    >>> remark_sentences(Remark("maybe notes", {"n": 4, "at_s": 1.25}))[1]
    'If they are notes, hear the take again as beginning at 1.25 s.'
    """
    words, then = REMARKS[remark.kind], THEN.get(remark.kind)
    said = words(remark.facts) if callable(words) else words.format_map(remark.facts)
    return (said,) if then is None else (said, then.format_map(remark.facts))


def remark_words(remark: Remark) -> str:
    """Say a remark."""
    return " ".join(remark_sentences(remark))


def all_remarks(remarks: Iterable[Remark]) -> list[str]:
    """Say several remarks."""
    return [remark_words(remark) for remark in remarks]


def doubts_of(take: HeardTake) -> list[str]:
    """Say what to be careful with in a take's figures, each once."""
    first = [take.heard.ambiguity] if take.heard.ambiguity is not None else []
    return list(dict.fromkeys([*all_remarks([*first, *take.heard.warnings]), *take.input.warnings]))
