"""Answers that wait for news: a page asks what became of a take, and is answered when that is known.

Conventions: s. A question says how long its answer may wait. It is answered at once without that, where
nothing tells this process of takes (a studio in SQLite, or while the line to its Postgres is lost), and
where its visitor has many such questions open; pages then ask again by themselves, as often as ever.
"""

from __future__ import annotations

import asyncio
import math
import time
from collections.abc import Callable
from contextlib import suppress
from typing import TypeVar

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from evenhand.studio.stand.music import sentence_of
from evenhand.studio.values import StudioTake
from evenhand.studio.work.shared import TakeNews
from evenhand.web.guard import session_of, visitor
from evenhand.web.requests import MOST_WAIT_S, Occupancy, RequestRefused, studio_of
from evenhand.web.views.stand import own_take

Found = TypeVar("Found")


async def when_known(
    request: Request, topic: str, look: Callable[[Request], Found], knows: Callable[[Found], bool]
) -> Found:
    """Look, and look again whenever there is news of a topic, until it is known or the time is over."""
    news: TakeNews | None = request.app.state.news
    waits: Occupancy = request.app.state.waits
    last_s = time.monotonic() + min(_seconds(request, "wait"), MOST_WAIT_S)
    if news is None:
        return await run_in_threadpool(look, request)
    with waits.room_for(visitor(request, request.state.session)) as room, news.about(topic) as came:
        found = await run_in_threadpool(look, request)
        while room and news.listening and not knows(found) and (left_s := last_s - time.monotonic()) > 0:
            with suppress(TimeoutError):
                async with asyncio.timeout(left_s):
                    await came.wait()
            came.clear()
            found = await run_in_threadpool(_looked_again, request, look)
        return found


def _looked_again(request: Request, look: Callable[[Request], Found]) -> Found:
    """Look for somebody who may have been logged out while waiting."""
    if session_of(request) is None:
        raise RequestRefused("You are logged out.", 401)
    return look(request)


def _seconds(request: Request, name: str) -> float:
    """Read a number of seconds that a question brings; 0 where it brings none."""
    try:
        given = float(request.query_params.get(name, 0))
    except ValueError:
        return 0.0
    return given if math.isfinite(given) else 0.0


async def came(request: Request) -> Response:
    """Tell a page of the teacher's when a take of the studio comes in, is heard, or gets on.

    ``since`` is the ``at`` of the answer before, so that nothing is missed between two.
    """
    studio_id = studio_of(request).data.database.studio_id or ""
    news: TakeNews | None = request.app.state.news
    since_s = _seconds(request, "since") or time.time()

    def since(_request: Request) -> bool:
        return news is not None and news.came_since(studio_id, since_s)

    found = await when_known(request, studio_id, since, bool)
    return JSONResponse({"came": found, "at": time.time(), "holds": news is not None and news.listening})


async def state(request: Request) -> Response:
    """Say how far the hearing of a recording is; where that is asked for, once it is over."""
    take = await when_known(request, request.path_params["take_id"], own_take, _is_over)
    return await run_in_threadpool(_state_of, take)


def _is_over(take: StudioTake) -> bool:
    return take.status in {"heard", "failed"}


def _state_of(take: StudioTake) -> Response:
    facts = {"status": take.status, "progress": take.progress, "reason": take.reason}
    return JSONResponse({**facts, "said": sentence_of(take)})
