"""What was heard, on the student's stand: in a student's words, the picture, and the figures behind a fold.

It is a part of a page, drawn for a phone; its style sheet is the stand's.
"""

from __future__ import annotations

from evenhand.measuring.values import Finding, HeardTake
from evenhand.music.engraving.engraved import EngravedExercise
from evenhand.report.plots.markup import el, prose
from evenhand.report.plots.shell import fold, prose_lines
from evenhand.report.take.picture import figures_of_notes, simple_figure
from evenhand.report.take.small import time_line
from evenhand.report.take.table import findings_list, remedy_line
from evenhand.report.words.findings import finding_words
from evenhand.report.words.remarks import all_remarks
from evenhand.report.words.take import blind_sentence, said_to_student, top_sentence

BLIND_WIDTH_PX, BLIND_ROW_S = 340.0, 4.0


def stand_result(take: HeardTake, narrow: EngravedExercise | None) -> str:
    """Return what was heard in a take: words, picture, what else there is; then its figures, folded."""
    sentence = top_sentence(take)
    said_first = bool(take.findings) and finding_words(take.findings[0], take.exercise) == sentence
    shown = [_finding(finding, take) for finding in take.findings]
    top = _listed(shown[:1]) if said_first else el("p", prose(sentence), class_="said")
    rest = _listed(shown[1:] if said_first else shown)
    picture = _blind(take) if take.exercise is None else simple_figure(take, narrow)
    return el("div", el("div", top, class_="top"), picture, rest, _figures(take), class_="heard")


def _listed(items: list[str]) -> str:
    return el("ol", *items, class_="findings") if items else ""


def _finding(finding: Finding, take: HeardTake) -> str:
    """Say a finding to the student, and what to practise."""
    said = el("p", prose(said_to_student(finding, take.exercise)), class_="said")
    return el("li", said, remedy_line(finding, take.exercise))


def _figures(take: HeardTake) -> str:
    """Fold away what a teacher reads: each finding's figure, range and count, and each note's."""
    warnings = prose_lines(all_remarks(take.heard.warnings), "facts")
    inside = findings_list(take) + warnings + figures_of_notes(take)
    return fold("The figures", inside, class_="in-figures") if inside else ""


def _blind(take: HeardTake) -> str:
    """Draw the hits along time, where no exercise was given."""
    drawn = time_line(
        take.heard,
        key="stand-time",
        width=BLIND_WIDTH_PX,
        seconds_a_row=BLIND_ROW_S,
        words=blind_sentence(take),
    )
    return el("figure", el("div", drawn, class_="layout phone"))
