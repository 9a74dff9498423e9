"""Hear many takes: a whole list on all cores, or one exercise at several tempos for its ceiling.

One that fails does not stop the rest.
A take that can bring a worker down (out of memory, say) is heard again alone, so that only
the one at fault is reported and all others are heard.

A list is a CSV file: ``file,exercise,tempo[,click]``, paths relative to the list.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections import Counter, deque
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from functools import partial
from multiprocessing import connection
from pathlib import Path

from evenhand.acts.documents import Json, TableRow, plain, read_rows
from evenhand.acts.takes.document import json_text
from evenhand.acts.takes.hear import hear_take
from evenhand.acts.takes.request import TakeRequest, click_of
from evenhand.errors import BadExercise, BadList, BadTempo, CannotHear, EvenhandError, WrongOptions
from evenhand.music.exercise import Exercise, Tempo, bpm_of
from evenhand.music.text import print_exercise
from evenhand.progress.ceiling.control import TempoCeiling, TriedRepetition
from evenhand.report.words.remarks import remark_words
from evenhand.take import SNARE_NOTES, OpensTakes

NEEDED = ("file", "exercise", "tempo")
OPTIONAL = ("click",)
MOST_TAKES = 10_000


@dataclass(frozen=True, slots=True)
class ListedTake:
    """One row: where the take lies, what it is, and the name its results go by."""

    row: int
    path: Path
    request: TakeRequest
    stem: str


def read_list(text: str, *, name: str, folder: Path) -> tuple[ListedTake, ...]:
    """Read a list of takes. Rows are counted as a spreadsheet counts them: the heading is row 1.

    Raises
    ------
    BadList
        Naming the row and the column of the first thing that cannot be read.
    """
    rows = read_rows(text, name=name, needed=NEEDED, optional=OPTIONAL, error=BadList)
    if len(rows) > MOST_TAKES:
        raise BadList(where=name, got=f"more than {MOST_TAKES:,} takes", must_be="several lists")
    if not rows:
        raise BadList(where=name, got="no takes", must_be="a heading and at least one row below it")
    takes = []
    for row in rows:
        path = path_in(row, folder)
        takes.append(ListedTake(row.number, path, request_in(row), path.stem))
    return tuple(told_apart(takes))


def path_in(row: TableRow, folder: Path) -> Path:
    """Read where a take lies."""
    if not row["file"] or "\0" in row["file"]:
        row.fail("file", "a recording's path", "a path with a zero byte" if row["file"] else "nothing")
    return folder / row["file"]


def request_in(row: TableRow) -> TakeRequest:
    """Read what a take is to be heard as."""
    try:
        request = TakeRequest.read(row["exercise"], row["tempo"])
    except BadExercise as error:
        row.fail(f"exercise, at its character {error.column}", error.must_be, error.found)
    except (BadTempo, WrongOptions) as error:
        row.fail("tempo", error.must_be, error.got)
    try:
        return replace(request, click=click_of(row["click"]))
    except WrongOptions as error:
        row.fail("click", error.must_be, error.got)


def told_apart(takes: list[ListedTake]) -> Iterator[ListedTake]:
    """Give takes of the same stem names of their own: ``a``, ``a-2`` ...; no case-blind clash."""
    used: set[str] = set()
    reached: Counter[str] = Counter()  # how far the numbers of a stem went, so that none is tried twice
    listed = {take.stem.casefold() for take in takes}
    for take in takes:
        stem, count = take.stem, 1
        if stem.casefold() in used:
            count = max(2, reached[take.stem] + 1)
            stem = f"{take.stem}-{count}"
        while stem.casefold() in used or (count > 1 and stem.casefold() in listed):
            count += 1
            stem = f"{take.stem}-{count}"
        reached[take.stem] = max(count, reached[take.stem])
        used.add(stem.casefold())
        yield ListedTake(take.row, take.path, take.request, stem)


LONGEST_S = 1800.0  # hearing that takes longer is in a knot; three hours of sound take a tenth of it
ENDED = "hearing it ended its process; it may need too much memory, or too long"
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
    longest_s: float | None = None,
) -> Iterator[ListedResult]:
    """Hear all takes and give each result as it comes, in no order.

    With ``longest_s`` each process is one of its own, even where there is one only, and a hearing that takes
    longer ends with it.
    """
    jobs = min(jobs or cores(), len(takes))
    hear = partial(hear_listed, opens=opens, midi_notes=midi_notes)
    if longest_s is not None:
        hear = partial(_in_time, hear, longest_s)
    elif jobs <= 1:
        yield from map(hear, takes)
        return
    waiting = deque(takes)
    while waiting:
        suspects = yield from _until_a_worker_dies(waiting, hear, jobs)
        yield from (_alone(listed, hear) for listed in suspects)


def _in_time(hear: Hears, longest_s: float, listed: ListedTake) -> ListedResult:
    """Hear one take; where that comes to no end, its process ends, which is seen."""
    ends = threading.Timer(longest_s, os._exit, (1,))
    ends.daemon = True
    ends.start()
    try:
        return hear(listed)
    finally:
        ends.cancel()


def hear_listed(listed: ListedTake, *, opens: OpensTakes, midi_notes: Sequence[int]) -> ListedResult:
    """Hear one listed take; what stands in the way becomes its reason."""
    try:
        take = hear_take(listed.path, listed.request, opens=opens, midi_notes=midi_notes)
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
            return ListedResult(listed, None, ENDED)


def _pool(jobs: int) -> ProcessPoolExecutor:
    """Make a pool of workers that start fresh, alike on every system, and leave Ctrl-C to this process.

    Each has one core: its array library, which reads that as it is loaded, is to use no more.
    """
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    return ProcessPoolExecutor(
        jobs,
        mp_context=multiprocessing.get_context("spawn"),
        initializer=_begin,
    )


def _begin() -> None:
    """Begin a worker: Ctrl-C is left to the process that started it, and without that one it ends.

    Nobody else would tell it: it waits for work at a pipe that its siblings hold open, too.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    starter = multiprocessing.parent_process()
    if starter is not None:
        threading.Thread(target=_end_with, args=(starter.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    connection.wait([sentinel])
    os._exit(1)


@dataclass(frozen=True, slots=True)
class HeardCeiling:
    """The ceiling of one exercise, and the takes that told nothing, each with its reason."""

    exercise: Exercise
    ceiling: TempoCeiling
    left_out: tuple[str, ...]


def hear_ceiling(
    takes: Sequence[ListedTake],
    *,
    opens: OpensTakes,
    progress: Callable[[float], None] = lambda _done: None,
) -> HeardCeiling:
    """Hear all takes of a list, which are of one exercise, and find its tempo ceiling.

    The tempo is in the beat of the first row. Where no take at all can be heard, the
    first one's error is raised.
    """
    exercise, first = _one_exercise(takes)
    tried: list[TriedRepetition] = []
    left_out: list[str] = []
    errors: list[CannotHear] = []
    for done, listed in enumerate(takes):
        progress(float(done))
        try:
            of_take, reason = _tried(listed, opens, first)
        except CannotHear as error:
            errors.append(error)
            of_take, reason = [], str(error)
        tried += of_take
        if reason:
            left_out.append(reason)
    if len(errors) == len(takes):
        raise errors[0]
    from evenhand.progress.ceiling.estimate import tempo_ceiling

    return HeardCeiling(exercise, tempo_ceiling(tried, first.beat), tuple(left_out))


def _one_exercise(takes: Sequence[ListedTake]) -> tuple[Exercise, Tempo]:
    """Check that the list is of one exercise, none of it blind."""
    for listed in takes:
        if listed.request.exercise is None:
            must_be = "both, for the ceiling is that of an exercise"
            raise BadList(where=f"row {listed.row}", got="no exercise and tempo", must_be=must_be)
        if listed.request.exercise.notes != (takes[0].request.exercise or listed.request.exercise).notes:
            got = f"another exercise, {print_exercise(listed.request.exercise)}"
            must_be = "that of the rows before: a list for each exercise"
            raise BadList(where=f"row {listed.row}", got=got, must_be=must_be)
    exercise, tempo = takes[0].request.exercise, takes[0].request.tempo
    if exercise is None or tempo is None:  # no row at all
        raise BadList(where="the list", got="no takes", must_be="at least one row")
    return exercise, tempo


def _tried(listed: ListedTake, opens: OpensTakes, first: Tempo) -> tuple[list[TriedRepetition], str | None]:
    """Hear one take; say why where it tells nothing."""
    from evenhand.progress.ceiling.control import tried_repetitions

    take = hear_take(listed.path, listed.request, opens=opens)
    if take.exercise is None or take.tempo is None:
        return [], None
    in_beat = Tempo(first.beat, bpm_of(take.tempo.whole_note_s, first.beat))
    tried = tried_repetitions(take.heard, take.exercise, in_beat, take=take.name)
    if tried:
        return tried, None
    remark = take.heard.unlike or take.heard.ambiguity
    reason = "no repetition was played to its end" if remark is None else remark_words(remark)
    return [], f"{take.name}: {reason}"


def ceiling_drawing(found: TempoCeiling) -> str:
    """Draw a ceiling as an SVG document."""
    from evenhand.progress.ceiling.estimate import with_curve
    from evenhand.report.plots.progress import ceiling_picture

    return ceiling_picture(with_curve(found))


def ceiling_json(heard: HeardCeiling) -> Json:
    """Write the ceiling in the contract's words (docs/ceiling.md)."""
    from evenhand.planning.standing import practice_limit_s

    found = heard.ceiling
    limit_s = practice_limit_s(found)
    return plain(
        {
            "exercise": print_exercise(heard.exercise),
            "beat": f"{found.beat.numerator}/{found.beat.denominator}",
            "ceiling_bpm": found.ceiling,
            "hands": found.hands,
            "next_tempo_bpm": found.next_tempo_bpm,
            "practise_up_to_bpm": None if limit_s is None else bpm_of(limit_s, found.beat),
            "enough": found.enough,
            "why": remark_words(found.why),
            "at_least_bpm": found.at_least_bpm,
            "at_most_bpm": found.at_most_bpm,
            "repetitions": found.tried,
            "left_out": heard.left_out,
        },
        {"bpm": 2, "ms": 3},
    )
