"""Hear a whole list of takes on all cores; one that fails does not stop the rest.

A take that can bring a worker down (out of memory, say) is heard again alone, so that only
the one at fault is reported and all others are heard.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from functools import partial

from evenhand.application.as_json import json_text
from evenhand.application.hear_take import hear_take
from evenhand.application.ports import SNARE_NOTES, OpensTakes
from evenhand.application.take_list import ListedTake
from evenhand.errors import EvenhandError

AHEAD = 2  # takes waiting for each worker, so that none stands idle and memory stays small


@dataclass(frozen=True, slots=True)
class ListedResult:
    """What became of one listed take: its JSON, or why it could not be heard."""

    listed: ListedTake
    json: str | None
    reason: str | None = None


Hears = Callable[[ListedTake], ListedResult]


def hear_list(
    takes: Sequence[ListedTake],
    *,
    opens: OpensTakes,
    jobs: int | None = None,
    midi_notes: Sequence[int] = SNARE_NOTES,
) -> Iterator[ListedResult]:
    """Hear all takes and give each result as it comes, in no order."""
    jobs = min(jobs or cores(), len(takes))
    hear = partial(hear_listed, opens=opens, midi_notes=midi_notes)
    if jobs <= 1:
        yield from map(hear, takes)
        return
    waiting = deque(takes)
    while waiting:
        suspects = yield from _until_a_worker_dies(waiting, hear, jobs)
        yield from (_alone(listed, hear) for listed in suspects)


def hear_listed(listed: ListedTake, *, opens: OpensTakes, midi_notes: Sequence[int]) -> ListedResult:
    """Hear one listed take; what stands in the way becomes its reason."""
    try:
        take = hear_take(listed.path, listed.asked, opens=opens, midi_notes=midi_notes)
        return ListedResult(listed, json_text(take))
    except EvenhandError as error:
        return ListedResult(listed, None, str(error))
    except Exception as error:  # noqa: BLE001 - whatever one take brings up, the others are still heard
        return ListedResult(listed, None, f"an error of Evenhand's own, {type(error).__name__}: {error}")


def cores() -> int:
    """Count the cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _until_a_worker_dies(
    waiting: deque[ListedTake], hear: Hears, jobs: int
) -> Generator[ListedResult, None, list[ListedTake]]:
    """Hear what is waiting; return what was in hand when a worker died, nothing if none did."""
    in_hand: dict[Future[ListedResult], ListedTake] = {}
    with _pool(jobs) as pool:
        try:
            while waiting or in_hand:
                while waiting and len(in_hand) < jobs * AHEAD:
                    in_hand[pool.submit(hear, waiting[0])] = waiting[0]
                    waiting.popleft()
                done, _ = wait(in_hand, return_when=FIRST_COMPLETED)
                for future in done:
                    yield future.result()
                    del in_hand[future]
        except BrokenProcessPool:
            return list(in_hand.values())
        finally:
            pool.shutdown(wait=False, cancel_futures=True)
    return []


def _alone(listed: ListedTake, hear: Hears) -> ListedResult:
    """Hear one take in a process of its own, which it may bring down."""
    with _pool(1) as pool:
        try:
            return pool.submit(hear, listed).result()
        except BrokenProcessPool:
            return ListedResult(listed, None, "hearing it ended its process; it may need too much memory")


def _pool(jobs: int) -> ProcessPoolExecutor:
    """Make a pool of workers that start fresh, alike on every system, and leave Ctrl-C to this process."""
    return ProcessPoolExecutor(
        jobs,
        mp_context=multiprocessing.get_context("spawn"),
        initializer=signal.signal,
        initargs=(signal.SIGINT, signal.SIG_IGN),
    )
