"""A week's printed sheet, the same for the teacher and on the stand: its days are the stand's days."""

from __future__ import annotations

from dataclasses import replace

from evenhand.application.plan_file import plan_from_json
from evenhand.application.print_sheet import Head, sheet_of_plan
from evenhand.domain.stroke import Unit
from evenhand.domain.studio import Student, Week
from evenhand.pages.sheet_contents import LessonSheet


def sheet_of_week(week: Week, student: Student, unit: Unit, link: str = "") -> LessonSheet:
    """Lay a week's sheet out; ``link`` stands on it as a QR code.

    Raises
    ------
    BadPlan
        Where the week's plan cannot be read.
    """
    plan = plan_from_json(week.plan, name="the week's plan")
    head = Head(student=student.name, on=week.starts, words=week.words, link=link, unit=unit)
    return sheet_of_plan(replace(plan, starts=week.starts), head)
