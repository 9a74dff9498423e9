"""Worker processes that hear the takes of a studio, and who sees to it that they live.

Conventions: workers are fresh interpreters (spawn), never forks of a server with threads. They hold
nothing that a kill could lose: stopping is killing them and giving their takes back, at once or after a
while that is left to them for the take in hand. What a worker does stands in ``work.loop``; it ends by itself
when the server that started it is gone. While a take is heard, a heartbeat renews its claim and tells its
progress.

In a Postgres, takes may come from any machine: the database says so, and one thread of the pool listens.

A take that was heard is kept as FLAC: one channel, the one that is heard, 16 bit, block by block.
"""

from __future__ import annotations

import multiprocessing
import os
import secrets
import threading
import time
from contextlib import suppress
from dataclasses import dataclass, replace
from multiprocessing import connection
from multiprocessing.context import SpawnProcess
from pathlib import Path
from typing import TYPE_CHECKING, Self

from evenhand.errors import CannotKeep, EvenhandError
from evenhand.studio.school import School
from evenhand.studio.store.layout import FOLDER_ALONE, Backing
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import BEGINS_AT, StudioTake
from evenhand.studio.work.children import Hearing
from evenhand.take import MidiTake, OpensTakes, Progress, SoundTake, part_of

if TYPE_CHECKING:
    from evenhand.film import LooksAtFilms

BEAT_S = 2.0
LONGEST_S = 1800.0  # three hours of sound take a tenth of it; what takes longer is in a knot
OVERDUE_EXIT = 70


class Heartbeat:
    """Beats from the start of a hearing to its end."""

    def __init__(self, studio: Studio, take_id: str, worker: str, *, longest_s: float | None = None) -> None:
        self._studio, self._take_id, self._worker = studio, take_id, worker
        self._last_s = float("inf") if longest_s is None else time.monotonic() + longest_s
        self._progress = 0.0
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._beat, daemon=True)

    def tell(self, done: float) -> None:
        """Be told the share done; the next beat passes it on."""
        self._progress = done

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_error: object) -> None:
        self._over.set()
        self._thread.join()

    def _beat(self) -> None:
        """Beat; a hearing without end ends the whole process, which its server sees and makes good."""
        while not self._over.wait(BEAT_S):
            if time.monotonic() > self._last_s:
                os._exit(OVERDUE_EXIT)
            with suppress(Exception):  # a beat that is missed does no harm; many make the claim stale
                self._studio.queue.still_hearing(self._take_id, self._worker, self._progress)


WATCH_S = 0.5
SWEEPS_EVERY_S, FIRST_SWEEP_WITHIN_S = 86_400.0, 3600
SHORT_LIFE_S, PAUSE_S, LONGEST_PAUSE_S = 5.0, 1.0, 30.0  # who dies right after the start is not replaced soon
COMES = "procrastinate_any_queue_v1"  # the channel on which a Postgres says that a take came


@dataclass(slots=True)
class _Running:
    """A worker, by the name under which it claims, its place among them, and the moment when it began."""

    name: str
    place: int
    process: SpawnProcess
    since_s: float


