"""What is typed into a week's form, kept as it stands there: nothing of it need be right.

Conventions: a draft is of a week's id, of "" for a new one, or of ``as:`` and the id of the week that it
began as a copy of. Its text is JSON: the head's fields, the days, each row's fields, as they were typed.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date, timedelta

from evenhand.application.plan_calendar import DAYS_A_WEEK
from evenhand.application.studio_week import next_start
from evenhand.application.studio_week_typed import FIELDS, TypedWeek, read_week
from evenhand.domain.studio import Student, Week, WeekDraft
from evenhand.errors import WrongOptions

HEAD = ("starts", "stage", "minutes", "days", "seed", "words")
NEW, COPY = "", "as:"


def draft_text(head: Mapping[str, str], rows: TypedWeek | None) -> str:
    """Write what was typed; ``rows`` is None before there are any."""
    found: dict[str, object] = {"head": {name: head.get(name, "") for name in HEAD}}
    if rows is not None:
        found |= {"days": rows.days, "rows": [asdict(row) for row in rows.rows]}
    return json.dumps(found, ensure_ascii=False)


def read_draft(text: str) -> tuple[dict[str, str], TypedWeek | None] | None:
    """Read what was typed; None where it is another's text."""
    try:
        found = json.loads(text)
        head = {name: str(found["head"].get(name, "")) for name in HEAD}
        if "rows" not in found:
            return head, None
        columns = {name: [str(row[name]) for row in found["rows"]] for name in FIELDS}
        return head, read_week(columns, int(found["days"]))
    except (ValueError, KeyError, TypeError, AttributeError, WrongOptions):
        return None


def draft_to_go_on_with(drafts: Sequence[WeekDraft], weeks: Sequence[Week]) -> WeekDraft | None:
    """Return what was typed last for a week that is not sent."""
    unsent = {week.id for week in weeks if week.sent_at is None}
    return next((draft for draft in drafts if is_new(draft.of_week) or draft.of_week in unsent), None)


def is_new(of_week: str) -> bool:
    """Tell whether a draft is of a week that was never saved."""
    return of_week == NEW or of_week.startswith(COPY)


def begun_in_time(
    head: Mapping[str, str], student: Student, weeks: Sequence[Week], today: date
) -> dict[str, str]:
    """Let a new week begin at the next lesson where its own beginning is over, or taken by another."""
    taken = {week.starts.isoformat() for week in weeks if week.sent_at is not None}
    try:
        over = date.fromisoformat(head["starts"]) + timedelta(days=DAYS_A_WEEK) <= today
    except ValueError:  # as it was typed, to be put right there
        over = False
    if not over and head["starts"] not in taken:
        return dict(head)
    return {**head, "starts": next_start(student, today, weeks).isoformat()}
