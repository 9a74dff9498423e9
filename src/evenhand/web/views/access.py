"""Who is in, to be put out one by one or all at once; and the log of who did what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from evenhand.studio.safekeeping.export import table_text
from evenhand.studio.store.acts import KEPT, MOST_ACTS
from evenhand.studio.typed import whole_number
from evenhand.studio.values import Act, ActKind, OpenSession
from evenhand.web.guard import take_cookie
from evenhand.web.pages import go, said_here, today, when_words
from evenhand.web.pages import page as made
from evenhand.web.requests import studio_of, texts_of

ON_A_PAGE = 100


ACTS: Mapping[ActKind, str] = {
    "login": "The teacher logged in",
    "login refused": "A login was refused",
    "logout": "Logged out",
    "recovery code used": "A recovery code was used",
    "password changed": "The password was changed",
    "second factor on": "Two-step login was switched on",
    "second factor off": "Two-step login was switched off",
    "recovery codes made": "New recovery codes were made",
    "session ended": "A browser was logged out",
    "everybody out": "Many browsers were logged out at once",
    "link made": "A private link was made",
    "link opened": "A private link was opened",
    "link revoked": "A private link was withdrawn",
    "student exported": "A student's data were downloaded",
    "student added": "A student was taken in",
    "student changed": "What is known of a student was changed",
    "student left": "A student was archived; the links ended",
    "student back": "A student was brought back",
    "student erased": "A student was erased",
    "student moved": "A student went to another teacher",
    "substitute changed": "A substitute was set or taken back",
    "substitute came": "A substitute opened the studio",
    "feed made": "A calendar address was made",
    "feed withdrawn": "The calendar address was withdrawn",
    "report printed": "A report on a term was printed",
    "studio exported": "The whole studio was downloaded",
    "table exported": "A table of all students was downloaded",
    "settings changed": "The settings were changed",
    "path changed": "The path was changed",
    "book changed": "The book was changed",
    "rudiment signed": "A rudiment was signed off, or not any more",
    "week saved": "A week was saved",
    "week sent": "A week was sent",
    "week discarded": "What was typed of a week was discarded",
    "take sent": "A recording was sent",
    "take words": "Words about a take were saved",
    "words said": "Words about a take or a week were said",
    "words taken back": "Words were taken back",
    "take corrected": "A take was corrected",
    "take heard again": "A take was sent to be heard again",
    "take given": "A take was given to another student",
    "take deleted": "A take was deleted",
    "take listened to": "A take was marked as heard by the teacher",
    "lesson changed": "A lesson was moved or skipped, or a holiday changed",
    "video deleted": "A video was deleted",
    "device measured": "A device was measured",
    "changed": "Something else was changed",
}
COLUMNS = ("at", "who", "what", "about", "thing", "address")


@dataclass(frozen=True, slots=True)
class InRow:
    """One session, in words."""

    id: str
    who: str
    browser: str
    began: str
    seen: str
    mine: bool


@dataclass(frozen=True, slots=True)
class ActRow:
    """One line of the log, in words."""

    when: str
    who: str
    what: str
    about: str
    thing: str
    address: str


def page(request: Request) -> Response:
    """Show who is in, and a page of what was done."""
    studio = studio_of(request)
    names = {each.id: each.name for each in studio.students.all(archived=None)}
    mine = request.state.session.id
    number = max(1, whole_number(request.query_params.get("page", "")) or 1)
    acts = studio.log.newest(ON_A_PAGE + 1, skip=(number - 1) * ON_A_PAGE)
    return made(
        request,
        "access.html",
        sessions=[_in_row(each, names, mine) for each in studio.access.sessions()],
        acts=[_act_row(each, names) for each in acts[:ON_A_PAGE]],
        number=number,
        more=len(acts) > ON_A_PAGE,
        kept_days=KEPT.days,
        most_acts=MOST_ACTS,
        second=studio.access.second.kept,
        said=said_here(request),
    )


def end_session(request: Request) -> Response:
    """Put one session out."""
    studio_of(request).access.end_by_id(request.path_params["session_id"])
    return go("/access", "That browser is logged out.")


def put_out(request: Request) -> Response:
    """Put everybody out, or the teacher everywhere; this browser too."""
    studio_of(request).access.end_all(None if texts_of(request).get("who") == "everybody" else "teacher")
    answer = RedirectResponse("/login", status_code=303)
    take_cookie(request, answer)
    return answer


def log_as_table(request: Request) -> Response:
    """Give the whole log as a table for a spreadsheet."""
    rows = [{**asdict(act), "at": act.at.isoformat()} for act in studio_of(request).log.newest(MOST_ACTS)]
    name = f"evenhand-log-{today():%Y-%m-%d}.csv"
    headers = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-store"}
    return Response(table_text(rows, COLUMNS), media_type="text/csv; charset=utf-8", headers=headers)


def _in_row(each: OpenSession, names: dict[str, str], mine: str) -> InRow:
    who = "Teacher" if each.student_id is None else names.get(each.student_id, "")
    browser = each.browser or "not known"
    return InRow(each.id, who, browser, _when(each.began_at), _when(each.seen_at), each.id == mine)


def _act_row(act: Act, names: dict[str, str]) -> ActRow:
    who = "nobody known" if act.who == "nobody" else act.who.capitalize()
    what = ACTS.get(act.what, ACTS["changed"])
    return ActRow(_when(act.at), who, what, names.get(act.about, ""), act.thing, act.address)


def _when(moment: datetime | None) -> str:
    return "not known" if moment is None else when_words(moment, today())