class WorkerPool:
    """So many workers for a school, or for one studio.

    A dead one's take goes back at once, and another takes its place.
    """

    def __init__(self, studio_data: Path, size: int = 1, *, backing: Backing = FOLDER_ALONE) -> None:
        self._data, self._size, self._backing = studio_data, size, backing
        self._context = multiprocessing.get_context("spawn")
        self.hearing = Hearing(size, self._context)
        self._stopping = threading.Event()
        self._pause_s = PAUSE_S
        self._running: list[_Running] = []
        self._threads: list[threading.Thread] = []
        self._school: School | None = None

    def start(self, *, sweeps: bool = True) -> None:
        """Sweep each studio, and let the workers begin; it returns before they are ready.

        Each is swept once a day from then on. Without ``sweeps`` the first time comes within the hour:
        machines that are started together do not all sweep at once.
        """
        self._stopping.clear()
        self._school = School.open(self._data, self._backing)
        if sweeps:
            self._sweep(self._school)
        first_s = SWEEPS_EVERY_S if sweeps else secrets.randbelow(FIRST_SWEEP_WITHIN_S) + 1.0
        threading.Thread(target=self._sweep_daily, args=(self._school, first_s), daemon=True).start()
        self._running = [self._begun(place) for place in range(self._size)]
        acts = [self._look_after] if self._backing.url is None else [self._look_after, self._listen]
        self._threads = [threading.Thread(target=act, name="worker pool", daemon=True) for act in acts]
        for thread in self._threads:
            thread.start()

    def stop(self, *, grace_s: float = 0.0) -> None:
        """End the workers, after the takes in hand if those are done in time; else they wait again."""
        self.hearing.end()
        self._stopping.set()
        until_s = time.monotonic() + grace_s
        for thread in self._threads:
            thread.join()
        for worker in self._running:
            worker.process.join(max(until_s - time.monotonic(), 0.0))
            self._end(worker, blamed=False)
        self._running = []
        if self._school is not None:
            self._school.close()
            self._school = None

    def pids(self) -> list[int]:
        """List the workers' process ids."""
        return [worker.process.pid for worker in self._running if worker.process.pid is not None]

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_error: object) -> None:
        self.stop()

    def _begun(self, place: int) -> _Running:
        """Start a worker."""
        from evenhand.studio.work.loop import work

        name = f"worker-{secrets.token_hex(6)}"
        args = (self._data, self._backing, name, self.hearing, place)
        process = self._context.Process(target=work, args=args, name=name, daemon=True)
        process.start()
        return _Running(name, place, process, time.monotonic())

    def _end(self, worker: _Running, *, blamed: bool) -> None:
        """End a worker, if it lives, and give its take back."""
        worker.process.kill()
        worker.process.join()
        worker.process.close()
        if self._school is not None:
            with suppress(Exception):  # the database is away: then the claim grows stale, with the same end
                self._school.give_back(worker.name, blamed=blamed)

    def _sweep_daily(self, school: School, wait_s: float) -> None:
        """Sweep once a day; nobody waits for it in the end."""
        while not self._stopping.wait(wait_s):
            with suppress(Exception):  # the database or the store is away, or the school is closed
                self._sweep(school)
            wait_s = SWEEPS_EVERY_S

    def _sweep(self, school: School) -> None:
        for studio in school.studios():
            with suppress(CannotKeep):  # there is room another time
                studio.data.sweep()

    def _look_after(self) -> None:
        """Replace the workers that die; the pause doubles as long as they die right after their start."""
        while not self._stopping.is_set():
            died = connection.wait([worker.process.sentinel for worker in self._running], WATCH_S)
            gone = [each for each in self._running if each.process.sentinel in died]
            for worker in gone:
                self._running.remove(worker)
                self._end(worker, blamed=True)
            if any(time.monotonic() - worker.since_s < SHORT_LIFE_S for worker in gone):
                self._stopping.wait(self._pause_s)
                self._pause_s = min(2 * self._pause_s, LONGEST_PAUSE_S)
            elif gone:
                self._pause_s = PAUSE_S
            self._fill_up()

    def _fill_up(self) -> None:
        """Let as many work as there should be."""
        while len(self._running) < self._size and not self._stopping.is_set():
            free = set(range(self._size)) - {each.place for each in self._running}
            with suppress(OSError):  # the system has no room for another process: it is tried again
                self._running.append(self._begun(min(free)))
                continue
            self._stopping.wait(PAUSE_S)

    def _listen(self) -> None:
        """Wake the workers when a Postgres says that a take came; a lost connection is made again."""
        while not self._stopping.is_set() and self._school is not None:
            with suppress(Exception):  # the database is away; workers look by themselves now and then
                for _ in self._school.front.data.database.notices(COMES, self._stopping.is_set):
                    self.hearing.wake(self._size)
            self._stopping.wait(PAUSE_S)


def hear_waiting_once(studio: Studio, *, opens: OpensTakes | None = None) -> int:
    """Hear all that waits now, in this process, and tell how many takes that were."""
    from evenhand.media.film.reader import FilmReader
    from evenhand.media.open_take import open_take

    worker, done = f"here-{secrets.token_hex(6)}", 0
    while (take := studio.queue.claim(worker)) is not None:
        hear_one(studio, take, worker, opens=opens or open_take, films=FilmReader())
        done += 1
    return done


