"""The whole studio at a look: who practised, whose findings stand, which lessons are not as usual."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from starlette.requests import Request
from starlette.responses import Response

from evenhand.report.words.figures import count, day_words, duration, sized
from evenhand.studio.whole.overview import (
    DAYS,
    FEWEST_DAYS,
    FEWEST_SPAN,
    Practice,
    Practised,
    StandingFinding,
    overview_of,
)
from evenhand.web.pages import now, when_words
from evenhand.web.pages import page as made
from evenhand.web.requests import studio_of
from evenhand.web.views.desk import tied, week_picture
from evenhand.web.views.whole.lessons import state_words
from evenhand.web.views.whole.triage import GISTS

GROUPS: dict[Practice, str] = {
    "none": "Nothing recorded in seven days",
    "fewer": "On fewer days than asked",
    "as asked": "As asked",
    "away": "On holiday",
}


def page(request: Request) -> Response:
    """Show the whole studio."""
    at = now().astimezone()
    found = overview_of(studio_of(request), at, GISTS)
    return made(
        request,
        "overview.html",
        found=found,
        groups=[(words, rows) for group, words in GROUPS.items() if (rows := _of(found.practised, group))],
        fewest_days=FEWEST_DAYS,
        fewest_weeks=(FEWEST_SPAN.days + 1) // 7,
        week_picture=week_picture,
        facts=lambda row: fact_words(row, at.date()),
        standing=lambda each: standing_words(each, at.date()),
        state_of=state_words,
        tied=tied,
    )


def _of(rows: Sequence[Practised], group: Practice) -> list[Practised]:
    return [row for row in rows if row.practice == group]


def fact_words(row: Practised, today: date) -> str:
    """Say how often somebody practised, and when last."""
    days = f"{row.days} of {count(row.asked, 'day')} asked" if row.asked else count(row.days, "day")
    parts = [days, *([f"{duration(row.seconds, 'minutes')} recorded"] if row.seconds else [])]
    if not row.days:
        parts.append(_last_words(row.last, today))
    parts += [f"holiday{f' ({each.name})' if each.name else ''}" for each in row.holidays]
    if row.sent is None:
        parts.append("no week was ever sent")
    elif (today - row.sent).days > DAYS:
        parts.append(f"the newest week sent began on {day_words(row.sent)}")
    return tied(", ".join(parts))


def _last_words(last: date | None, today: date) -> str:
    if last is None:
        return "no take in twelve weeks"
    return f"last on {day_words(last)}, {count((today - last).days, 'day')} ago"


def standing_words(each: StandingFinding, today: date) -> str:
    """Say since when a finding stands, with its figure then and now."""
    first = when_words(each.first.recorded_at, today).partition(",")[0]
    said = f"On {count(each.days, 'day')} since {first}, every time."
    if each.figures is None:
        return said
    was, is_now = (sized(evidence.figure) for evidence in each.figures)
    return tied(f"{said} {was} then, {is_now} now: not better by more than chance.")
