"""A term's report for a parent: its period chosen, its words read here, then printed."""

from __future__ import annotations

from datetime import date

from starlette.requests import Request
from starlette.responses import Response

from evenhand.report.words.term import (
    SMALL_PRINT,
    change_sentences,
    exercise_sentences,
    lesson_sentences,
    practice_sentences,
    unchanged_sentence,
)
from evenhand.studio.values import Student
from evenhand.studio.whole.term import LONGEST, term_of, usual_term
from evenhand.web.pages import now, today
from evenhand.web.pages import page as made
from evenhand.web.requests import pdf_answer, student_of, studio_of, texts_of

MOST_LETTERS = 3000


def page(request: Request) -> Response:
    """Show what the report will say of a period."""
    asked = request.query_params
    return _page(request, student_of(request), asked.get("first", ""), asked.get("last", ""))


def _page(
    request: Request, student: Student, first: str, last: str, *, words: str = "", status: int = 200
) -> Response:
    period, wrong = read_period(first, last, today())
    if len(words) > MOST_LETTERS:
        wrong = f"Your words must be at most {MOST_LETTERS} characters; these are {len(words)}."
    term = None
    if period is not None:
        term = term_of(studio_of(request), student, *period, now().astimezone())
    return made(
        request,
        "term.html",
        status=422 if wrong else status,
        student=student,
        first=first or (period[0].isoformat() if period else ""),
        last=last or (period[1].isoformat() if period else ""),
        words=words,
        most=MOST_LETTERS,
        wrong=wrong,
        lessons=lesson_sentences(term) if term else "",
        practice=practice_sentences(term) if term else "",
        exercises=exercise_sentences(term) if term else [],
        changes=change_sentences(term) if term else [],
        unchanged=unchanged_sentence(term) if term else "",
        small=SMALL_PRINT,
    )


def printed(request: Request) -> Response:
    """Print the report; the teacher's words stand on it and are kept nowhere."""
    from evenhand.report.print.term_report import term_report_pdf

    student, typed = student_of(request), texts_of(request)
    words = typed.get("words", "").replace("\r\n", "\n").strip()
    period, wrong = read_period(typed.get("first", ""), typed.get("last", ""), today())
    if period is None or wrong or len(words) > MOST_LETTERS:
        return _page(request, student, typed.get("first", ""), typed.get("last", ""), words=words)
    term = term_of(studio_of(request), student, *period, now().astimezone(), words)
    return pdf_answer(term_report_pdf(term), f"report-{period[0].isoformat()}-{period[1].isoformat()}")


def read_period(first: str, last: str, today: date) -> tuple[tuple[date, date] | None, str]:
    """Read a period; where nothing is said, the usual one.

    >>> read_period("", "", date(2026, 11, 29))[0]
    (datetime.date(2026, 9, 7), datetime.date(2026, 11, 29))
    >>> read_period("2026-11-01", "2026-10-01", date(2026, 11, 29))
    (None, 'The last day must not be before the first.')
    """
    if not first and not last:
        return usual_term(today), ""
    try:
        begins, ends = date.fromisoformat(first.strip()), date.fromisoformat(last.strip())
    except ValueError:
        return None, "Both days must be dates, such as 2026-09-07."
    if ends < begins:
        return None, "The last day must not be before the first."
    if ends - begins > LONGEST:
        return None, f"A report is of at most {LONGEST.days} days."
    if begins > today:
        return None, "The first day must not lie ahead: there is nothing to report yet."
    return (begins, ends), ""
