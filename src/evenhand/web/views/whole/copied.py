"""A week copied to another student: a draft of theirs, with what was changed said beside each row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from starlette.requests import Request
from starlette.responses import Response

from evenhand.errors import NotFound
from evenhand.report.words.figures import count, listed
from evenhand.studio.store.studio import Studio
from evenhand.studio.students import heard_so_far
from evenhand.studio.values import Student, Week
from evenhand.studio.weeks.day import COPY, draft_text
from evenhand.studio.weeks.next import options_of, read_plan
from evenhand.studio.weeks.typed import TypedWeek, typed_week
from evenhand.studio.whole.copied import CopiedPiece, copied_plan
from evenhand.studio.whole.lessons import almanac_of
from evenhand.web.pages import go, now, today
from evenhand.web.requests import studio_of, texts_of

MOST_NAMED = 3  # exercises named in the line on top; beside each row it is said again


def copy(request: Request) -> Response:
    """Make a week a draft of another student's; one that was typed into stays as it is."""
    studio = studio_of(request)
    week = studio.weeks.get(request.path_params["week_id"])
    to = studio.students.get(texts_of(request).get("to", ""))
    here = f"/students/{to.id}/week?as={week.id}"
    if to.id == week.student_id:
        return go(here, "The same week again, for the same student.")
    if any(draft.of_week == f"{COPY}{week.id}" for draft in studio.weeks.drafts(to.id)):
        return go(here, "This week was copied before, and is as you left it. Discard it to copy it anew.")
    pieces = _keep(studio, week, to)
    whose = studio.students.get(week.student_id).name
    return go(here, f"Copied from {whose}, as a draft: nothing is sent. {changed_words(pieces, to)}")


def _keep(studio: Studio, week: Week, to: Student) -> Sequence[CopiedPiece]:
    """Keep the copy as a draft; give what became of its tempos."""
    plan = read_plan(week)
    if plan is None:
        raise NotFound(what="this week's plan")
    history, _ = heard_so_far(studio, to, now().astimezone())
    copied, pieces = copied_plan(plan, history)
    weeks = studio.weeks.all(to.id)
    head = options_of(to, today(), weeks=weeks, almanac=almanac_of(studio))
    said = {(piece.text, str(piece.stroke or "")): piece_words(piece, to) for piece in pieces}
    rows = with_reasons(typed_week(copied), said)
    studio.weeks.keep_draft(
        to.id, f"{COPY}{week.id}", draft_text({**head, "days": str(len(plan.days))}, rows)
    )
    return pieces


def with_reasons(week: TypedWeek, said: Mapping[tuple[str, str], str]) -> TypedWeek:
    """Say beside each row what became of its tempo."""
    rows = tuple(replace(row, why=said.get((row.exercise, row.stroke), "")) for row in week.rows)
    return replace(week, rows=rows)


def piece_words(piece: CopiedPiece, to: Student) -> str:
    """Say what became of an exercise's tempo."""
    if not piece.is_known:
        return f"not heard of {to.name} yet; the tempo is as it was copied, up to {piece.was}."
    heard = f"from {to.name}'s own {count(piece.standing.takes, 'take')}"
    if piece.now == piece.was:
        return f"up to {piece.now} stays, {heard}."
    return f"up to {piece.now} instead of {piece.was}, {heard}."


def changed_words(pieces: Sequence[CopiedPiece], to: Student) -> str:
    """Say in short which tempos were set, and which nobody knows."""
    changed = [piece for piece in pieces if piece.now != piece.was]
    unknown = sum(not piece.is_known for piece in pieces)
    named = [f"{piece.title or piece.text} ({piece.was} to {piece.now})" for piece in changed[:MOST_NAMED]]
    more = len(changed) - MOST_NAMED
    if more > 0:
        named.append(count(more, "other"))
    parts = [f"Tempos set by what was heard of {to.name}: {listed(named)}."] if named else []
    if unknown:
        whose = f"{count(unknown, 'exercise was', 'exercises were')} never heard of {to.name}"
        parts.append(f"{whose}: those tempos are as they were.")
    if not parts:
        parts.append(f"Its tempos fit what was heard of {to.name}: none was changed.")
    return " ".join(parts)