_BLOCK = 1 << 16


def write_sound(take: SoundTake, place: Path) -> bool:
    """Write a take's sound as FLAC, however long it is; False where FLAC cannot hold it.

    FLAC holds no rate that is over 65,535 Hz and no multiple of ten; what came in stays then.
    """
    import numpy as np
    import soundfile

    try:
        with soundfile.SoundFile(place, "w", take.rate_hz, 1, "PCM_16", format="FLAC") as file:
            for _start, block in take.blocks(_BLOCK):
                file.write(np.clip(block, -1.0, 1.0))
    except (soundfile.SoundFileError, OSError):
        place.unlink(missing_ok=True)
        return False
    return True


NAMELESS = "the recording"


def hear_one(
    studio: Studio,
    take: StudioTake,
    worker: str,
    *,
    opens: OpensTakes,
    films: LooksAtFilms,
    longest_s: float | None = None,
) -> bool:
    """Hear a take that this worker has claimed, and watch it where it is a video.

    It tells whether it was still wanted at the end. What stands in the way becomes the take's reason; the
    recording stays as it came then.
    """
    with (
        Heartbeat(studio, take.id, worker, longest_s=longest_s) as heartbeat,
        studio.data.recordings.copies(),
        studio.takes.unfinished_file() as place,
    ):
        try:
            found = _heard(studio, take, opens, films, heartbeat.tell)
        except CannotKeep:  # no fault of the take: it waits until the disk can keep it
            raise
        except EvenhandError as error:
            return studio.queue.took_failed(take.id, _named(str(error), take), worker=worker)
        except Exception as error:  # noqa: BLE001 - one take's trouble is written down, and the next is heard
            reason = f"an error of Evenhand's own ({type(error).__name__}: {error})"
            return studio.queue.took_failed(take.id, reason, worker=worker, again=True)
        flac = place if _as_flac(take, found.opened, place) else None
        return studio.queue.took_heard(
            take.id, found.text, found.seconds, worker=worker, flac=flac, is_film=found.is_film
        )


@dataclass(frozen=True, slots=True)
class _HeardAndSeen:
    """What was heard and seen, as its document; and what it was heard in."""

    text: str
    seconds: float
    opened: SoundTake | MidiTake
    is_film: bool


def _heard(
    studio: Studio, take: StudioTake, opens: OpensTakes, films: LooksAtFilms, progress: Progress
) -> _HeardAndSeen:
    """Open, listen and watch, as the command line does, with what the device knows of its click."""
    from evenhand.acts.takes.hear import hear_opened
    from evenhand.acts.takes.request import RecordingDevice, TakeRequest, pattern_of
    from evenhand.studio.work.films import film_of, text_of

    request = TakeRequest.read(take.exercise, take.tempo, take.click)
    begins_at_s = float(take.facts[BEGINS_AT]) if BEGINS_AT in take.facts else None
    device = RecordingDevice.of(take.facts, take.latency_ms)
    request = replace(request, begins_at_s=begins_at_s, device=device, pattern=pattern_of(take.facts))
    path = studio.takes.sound_recording(take)
    film = film_of(studio, take, films)
    opened_at, heard_at = (0.5, 1.0) if film is None else (0.1, 0.3)
    opened = opens(path, progress=part_of(progress, 0.0, opened_at))
    heard = hear_opened(opened, request, path.name, part_of(progress, opened_at, heard_at))
    heard = replace(heard, name=take.original_name or take.name)
    text = text_of(take, heard, film, request, films=films, progress=part_of(progress, heard_at, 1.0))
    return _HeardAndSeen(_named(text, take), heard.input.seconds or 0.0, opened, film is not None)


def _as_flac(take: StudioTake, sound: SoundTake | MidiTake, place: Path) -> bool:
    """Write the sound as FLAC, unless it came as FLAC, or is none."""
    if not isinstance(sound, SoundTake) or (take.recording or "").endswith(".flac"):
        return False
    return write_sound(sound, place)


def _named(reason: str, take: StudioTake) -> str:
    """Call the recording what a person calls it, not what it is called on the disk."""
    for key in filter(None, (take.recording, take.original)):
        reason = reason.replace(Path(key).name, take.original_name or NAMELESS)
    return reason
