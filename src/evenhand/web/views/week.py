"""Next week: proposed, changed in place while its minutes add up, kept, sent, printed."""

from __future__ import annotations

from dataclasses import replace
from datetime import time
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from evenhand.errors import NotFound, WrongOptions
from evenhand.planning.practice import PracticePlan
from evenhand.report.words.remarks import all_remarks
from evenhand.studio.path import path_of
from evenhand.studio.typed import whole_number
from evenhand.studio.values import Student, Week, WeekDraft
from evenhand.studio.weeks.day import (
    COPY,
    HEAD,
    NEW,
    begun_in_time,
    draft_text,
    draft_to_go_on_with,
    is_new,
    read_draft,
)
from evenhand.studio.weeks.next import (
    WeekOptions,
    keep,
    newest_draft,
    options_of,
    read_options,
    read_plan,
    story_words,
    titles_of,
)
from evenhand.studio.weeks.next import send as sent
from evenhand.studio.weeks.typed import FIELDS, TypedWeek, add_up, changed, plan_of, read_week, typed_week
from evenhand.studio.whole.lessons import Almanac, almanac_of
from evenhand.web.acted import note
from evenhand.web.pages import go, page, said_here, weekday_words
from evenhand.web.pages import today as this_day
from evenhand.web.requests import address_of, is_part, pdf_answer, student_of, studio_of, texts_of
from evenhand.web.serving import LINK_LASTS
from evenhand.web.week_page import WeekPage, lesson_facts, proposed_plan, week_facts, week_grounds

EVENING = time(18)
MOST_KEY = 64


def edit(request: Request) -> Response:
    """Show the week to be sent next: what was typed, the draft, a named week, or a place for the proposal."""
    return _page(request, asked_week(request, student_of(request)))


def asked_week(request: Request, student: Student) -> WeekPage:
    """Return the week that the address asks for; where it asks for none, the one to be sent next."""
    weeks, drafts = studio_of(request).weeks.all(student.id), studio_of(request).weeks.drafts(student.id)
    named, again = (request.query_params.get(name, "") for name in ("week", "as"))
    asked = bool(named or again or "new" in request.query_params)
    of_week = named or (f"{COPY}{again}" if again else NEW)
    draft = next((each for each in drafts if each.of_week == of_week), None)
    if not asked:
        draft = draft_to_go_on_with(drafts, weeks)
    almanac = almanac_of(studio_of(request))
    shown = _as_typed(student, weeks, draft, almanac) if draft is not None else None
    return shown or _as_kept(student, weeks, almanac, named=named, again=again, asked=asked)


def _as_typed(student: Student, weeks: list[Week], draft: WeekDraft, almanac: Almanac) -> WeekPage | None:
    """Show what was typed and not sent."""
    read = read_draft(draft.form)
    week = next((each for each in weeks if each.id == draft.of_week), None)
    if read is None or (week is None and not is_new(draft.of_week)):
        return None
    head, rows = read
    if week is None:
        head = begun_in_time(head, student, weeks, this_day(), almanac)
    return WeekPage(student, head, week, rows, copied=draft.of_week.removeprefix(COPY), draft=draft)


def _as_kept(
    student: Student, weeks: list[Week], almanac: Almanac, *, named: str, again: str, asked: bool
) -> WeekPage:
    """Show a week as it was kept, or a copy of it; else a place for the proposal."""
    week = next((each for each in weeks if each.id == (named or again)), None)
    if week is None and not asked:
        week = newest_draft(weeks, this_day())
    plan = read_plan(week) if week is not None else None
    if week is None or plan is None:
        notice = "That week's plan cannot be read; here is a new proposal." if week is not None else ""
        return WeekPage(student, options_of(student, this_day(), weeks=weeks, almanac=almanac), notice=notice)
    typed = options_of(student, this_day(), week, weeks) | {"days": str(len(plan.days))}
    if again and not named:
        typed |= {"starts": options_of(student, this_day(), weeks=weeks, almanac=almanac)["starts"]}
        return WeekPage(student, typed, None, typed_week(plan), copied=week.id)
    return WeekPage(student, typed, week, typed_week(plan))


def discard(request: Request) -> Response:
    """Forget what was typed and not sent."""
    student, texts = student_of(request), texts_of(request)
    shown = WeekPage(student, {}, _own_week(request, student), copied=texts.get("as", ""))
    studio_of(request).weeks.drop_draft(student.id, shown.of_week, page=texts.get("page", ""))
    query = f"?as={shown.copied}" if shown.copied else f"?week={shown.week.id}" if shown.week else ""
    return go(f"/students/{student.id}/week{query}", "Discarded.")


