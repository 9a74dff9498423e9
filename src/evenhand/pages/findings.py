"""Findings on the page: what was heard, its evidence, where in the exercise, and what to practise."""

from __future__ import annotations

from evenhand.domain.exercise import Exercise
from evenhand.domain.findings import Evidence, Finding
from evenhand.domain.heard_take import HeardTake
from evenhand.pages.figures import decimals_for, from_words, interval_words, plain
from evenhand.pages.markup import el, esc, prose
from evenhand.pages.table import value_words
from evenhand.pages.words_findings import finding_words, remedy_words

MOST_SHOWN = 64  # letters of the exercise in which places are marked
SPREADS = ("sd", "spread", "share", "gap")


def findings_list(take: HeardTake) -> str:
    """Return the findings in their order; "" where there are none."""
    items = [_finding(finding, take.exercise) for finding in take.findings]
    return el("ol", *items, class_="findings") if items else ""


def _finding(finding: Finding, exercise: Exercise | None) -> str:
    parts = [el("p", prose(finding_words(finding, exercise)), class_="said")]
    if finding.evidence is not None:
        parts.append(el("p", _evidence(finding.evidence), class_="evidence"))
        parts.append(_where(finding.evidence, exercise))
    parts.append(remedy_line(finding, exercise))
    return el("li", *parts)


def remedy_line(finding: Finding, exercise: Exercise | None) -> str:
    """Say what to practise; "" where nothing is."""
    remedy = remedy_words(finding, exercise)
    return el("p", prose(f"To practise: {remedy}"), class_="remedy") if remedy else ""


def _evidence(evidence: Evidence) -> str:
    """Write the figure with its interval, count, and the threshold it is held against."""
    is_difference = not any(word in evidence.measure for word in SPREADS) and evidence.unit in {"ms", "dB"}
    parts = [
        f"{esc(measure_words(evidence.measure))}: {value_words(evidence.figure, difference=is_difference)}"
    ]
    if evidence.ci95 is not None:
        words = interval_words(evidence.ci95, decimals_for(evidence.unit))
        parts.append(f"95 % range {esc(words)}")
    parts.append(from_words(evidence.measure, evidence.n))
    if evidence.audible_from is not None:
        threshold = plain(evidence.audible_from, decimals_for(evidence.unit))
        parts.append(f"audible from {esc(threshold)} {esc(evidence.unit)}")
    return "; ".join(parts)


def measure_words(name: str) -> str:
    """Call a measure as the tables of figures call it.

    >>> measure_words("hands.L.timing_mean_ms"), measure_words("balance_timing_ms")
    ('left hand, timing, mean', 'right minus left, timing')
    """
    *path, last = name.split(".")
    hand = next((HANDS[part] for part in path if part in HANDS), "")
    words = CALLED.get(last) or last.rpartition("_")[0].replace("_", " ") or last
    return ", ".join(part for part in (hand, words) if part)


HANDS = {"R": "right hand", "L": "left hand"}
CALLED = {
    "timing_mean_ms": "timing, mean",
    "timing_sd_ms": "timing, spread",
    "interval_sd_ms": "own intervals, spread",
    "level_mean_db": "level, mean",
    "level_sd_db": "level, spread",
    "balance_timing_ms": "right minus left, timing",
    "balance_level_db": "right minus left, level",
    "second_minus_first_db": "doubles, second minus first",
    "short_share": "doubles, first interval's share",
    "over_taps_db": "accents over unaccented",
    "gap_ms": "graces, ahead by",
    "drift_bpm_per_min": "drift",
    "spread_trend_ms_per_min": "spread over the take",
    "level_trend_db_per_min": "level over the take",
    "run_from_click_ms": "away from the click over the take",
    "timing_ms": "timing, against the hand's other notes",
    "missed": "missed, share",
}


def _where(evidence: Evidence, exercise: Exercise | None) -> str:
    """Mark the finding's notes in the exercise's letters, and name them in words."""
    if not evidence.positions or exercise is None or len(evidence.positions) > MOST_SHOWN // 2:
        return ""
    told = ", ".join(str(position + 1) for position in evidence.positions)
    words = el("span", esc(f"{'note' if len(evidence.positions) == 1 else 'notes'} {told}"))
    if len(exercise.notes) > MOST_SHOWN:
        return el("p", words, class_="evidence where")
    marked = set(evidence.positions)
    letters = "".join(
        el("u", note.hand or "-") if i in marked else (note.hand or "-")
        for i, note in enumerate(exercise.notes)
    )
    return el(
        "p", el("span", letters, class_="sticking", aria_hidden="true"), " ", words, class_="evidence where"
    )
