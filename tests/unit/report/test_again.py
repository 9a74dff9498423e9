"""A take heard again: what is said to have changed is what was changed, and nothing else."""

from __future__ import annotations

from dataclasses import replace

from evenhand.measuring.values import HeardTake
from evenhand.report.words.again import changed_words
from tests.builders import a_heard_take


def heard_by(ear: int | None, take: HeardTake) -> HeardTake:
    return replace(take, heard=replace(take.heard, ear=ear))


NOW = heard_by(3, a_heard_take())


def test_the_same_heard_again_has_changed_in_nothing() -> None:
    assert changed_words(heard_by(2, NOW), NOW) == [
        "Heard by ear 3; before, by ear 2.",
        "Nothing changed that a teacher would see.",
    ]


def test_what_was_heard_before_ears_had_numbers_is_said() -> None:
    assert changed_words(heard_by(None, NOW), NOW)[0] == "Heard by ear 3; before, by one that had no number."


def test_hits_that_came_changed_hands_and_moved_are_counted() -> None:
    """Two hits fewer before, one with the other hand, one 4 ms off."""
    hits = list(NOW.heard.hits)
    n = len(hits)
    hits[0] = replace(hits[0], hand="L" if hits[0].hand == "R" else "R")
    hits[1] = replace(hits[1], time_s=hits[1].time_s + 0.004)
    before = replace(NOW, heard=replace(NOW.heard, hits=tuple(hits[: n - 2])))
    said = changed_words(before, NOW)
    assert f"2 strokes heard now and not before ({n - 2} before, {n} now)." in said
    assert f"1 hit of {n - 2} given to the other hand." in said
    assert f"The times of {n - 2} hits moved by 0.00 ms at the median and 4.00 ms at most." in said


def test_findings_that_came_and_went_are_said_in_their_words() -> None:
    assert NOW.findings
    none = replace(NOW, findings=())
    assert sum(line.startswith("New: ") for line in changed_words(none, NOW)) == len(NOW.findings)
    assert sum(line.startswith("No longer said: ") for line in changed_words(NOW, none)) == len(NOW.findings)


def test_another_clock_and_a_doubt_are_said() -> None:
    other = replace(NOW.heard, clock="smooth" if NOW.heard.clock == "click" else "click")
    said = changed_words(replace(NOW, heard=other), NOW)
    assert any(line.startswith("Timing is judged against ") for line in said)
