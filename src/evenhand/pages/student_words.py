"""Findings as one says them to a student: what to hear and what to do, without a figure.

Conventions: the student is spoken to; the figures behind a sentence stand in ``findings`` and are shown
where they are asked for. Nothing is said here that the finding does not say.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from evenhand.domain.exercise import Exercise, Hand
from evenhand.domain.findings import Evidence, Finding, FindingKind

NAMES: Mapping[Hand, str] = {"R": "right", "L": "left"}
OTHERS: Mapping[Hand, str] = {"R": "left", "L": "right"}
EVEN_SHARE = 0.5  # of a double's first interval

Says = Callable[[Finding, Exercise | None], str]


def said_to_student(finding: Finding, exercise: Exercise | None) -> str:
    """Say a finding to the student; what is not in the table is said as it stands, up to its figures.

    >>> late = Evidence("balance_timing_ms", -11.2, "ms", 128, (-13.2, -9.1), 8.9)
    >>> said_to_student(Finding("late_hand", "The left hand comes 11 ms behind the right.", late, ""), None)
    'Your left hand comes a little after your right.'
    """
    says = SAID.get(finding.kind, _up_to_the_figures)
    return says(finding, exercise)


def _hand(evidence: Evidence | None) -> Hand:
    """Tell which hand a figure speaks of; of a balance (right minus left) the softer or the later one."""
    if evidence is None:
        return "R"
    if evidence.measure.startswith("balance") and evidence.value is not None:
        soft = evidence.measure.endswith("level_db")
        return "L" if (evidence.value > 0) == soft else "R"
    return "L" if "L" in evidence.measure.split(".") else "R"


def _up_to_the_figures(finding: Finding, _: Exercise | None) -> str:
    """Say a finding's sentence without the figures after its colon, and how many repetitions would tell."""
    first, colon, rest = finding.text.partition(":")
    said = f"{first}." if colon else finding.text
    for hand in NAMES.values():
        said = said.replace(f"the {hand}", f"your {hand}")
    would_tell = re.search(r"About \d+ repetitions? would tell\.", rest)
    return f"{said} {would_tell[0]}" if would_tell else said


def _off_time(finding: Finding, exercise: Exercise | None) -> str:
    way = "late" if finding.kind == "late_hand" else "early"
    evidence = finding.evidence
    hand = NAMES[_hand(evidence)]
    if finding.text.startswith("Both hands"):
        return f"Both hands come a little {way} on the click."
    if evidence is not None and evidence.measure.startswith("positions") and evidence.positions:
        return f"{_note(evidence.positions[0], exercise)} comes a little {way}."
    if evidence is not None and evidence.measure.startswith("balance"):
        return f"Your {hand} hand comes a little after your {OTHERS[_hand(evidence)]}."
    return f"Your {hand} hand comes a little {way} on the click."


def _note(position: int, exercise: Exercise | None) -> str:
    """Name a note, from 1, with its hand."""
    hand = None if exercise is None or position >= len(exercise.notes) else exercise.notes[position].hand
    return f"Note {position + 1}{'' if hand is None else f', by your {NAMES[hand]} hand,'}"


def _uneven_double(finding: Finding, _: Exercise | None) -> str:
    evidence = finding.evidence
    soon = evidence is None or evidence.value is None or evidence.value < EVEN_SHARE
    hand, when = NAMES[_hand(evidence)], "soon" if soon else "late"
    return f"In your {hand} hand's doubles the second note comes too {when}."


def _flams(finding: Finding, _: Exercise | None) -> str:
    name = "drags" if "drags" in finding.text else "flams"
    flat = finding.kind == "flam_flat"
    how = "flat: both sticks land almost together" if flat else "wide: the small note comes too early"
    return f"Your {NAMES[_hand(finding.evidence)]} hand's {name} are too {how}."


def _missed(finding: Finding, exercise: Exercise | None) -> str:
    if finding.evidence is None or not finding.evidence.positions:
        return "One note was missed more often than the others."
    return f"{_note(finding.evidence.positions[0], exercise)} was missed more often than the others."


def _tempo(finding: Finding, _: Exercise | None) -> str:
    click = finding.evidence is not None and finding.evidence.measure.startswith("run_from_click")
    if finding.kind == "hurrying":
        return "You run ahead of the click." if click else "You get faster as you play."
    return "You fall behind the click." if click else "You get slower as you play."


def _even(finding: Finding, _: Exercise | None) -> str:
    time, level = "in timing" in finding.text, "in level" in finding.text
    if time and level:
        return "Your hands are together, steady and equally loud."
    if time or level:
        return "Your hands are together and steady." if time else "Your hands are equally loud."
    return "It sounds even."


def _of_hand(words: str) -> Says:
    """Say words of the finding's hand, and of the other."""

    def says(finding: Finding, _: Exercise | None) -> str:
        hand = _hand(finding.evidence)
        return words.format(hand=NAMES[hand], other=OTHERS[hand])

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
