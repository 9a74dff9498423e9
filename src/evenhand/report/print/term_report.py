"""A term's report on paper: plain words, one picture, the teacher's own words, and a line to sign on.

Conventions: lengths in pt, but the picture's own px. What is said is decided here and in
``report.words.term``; the template places it. One page, unless the teacher wrote much.
"""

from __future__ import annotations

from evenhand.report.plots.term import term_weeks
from evenhand.report.print.setting import SETTER_PAPERS, WIDTHS_PT, Paper, one_line, paragraphs, set_pages
from evenhand.report.words.figures import day_words
from evenhand.report.words.term import (
    SMALL_PRINT,
    Term,
    change_sentences,
    exercise_sentences,
    lesson_sentences,
    period_words,
    picture_words,
    practice_sentences,
    unchanged_sentence,
)

MARGIN_PT = 56.0
PT_PER_PX = 0.74
TITLE = "Report on a term"
PICTURE = "Days with a recording in each week; the number says how many. A pale band: holidays."


def term_report_pdf(term: Term, paper: Paper = "a4") -> bytes:
    """Return the report as PDF; the same term gives the same bytes.

    Raises
    ------
    UnprintableText, CannotPrint
        Where a letter is in no font that is there, or the page cannot be set.
    """
    return set_pages("term_report.typ", term_data(term, paper))


def term_data(term: Term, paper: Paper = "a4") -> dict[str, object]:
    """Return what the template reads."""
    drawn, width_px = term_weeks(term.weeks)
    page_pt = WIDTHS_PT[paper] - 2 * MARGIN_PT
    student, period = one_line(term.student), period_words(term)
    return {
        "title": f"{TITLE} – {student}, {period}",
        "date": [term.on.year, term.on.month, term.on.day],
        "studio": one_line(term.studio),
        "student": student,
        "period": period,
        "foot": f"{student} · {period}",
        "on": day_words(term.on, year=True),
        "words": paragraphs(term.words),
        "lessons": lesson_sentences(term),
        "practice": practice_sentences(term),
        "picture": {
            "svg": drawn,
            "width": round(min(width_px * PT_PER_PX, page_pt), 3),
            "words": picture_words(term.weeks),
        },
        "under": PICTURE,
        "exercises": [one_line(each) for each in exercise_sentences(term)],
        "changes": [one_line(each) for each in change_sentences(term)],
        "unchanged": unchanged_sentence(term),
        "small": SMALL_PRINT,
        "paper": SETTER_PAPERS[paper],
        "margin": MARGIN_PT,
    }
