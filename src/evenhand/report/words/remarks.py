"""Remarks in words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from evenhand.measuring.values import HeardTake
from evenhand.report.words.figures import HAND_NAMES, count
from evenhand.take import ExtraReason, Fact, Remark, RemarkKind

Facts = Mapping[str, Fact]
EXTRA_REASONS: Mapping[ExtraReason, str] = {
    "before the start": "before the first note",
    "count-in": "taken for a count-in",
    "between": "between the notes",
    "after": "after the last note",
    "too soft": "too soft to be sure of",
}


HANDS_NAMED: Mapping[str, str] = {"R": HAND_NAMES["R"], "L": HAND_NAMES["L"], "": ""}


def _count(facts: Facts, one: str, many: str | None = None) -> str:
    return count(int(facts["n"]), one, many)


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
    "corrected": lambda facts: f"Corrected by hand: {_count(facts, 'hit')}.",
    "too few hits": lambda facts: f"Too few hits to judge: {_count(facts, 'was', 'were')} heard.",
    "nothing stands out": "Nothing stands out, and it is too early to call it even: play more repetitions.",
    "repetitions so far": "{n} whole repetitions so far, {needed} are needed",
    "tempo would tell": "a take at {beat} = {tempo_bpm:g} would tell most",
    "no take shows this": "no take shows this yet",
    "hand not heard": "nothing was heard of the {hand} hand",
    "no drops heard": "no drops were heard",
    "no free drop": "no drop was left free",
    "hands of drops not known": "which hand is not known: all drops count together",
    "few drops heard": "only {n} drops{of_hand} were heard",
    "drops unsure": "of {n} drops{of_hand} it is unsure whether they were left free",
    "drops damped": "{n} drops{of_hand} were damped",
    "strokes not said": lambda facts: f"{_count(facts, 'take does', 'takes do')} not say the stroke.",
    "stages of one stroke": lambda facts: (
        f"The {'stage' if facts['n'] == 1 else 'stages'} {facts['stages']} "
        f"{'uses' if facts['n'] == 1 else 'use'} the same stroke, so those takes count here, too, and "
        "how long this stage has lasted is not known."
    ),
    "hands not told": "{n} of the takes do not tell which hand is which and count for days only.",
}
THEN: Mapping[RemarkKind, str] = {  # what follows from it, or helps
    "strokes not said": "The table's column stroke says it; or --since says when this stage began.",
    "stages of one stroke": "--since says when it began.",
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
    words, then, facts = REMARKS[remark.kind], THEN.get(remark.kind), dict(remark.facts)
    if "hand" in facts:
        facts["hand"] = HANDS_NAMED[str(facts["hand"])]
        facts["of_hand"] = f" of the {facts['hand']} hand" if facts["hand"] else ""
    said = words(facts) if callable(words) else words.format_map(facts)
    return (said,) if then is None else (said, then.format_map(facts))


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
