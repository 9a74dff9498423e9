"""Judge where a student is on the path (docs/path.md), and give the advice as values and as JSON."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from datetime import date

from evenhand.acts.documents import Json, json_of, plain
from evenhand.errors import WrongOptions
from evenhand.progress.history import History
from evenhand.progress.stages.advising import advise
from evenhand.progress.stages.path import PracticePath, Stage
from evenhand.progress.stages.verdicts import Advice, Judged
from evenhand.report.words.advice import TEACHER_DECIDES, judged_words, reason_words
from evenhand.report.words.figures import EXERCISES_CAUTION
from evenhand.report.words.remarks import all_remarks


@dataclass(frozen=True, slots=True)
class StudentAdvice:
    """What is proposed to a student, on which path, and which takes told nothing."""

    student: str
    path: PracticePath
    stage: Stage
    advice: Advice
    left_out: tuple[str, ...]


def advise_student(
    history: History,
    path: PracticePath,
    stage: str,
    *,
    since: date | None = None,
    until: date | None = None,
) -> StudentAdvice:
    """Judge a stage from a history; ``since`` and ``until`` are the first and the last day that count.

    Raises
    ------
    WrongOptions
        Where the path has no such stage, or the days are the wrong way round.
    """
    if since is not None and until is not None and until < since:
        raise WrongOptions(got=f"days from {since} to {until}", must_be="the earlier day first")
    advice = advise(
        history,
        path,
        stage,
        since_day=None if since is None else since.toordinal(),
        until_day=None if until is None else until.toordinal(),
    )
    found = path.stage(stage) or path.stages[0]
    return StudentAdvice(history.student, path, found, advice, history.left_out)


def advice_text(found: StudentAdvice) -> str:
    """Write the advice as JSON text."""
    return json_of(advice_json(found))


def advice_json(found: StudentAdvice) -> Json:
    """Turn the advice into plain dicts, lists and numbers."""
    advice = found.advice
    return plain(
        {
            "student": found.student,
            "stage": advice.stage,
            "proposal": advice.proposal,
            "to": advice.to,
            "why": reason_words(advice, found.path),
            "decides": TEACHER_DECIDES,
            "weeks_in_stage": advice.weeks_in_stage,
            "takes": advice.takes,
            "days": advice.days,
            "conditions": [_judged(each) for each in advice.judged],
            "slipped": [_judged(each) for each in advice.slipped],
            "notes": all_remarks(advice.notes),
            "left_out": found.left_out,
            "caution": EXERCISES_CAUTION,
        },
        {"weeks_in_stage": 2},
    )


def _judged(judged: Judged) -> Json:
    """Give what was judged, in words as well."""
    told = asdict(replace(judged, hands={}))
    digits = dict.fromkeys(("bound", "value", "ci95", "at_least", "at_most"), 3)
    return {
        **plain({**told.pop("condition"), **told}, digits),
        "hands": judged.hands,
        "text": judged_words(judged),
    }