def propose(request: Request) -> Response:
    """Give a proposal: for the page's script its part, else the whole page."""
    typed = _head(request)
    if texts_of(request).get("to"):
        typed["stage"] = texts_of(request)["to"]
    options, wrong = read_options(typed, this_day(), path_of(studio_of(request)))
    shown = _desk(request, typed, _rows(request), wrong)
    if texts_of(request).get("only") == "grounds":
        return page(
            request, "week_grounds.html", **_facts(request, shown) | week_grounds(studio_of(request), shown)
        )
    if options is None:
        return _answer(request, _typed(request, shown), status=422)
    try:
        plan = proposed_plan(studio_of(request), shown.student, options)
    except WrongOptions as error:
        return _answer(request, replace(_typed(request, shown), notice=str(error)), status=422)
    typed = {**shown.typed, "story": story_words(plan)}
    notes = tuple(all_remarks(plan.notes))
    proposed = replace(shown, typed=typed, rows=typed_week(plan), notes=notes)
    first = "first" in texts_of(request)  # nobody asked for it yet: it is no change of the teacher's
    return _answer(request, proposed if first else _typed(request, proposed))


def sum_up(request: Request) -> Response:
    """Give what the week adds up to while it is changed; after a button's act, its rows anew."""
    typed = _head(request)
    _, wrong = read_options(typed, this_day(), path_of(studio_of(request)))
    rows, act = _rows(request), _act(request)
    if act and rows is not None:
        rows = changed(rows, act)
        typed = {**typed, "days": str(rows.days)} if act.startswith("drop:") else typed
    shown = _typed(request, _desk(request, typed, rows, wrong))
    if act or not is_part(request):
        return _answer(request, shown)
    return page(request, "week_sums.html", **_facts(request, shown))


def save(request: Request) -> Response:
    """Keep a week, or send it; what cannot be read comes back as it was typed."""
    if _act(request):
        return sum_up(request)
    typed, rows = _head(request), _rows(request) or TypedWeek((), 0)
    options, wrong = read_options(typed, this_day(), path_of(studio_of(request)))
    shown = _desk(request, typed, rows, wrong)
    added = add_up(rows, titles_of(studio_of(request).book.all()))
    if options is None or added.wrong:
        return _page(
            request,
            replace(_typed(request, shown), notice="Nothing was sent. What you typed is still here."),
            status=422,
        )
    try:
        plan = plan_of(rows, added, student=shown.student.name, starts=options.starts)
    except WrongOptions:
        return _page(
            request,
            replace(
                _typed(request, shown), notice="The week is empty: add an exercise, or have a week proposed."
            ),
            status=422,
        )
    return _kept(request, shown, options, plan)


def _kept(request: Request, shown: WeekPage, options: WeekOptions, plan: PracticePlan) -> Response:
    """Keep a week, and send it where that was asked for; what was typed is in it now."""
    studio, student = studio_of(request), shown.student
    kept = keep(studio, student, options, plan, shown.week)
    studio.weeks.drop_draft(student.id, shown.of_week, page=texts_of(request).get("page", ""))
    place = "lesson" if _in_lesson(request) else "week"
    here = f"/students/{student.id}/{place}?week={kept.id}"
    if texts_of(request).get("do") != "send":
        return go(here, f"Kept as a draft; {student.name} does not see it yet.")
    sent(studio, student, kept, options)
    request.state.act = "week sent"
    return go(
        here, (f"Sent. It is on {student.name}'s stand now, for the week from {weekday_words(kept.starts)}.")
    )


def send(request: Request) -> Response:
    """Send a week as it stands; asked for a link, give the sheet with the QR code of a new one."""
    studio = studio_of(request)
    week = _week(request)
    student = studio_of(request).students.get(week.student_id)
    if read_plan(week) is None:
        raise WrongOptions(got="a week whose plan cannot be read", must_be="one that can; propose it again")
    if week.sent_at is None:
        sent(studio, student, week)
    if texts_of(request).get("link") == "new":
        secret, _ = studio.access.make_link(student.id, lasts=LINK_LASTS)
        note(request, "link made", student.id)
        return _pdf(request, week, student, link=f"{address_of(request)}/s/{secret}")
    here = f"/students/{student.id}/week?week={week.id}"
    return go(
        here, (f"Sent. It is on {student.name}'s stand now, for the week from {weekday_words(week.starts)}.")
    )


def sheet(request: Request) -> Response:
    """Give a week's sheet as PDF, without a link: no secret is kept that could stand on it."""
    week = _week(request)
    return _pdf(request, week, studio_of(request).students.get(week.student_id))


