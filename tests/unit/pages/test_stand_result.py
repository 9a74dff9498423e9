"""A student reads plain sentences and the picture; figures, ranges and counts lie behind a fold."""

from __future__ import annotations

import html
import re
from dataclasses import replace
from typing import get_args

import pytest

from evenhand.craft.text import parse_exercise
from evenhand.domain.findings import Evidence, Finding, FindingKind
from evenhand.pages.stand_result import stand_result
from evenhand.pages.student_words import said_to_student
from tests.builders import a_blind_take, a_heard_take
from tests.unit.pages.takes import LATE

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
    assert LATE.findings[0].text in " ".join(words.split())
    assert "95 % range" in words
    assert re.search(r"from \d+ hits", words)
    assert "level, dB" in words


@pytest.mark.parametrize(
    ("kind", "measure", "value", "text", "said"),
    [
        ("late_hand", "balance_timing_ms", -11.0, "", "Your left hand comes a little after your right."),
        ("late_hand", "hands.R.timing_mean_ms", 9.0, "", "Your right hand comes a little late on the click."),
        (
            "early_hand",
            "hands.L.timing_mean_ms",
            -9.0,
            "Both hands come early on the click: the right by 9 ms (7 to 11).",
            "Both hands come a little early on the click.",
        ),
        ("early_hand", "positions.timing_ms", -12.0, "", "Note 5, by your left hand, comes a little early."),
        ("weak_hand", "balance_level_db", 2.0, "", "Your left hand is softer than your right."),
        ("weak_hand", "balance_level_db", -2.0, "", "Your right hand is softer than your left."),
        (
            "uneven_double",
            "doubles.R.short_share",
            0.55,
            "",
            "In your right hand's doubles the second note comes too late.",
        ),
        ("hurrying", "run_from_click_ms", -40.0, "", "You run ahead of the click."),
        ("dragging", "drift_bpm_per_min", -3.0, "", "You get slower as you play."),
        (
            "missed_note",
            "missed",
            0.2,
            "",
            "Note 5, by your left hand, was missed more often than the others.",
        ),
        (
            "uneven_above_tempo",
            "timing_sd_ms",
            14.0,
            "Even to the ear up to about 92 beats a minute and uneven above: the notes scatter by 6 ms.",
            "Even to the ear up to about 92 beats a minute and uneven above.",
        ),
        (
            "even",
            "balance_level_db",
            0.2,
            "Even to the ear: in level, 0.9 dB.",
            "Your hands are equally loud.",
        ),
        (
            "even",
            "balance_timing_ms",
            1.0,
            "Even to the ear: in timing, 3 ms.",
            "Your hands are together and steady.",
        ),
        (
            "even",
            "balance_timing_ms",
            1.0,
            "Even to the ear: in timing, 3 ms; in level, 0.9 dB.",
            "Your hands are together, steady and equally loud.",
        ),
        (
            "cannot_tell",
            "balance_timing_ms",
            5.0,
            "Can't tell yet whether the left hand comes behind the right: 5. About 9 repetitions would tell.",
            "Can't tell yet whether your left hand comes behind your right. About 9 repetitions would tell.",
        ),
    ],
)
def test_a_finding_is_said_to_the_student(
    kind: FindingKind, measure: str, value: float, text: str, said: str
) -> None:
    """By hand: of right minus left, a negative balance of time is a late left; 0.50 is an even double."""
    evidence = Evidence(measure, value, "", 40, None, None, (4,))
    assert said_to_student(Finding(kind, text, evidence, ""), EXERCISE) == said


@pytest.mark.parametrize("kind", get_args(FindingKind))
def test_every_kind_is_said_without_figures(kind: FindingKind) -> None:
    text = "Something is heard: 9 ms (7 to 11), from 40 hits."
    evidence = Evidence("hands.L.timing_mean_ms", 9.0, "ms", 40, (7.0, 11.0), 6.0, (1,))
    said = said_to_student(Finding(kind, text, evidence, ""), EXERCISE)
    assert said
    assert STATISTICS.search(said) is None
