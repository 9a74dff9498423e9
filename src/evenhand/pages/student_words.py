"""Findings as one says them to a student: what to hear and what to do, without a figure.

Conventions: the student is spoken to; the figures behind a sentence are said in ``words_findings`` and are
shown where they are asked for. Nothing is said here that the finding does not say.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from evenhand.domain.exercise import Exercise
from evenhand.domain.findings import Finding, FindingKind
from evenhand.domain.remarks import RemarkKind
from evenhand.pages.figures import HAND_NAMES, OTHER_NAMES
from evenhand.pages.words_findings import (
    NO_EVIDENCE,
    asked_words,
    hand_of,
    is_of_one_note,
    of_both_hands,
    ornament_words,
    uneven_above_words,
    way_words,
    would_tell,
)
from evenhand.pages.words_remarks import remark_words

EVEN_SHARE = 0.5  # of a double's first interval
REMARKS: Mapping[RemarkKind, str] = {
    "no note found": "No note of the exercise was found in the take.",
    "notes unmatched": "This does not sound like the exercise.",
    "hits off the notes": "This does not sound like the exercise.",
    "two alignments": "The take fits two alignments.",
    "too few hits": "Too few hits to judge.",
    "nothing stands out": "Nothing stands out, and it is too early to call it even.",
}
STORED: Mapping[FindingKind, str] = {  # of findings that an earlier version stored in words, figures and all
    "unlike_exercise": "This does not sound like the exercise.",
    "two_alignments": "The take fits two alignments.",
    "uneven_above_tempo": "Even to the ear up to a tempo, and uneven above it.",
    "cannot_tell": "Something can't be told yet.",
    "even": "It sounds even.",
    "missed_note": "One note was missed more often than the others.",
}
Says = Callable[[Finding, Exercise | None], str]


def said_to_student(finding: Finding, exercise: Exercise | None) -> str:
    """Say a finding to the student.

    >>> from evenhand.domain.findings import Evidence
    >>> late = Evidence("balance_timing_ms", -11.2, "ms", 128, (-13.2, -9.1), 8.9)
    >>> said_to_student(Finding("late_hand", late), None)
    'Your left hand comes a little after your right.'
    """
    if finding.question is not None:
        asked = f"Can't tell yet {asked_words(finding, exercise, 'your')}."
        return f"{asked} {would_tell(finding)}"
    if finding.kind in SAID and (finding.remark is None or finding.evidence is not None):
        return SAID[finding.kind](finding, exercise)
    if finding.remark is not None:
        return REMARKS.get(finding.remark.kind) or STORED.get(finding.kind) or remark_words(finding.remark)
    return f"{uneven_above_words(finding)}."


def _off_time(finding: Finding, exercise: Exercise | None) -> str:
    way, evidence = way_words(finding.kind), finding.evidence or NO_EVIDENCE
    if of_both_hands(finding, exercise):
        return f"Both hands come a little {way} on the click."
    if is_of_one_note(finding) and evidence.positions:
        return f"{_note(evidence.positions[0], exercise)} comes a little {way}."
    hand = hand_of(finding, exercise) or "R"
    if evidence.measure.startswith("balance"):
        return f"Your {HAND_NAMES[hand]} hand comes a little after your {OTHER_NAMES[hand]}."
    return f"Your {HAND_NAMES[hand]} hand comes a little {way} on the click."


def _note(position: int, exercise: Exercise | None) -> str:
    """Name a note, from 1, with its hand."""
    hand = None if exercise is None or position >= len(exercise.notes) else exercise.notes[position].hand
    return f"Note {position + 1}{'' if hand is None else f', by your {HAND_NAMES[hand]} hand,'}"


def _uneven_double(finding: Finding, exercise: Exercise | None) -> str:
    share = (finding.evidence or NO_EVIDENCE).value
    when = "soon" if share is None or share < EVEN_SHARE else "late"
    hand = HAND_NAMES[hand_of(finding, exercise) or "R"]
    return f"In your {hand} hand's doubles the second note comes too {when}."


def _flams(finding: Finding, exercise: Exercise | None) -> str:
    flat = finding.kind == "flam_flat"
    how = "flat: both sticks land almost together" if flat else "wide: the small note comes too early"
    hand = HAND_NAMES[hand_of(finding, exercise) or "R"]
    return f"Your {hand} hand's {ornament_words(finding, exercise)} are too {how}."


def _missed(finding: Finding, exercise: Exercise | None) -> str:
    positions = (finding.evidence or NO_EVIDENCE).positions
    note = _note(positions[0], exercise) if positions else "One note"
    return f"{note} was missed more often than the others."


def _tempo(finding: Finding, _: Exercise | None) -> str:
    click = (finding.evidence or NO_EVIDENCE).measure.startswith("run_from_click")
    if finding.kind == "hurrying":
        return "You run ahead of the click." if click else "You get faster as you play."
    return "You fall behind the click." if click else "You get slower as you play."


def _even(finding: Finding, _: Exercise | None) -> str:
    time = (finding.evidence or NO_EVIDENCE).measure.endswith(("timing_ms", "timing"))
    level = "level" in finding.figures or not time
    if time and level:
        return "Your hands are together, steady and equally loud."
    return "Your hands are together and steady." if time else "Your hands are equally loud."


def _of_hand(words: str) -> Says:
    """Say words of the finding's hand, and of the other."""

    def says(finding: Finding, exercise: Exercise | None) -> str:
        hand = hand_of(finding, exercise) or "R"
        return words.format(hand=HAND_NAMES[hand], other=OTHER_NAMES[hand])

    return says


SAID: Mapping[FindingKind, Says] = {
    "even": _even,
    "weak_hand": _of_hand("Your {hand} hand is softer than your {other}."),
    "late_hand": _off_time,
    "early_hand": _off_time,
    "wandering_hand": _of_hand("Your {hand} hand is not steady yet: now early, now late."),
    "weak_second": _of_hand("In your {hand} hand's doubles the second note is softer than the first."),
    "uneven_double": _uneven_double,
    "accents_flat": _of_hand("Your {hand} hand's accents hardly stand out."),
    "taps_high": _of_hand("Between the accents your {hand} hand plays too loud."),
    "hurrying": _tempo,
    "dragging": _tempo,
    "tiring": lambda *_: "You get tired towards the end.",
    "flam_flat": _flams,
    "flam_wide": _flams,
    "missed_note": _missed,
}