def calendar(request: Request) -> Response:
    """Give a week's practice as a calendar file."""
    from evenhand.acts.weeks.document import calendar_of

    week = _week(request)
    plan = read_plan(week)
    if plan is None:
        raise NotFound(what="this week's plan")
    try:
        at = time.fromisoformat(request.query_params.get("at", "") or f"{EVENING:%H:%M}")
    except ValueError:
        at = EVENING
    content = calendar_of(plan, week.starts, at.replace(tzinfo=None))
    name = {"Content-Disposition": f'attachment; filename="practice-{week.starts.isoformat()}.ics"'}
    return Response(content, media_type="text/calendar", headers=name)


# What the pages need.


def _week(request: Request) -> Week:
    """Return the week that the address names."""
    return studio_of(request).weeks.get(request.path_params["week_id"])


def _own_week(request: Request, student: Student) -> Week | None:
    """Return the week that the form is of; None where it is new."""
    week_id = texts_of(request).get("week", "")
    week = studio_of(request).weeks.find(week_id) if week_id else None
    if week_id and (week is None or week.student_id != student.id):
        raise NotFound(what="this student's week")
    return week


def _head(request: Request) -> dict[str, str]:
    """Return the form's head as it was typed."""
    texts = texts_of(request)
    return {name: texts.get(name, "") for name in HEAD}


def _desk(request: Request, typed: dict[str, str], rows: TypedWeek | None, wrong: dict[str, str]) -> WeekPage:
    """Gather what was sent."""
    student = student_of(request)
    week, copied = _own_week(request, student), texts_of(request).get("as", "")
    return WeekPage(student, typed, week, rows, wrong, copied="" if week else copied[:MOST_KEY])


def _typed(request: Request, shown: WeekPage) -> WeekPage:
    """Keep what was typed, as it is, on the server: whatever is done next, it is there."""
    texts, form = texts_of(request), draft_text(shown.typed, shown.rows)
    page_id, stamp = texts.get("page", "")[:MOST_KEY], texts.get("stamp", "")
    kept = studio_of(request).weeks.keep_draft(
        shown.student.id,
        shown.of_week,
        form,
        page=page_id,
        stamp=whole_number(stamp, 8) or 0,
    )
    return shown if kept is None else replace(shown, draft=kept, fresh=True)


def _rows(request: Request) -> TypedWeek | None:
    """Return the rows as they were typed; None before there are any."""
    form = request.state.form
    if not any(name == "day_count" or name.startswith("row_") for name in form):
        return None
    lists = {name: [str(value) for value in form.getlist(f"row_{name}")] for name in FIELDS} if form else {}
    days = texts_of(request).get("day_count", "")
    return read_week(lists, whole_number(days, 2) or 0)


def _act(request: Request) -> str:
    """Return what a button asks for; an exercise to be put on every day is typed beside its button."""
    texts = texts_of(request)
    return f"put:;{texts.get('put', '')}" if texts.get("act") == "put" else texts.get("act", "")


def _in_lesson(request: Request) -> bool:
    """Tell whether the week is changed in a lesson."""
    return texts_of(request).get("view") == "lesson"


def _answer(request: Request, shown: WeekPage, *, status: int = 200) -> Response:
    """Give the plan's part to the page's script, which swaps nothing in that is not 200; else the page."""
    if not is_part(request):
        return _page(request, shown, status=status)
    facts = _facts(request, shown)
    if _in_lesson(request):
        facts |= lesson_facts(shown.rows, facts["added"])
    elif not _act(request):
        facts |= week_grounds(studio_of(request), shown)
    return page(request, "week_part.html", **facts)


def _page(request: Request, shown: WeekPage, *, status: int = 200) -> Response:
    """Show the whole page; what the path says comes with it after an act, else it is fetched beside."""
    facts = _facts(request, shown)
    if request.method == "POST" and shown.rows is not None:
        facts |= week_grounds(studio_of(request), shown)
    return page(request, "week.html", status=status, **facts)


def _facts(request: Request, shown: WeekPage) -> dict[str, Any]:
    said = said_here(request)
    return week_facts(studio_of(request), shown, act=_act(request), said=said)


def _pdf(request: Request, week: Week, student: Student, link: str = "") -> Response:
    """Set a week's sheet."""
    from evenhand.acts.weeks.sheet import print_sheet
    from evenhand.studio.weeks.day import sheet_of_week

    if read_plan(week) is None:
        raise NotFound(what="this week's plan")
    content = print_sheet(sheet_of_week(week, student, studio_of(request).facts, link))
    return pdf_answer(content, f"practice-{week.starts.isoformat()}")
