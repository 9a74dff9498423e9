"""A student reads plain sentences and the picture; figures, ranges and counts lie behind a fold."""

from __future__ import annotations

import html
import re
from dataclasses import replace
from typing import get_args

import pytest

from evenhand.measuring.values import Evidence, Finding, FindingKind, Measure
from evenhand.music.text import parse_exercise
from evenhand.report.take.report import stand_result
from evenhand.report.words.findings import finding_words
from evenhand.report.words.take import said_to_student
from tests.builders import a_blind_take, a_heard_take, in_words
from tests.unit.measuring.takes import LATE

EXERCISE = parse_exercise("1/16: RLRR LRLL")
STATISTICS = re.compile(r"\d\s*(ms|dB|%|bpm)|95 %|\bfrom \d+ (hits|doubles)|\d+ to \d+\)")


def unfolded(markup: str) -> str:
    """Return the words of a page that stand before anything is opened, pictures and their titles left out."""
    shown = re.sub(r"<details.*?</details>", "", markup, flags=re.DOTALL)
    shown = re.sub(r"<svg.*?</svg>", "", shown, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", shown)).split())


@pytest.mark.parametrize(
    "take", [LATE, a_heard_take(), a_blind_take(), replace(LATE, measures=None, findings=())]
)
def test_no_statistics_stand_before_the_fold(take: object) -> None:
    markup = stand_result(take, None)  # type: ignore[arg-type] # each is a heard take
    assert STATISTICS.search(unfolded(markup)) is None


def test_the_fold_has_what_a_teacher_reads() -> None:
    markup = stand_result(LATE, None)
    folded = re.search(r'<details class="in-figures">.*', markup, re.DOTALL)
    assert folded is not None
    words = html.unescape(re.sub(r"<[^>]+>", " ", folded[0]))
    assert finding_words(LATE.findings[0], LATE.exercise) in " ".join(words.split())
    assert "95 % range" in words
    assert re.search(r"from \d+ hits", words)
    assert "level, dB" in words


@pytest.mark.parametrize(
    ("kind", "measure", "value", "said"),
    [
        ("late_hand", "balance.timing_ms", -11.0, "Your left hand comes a little after your right."),
        ("late_hand", "hands.R.timing_mean_ms", 9.0, "Your right hand comes a little late on the click."),
        ("early_hand", "positions.timing_ms", -12.0, "Note 5, by your left hand, comes a little early."),
        ("weak_hand", "balance.level_db", 2.0, "Your left hand is softer than your right."),
        ("weak_hand", "balance.level_db", -2.0, "Your right hand is softer than your left."),
        (
            "uneven_double",
            "doubles.R.short_share",
            0.55,
            "In your right hand's doubles the second note comes too late.",
        ),
        ("hurrying", "run_from_click_ms", -40.0, "You run ahead of the click."),
        ("dragging", "drift_bpm_per_min", -3.0, "You get slower as you play."),
        (
            "missed_note",
            "missed",
            0.2,
            "Note 5, by your left hand, was missed more often than the others.",
        ),
        ("even", "balance.level_db", 0.2, "Your hands are equally loud."),
        ("even", "balance.timing_ms", 1.0, "Your hands are together and steady."),
    ],
)
def test_a_finding_is_said_to_the_student(kind: FindingKind, measure: str, value: float, said: str) -> None:
    """By hand: of right minus left, a negative balance of time is a late left; 0.50 is an even double."""
    assert said_to_student(Finding(kind, evidence_of(measure, value)), EXERCISE) == said


def evidence_of(measure: str, value: float, *positions: int) -> Evidence:
    return Evidence(measure, value, "", 40, None, None, positions or (4,))


def test_both_hands_off_the_click_are_said_together() -> None:
    early = Finding("early_hand", evidence_of("hands.L.timing_mean_ms", -9.0, *range(8)))
    assert said_to_student(early, EXERCISE) == "Both hands come a little early on the click."


def test_what_is_even_in_time_and_level_is_said_in_one() -> None:
    figures = {"timing": Measure(1.0, 40, "ms"), "level": Measure(0.2, 40, "dB")}
    even = Finding("even", evidence_of("balance.timing_ms", 1.0), figures=figures)
    assert said_to_student(even, EXERCISE) == "Your hands are together, steady and equally loud."


def test_a_tempo_that_is_even_is_said() -> None:
    figures = {"even up to": Measure(92.0, 12, "bpm"), "below": Measure(6.0, 40, "ms")}
    uneven = Finding("uneven_above_tempo", evidence_of("timing_sd_ms", 14.0), figures=figures)
    said = "Even to the ear up to about 92 beats a minute and uneven above."
    assert said_to_student(uneven, EXERCISE) == said


def test_what_is_open_is_said_with_how_many_repetitions_would_tell() -> None:
    figures = {"repetitions": Measure(9, 4, "repetitions")}
    finding = Finding("cannot_tell", evidence_of("balance.timing_ms", -5.0), "late_hand", figures)
    said = "Can't tell yet whether your left hand comes behind your right. About 9 repetitions would tell."
    assert said_to_student(finding, EXERCISE) == said


@pytest.mark.parametrize("kind", get_args(FindingKind))
def test_every_kind_that_was_stored_in_words_is_said_without_figures(kind: FindingKind) -> None:
    text = "Something is heard: 9 ms (7 to 11), from 40 hits."
    evidence = Evidence("hands.L.timing_mean_ms", 9.0, "ms", 40, (7.0, 11.0), 6.0, (1,))
    said = said_to_student(in_words(kind, text, evidence, ""), EXERCISE)
    assert said
    assert STATISTICS.search(said) is None
