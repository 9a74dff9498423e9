"""What a newer ear hears otherwise: both versions of each take compared, taken over, and brought back."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping

from starlette.requests import Request
from starlette.responses import Response

from evenhand.errors import NotFound
from evenhand.report.words.again import counted_words, outcome_words, sum_rows
from evenhand.report.words.figures import count
from evenhand.studio.desk import Cache, asked_of
from evenhand.studio.store.studio import Studio
from evenhand.studio.whole.again import SumAgain, TakeAgain, ask_again, compared, go_back, take_over
from evenhand.take import EAR
from evenhand.web.pages import go, now, said_here, when_words
from evenhand.web.pages import page as made
from evenhand.web.requests import studio_of, texts_of, wake_workers
from evenhand.web.views.desk import tied

SHOWN = 100  # takes held against each other for one page
KEPT: Cache[TakeAgain] = Cache(4000)


def page(request: Request) -> Response:
    """Show the differences, of some takes at a time, those with most to look at first."""
    studio, at = studio_of(request), now().astimezone()
    every = studio.hearings.take_ids()
    asked = request.query_params.get("from", "0")
    start = min(int(asked), len(every)) if asked.isascii() and asked.isdigit() and len(asked) < 7 else 0
    ids = every[start : start + SHOWN]
    summed = SumAgain()
    rows = _rows(studio, ids)
    for row in rows:
        summed.add(row)
    counts = studio.hearings.counts(EAR)
    return made(
        request,
        "again.html",
        rows=sorted(rows, key=lambda row: -row.weight),
        sums=sum_rows(summed.found) if summed.found.takes else (),
        outcome=outcome_words(summed.outcomes, summed.shown, summed.corrected) if rows else "",
        ear=EAR,
        left=counts["waiting"] + counts["hearing"],
        all_of_them=len(every),
        start=start,
        more=start + SHOWN if start + SHOWN < len(every) else None,
        names={student.id: student.name for student in studio.students.all(archived=None)},
        words=lambda row: tied(counted_words(row.found) or row.reason),
        when=lambda row: when_words(row.recorded_at, at.date()),
        said=said_here(request),
    )


def _rows(studio: Studio, ids: list[str]) -> list[TakeAgain]:
    """Hold takes against each other; what was read once of two versions is kept."""
    states = {take.id: (asked_of(take), take.corrected) for take in studio.takes.all(ids=ids)}
    keys: dict[str, list[Hashable]] = {take_id: [state] for take_id, state in states.items()}
    for each in studio.hearings.of_takes(list(keys)):
        keys[each.take_id].append((each.id, each.status, each.ear))
    known: dict[str, TakeAgain | None] = {take_id: KEPT.look(tuple(key)) for take_id, key in keys.items()}
    for row in compared(studio, take_ids=[take_id for take_id, row in known.items() if row is None]):
        if row.outcome != "waiting" and not row.corrected:
            KEPT.put(tuple(keys[row.take_id]), row)
        known[row.take_id] = row
    return [found for take_id in ids if (found := known.get(take_id)) is not None]


def change(request: Request) -> Response:
    """Ask for all takes of older ears, let go of what waits, or exchange versions: of one take, or of all."""
    form = texts_of(request)
    act = ACTS.get(form.get("act", ""))
    if act is None:
        raise NotFound(what="this act")
    said = act(studio_of(request), form.get("take") or None)
    wake_workers(request)
    return go("/again", said)


def _ask(studio: Studio, _take_id: str | None) -> str:
    asked = ask_again(studio)
    return f"{count(asked, 'take')} to be heard again, after whoever practises." if asked else NOTHING


def _over(studio: Studio, take_id: str | None) -> str:
    done, left = take_over(studio, None if take_id is None else [take_id])
    kept = f" Left for your corrections: {count(left, 'take')}." if left else ""
    return f"{count(done, 'take')} taken over.{kept}"


def _back(studio: Studio, take_id: str | None) -> str:
    return f"{count(go_back(studio, None if take_id is None else [take_id]), 'take')} as before."


def _stop(studio: Studio, _take_id: str | None) -> str:
    return f"{count(studio.hearings.take_back(EAR), 'take')} let go that waited to be heard again."


NOTHING = "There is no take that an older ear heard and this one has not heard."
ACTS: Mapping[str, Callable[[Studio, str | None], str]] = {
    "ask": _ask,
    "over": _over,
    "back": _back,
    "stop": _stop,
}
