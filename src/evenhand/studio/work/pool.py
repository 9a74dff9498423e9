"""Worker processes that hear the takes of a studio, and who sees to it that they live.

Conventions: workers are fresh interpreters (spawn), never forks of a server with threads. They hold
nothing that a kill could lose: stopping is killing them and giving their takes back. A worker claims a
take, hears it, and claims the next; it ends by itself when the server that started it is gone, after the
take in hand. While a take is heard, a heartbeat renews its claim and tells its progress.

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
from datetime import datetime
from multiprocessing import connection
from multiprocessing.context import SpawnProcess
from pathlib import Path
from typing import TYPE_CHECKING, Self

from evenhand.errors import CannotKeep, EvenhandError
from evenhand.studio.store.layout import FOLDER_ALONE, Backing
from evenhand.studio.store.studio import Studio
from evenhand.studio.traces import traced
from evenhand.studio.values import BEGINS_AT, StudioTake
from evenhand.studio.work.children import Hearing, begin_process
from evenhand.take import MidiTake, OpensTakes, Progress, SoundTake, part_of

if TYPE_CHECKING:
    from evenhand.film import LooksAtFilms

NICE = 10  # the server goes first
NO_ROOM_S = 5.0  # until it tries again where the disk can keep nothing
IDLE_S = 0.5  # until it looks again by itself, when nobody wakes it


def work(data: Path, backing: Backing, name: str, hearing: Hearing, place: int) -> None:
    """Work until the server is gone."""
    begin_process(NICE)
    _load()
    from evenhand.studio.weeks.ahead import (
        Ahead,  # it brings what draws, which the server's start need not wait for
    )

    with Studio.open(data, backing=backing) as studio:
        ahead = Ahead(studio, name)
        while _server_lives():
            try:
                began_s = time.monotonic()
                heard = _hear_next(studio, name)
                if heard is not None:
                    took_s = time.monotonic() - began_s
                    hearing.count(place, took_s)
                    traced("hear a take", took_s, {"evenhand.source": heard.source})
                    ahead.add(heard.student_id)
                elif not ahead.step(datetime.now().astimezone()):
                    hearing.wait(IDLE_S)
            except CannotKeep:  # the disk is full: nobody is to blame, and there may be room later
                with suppress(Exception):
                    studio.queue.give_back(name)
                time.sleep(NO_ROOM_S)


def _hear_next(studio: Studio, name: str) -> StudioTake | None:
    """Claim a take and hear it; None where none waits."""
    from evenhand.media.film.reader import FilmReader
    from evenhand.media.open_take import open_take

    take = studio.queue.claim(name)
    if take is not None:
        hear_one(studio, take, name, opens=open_take, films=FilmReader(), longest_s=LONGEST_S)
    return take


def _load() -> None:
    """Load what hearing needs before there is something to hear."""
    from evenhand.acts.takes import document as as_json  # noqa: F401 - loaded, not used here
    from evenhand.hearing import listen  # noqa: F401 - the same
    from evenhand.measuring.measure import measure  # noqa: F401 - the same
    from evenhand.media.decoder import DecoderEnded, shared_decoder

    with suppress(DecoderEnded, OSError):
        shared_decoder().start()


def _server_lives() -> bool:
    """Tell whether the process that started this one is there."""
    server = multiprocessing.parent_process()
    return server is None or server.is_alive()


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
SHORT_LIFE_S, PAUSE_S = 5.0, 1.0  # who dies right after the start is not replaced in a hurry


@dataclass(slots=True)
class _Worker:
    """A worker, by the name under which it claims, its place among them, and the moment when it began."""

    name: str
    place: int
    process: SpawnProcess
    since_s: float


class WorkerPool:
    """So many workers for one studio; a dead one's take goes back at once, and another takes its place."""

    def __init__(self, studio_data: Path, size: int = 1, *, backing: Backing = FOLDER_ALONE) -> None:
        self._data, self._size, self._backing = studio_data, size, backing
        self._context = multiprocessing.get_context("spawn")
        self.hearing = Hearing(size, self._context)
        self._stopping = threading.Event()
        self._running: list[_Worker] = []
        self._watch: threading.Thread | None = None
        self._studio: Studio | None = None

    def start(self) -> None:
        """Sweep the studio, and let the workers begin; it returns before they are ready."""
        self._stopping.clear()
        self._studio = Studio.open(self._data, backing=self._backing)
        with suppress(CannotKeep):  # there is room another time
            self._studio.data.sweep()
        self._running = [self._begun(place) for place in range(self._size)]
        self._watch = threading.Thread(target=self._look_after, name="worker pool", daemon=True)
        self._watch.start()

    def stop(self) -> None:
        """End the workers; the takes in their hands wait again."""
        self._stopping.set()
        if self._watch is not None:
            self._watch.join()
        for worker in self._running:
            self._end(worker, blamed=False)
        self._running = []
        if self._studio is not None:
            self._studio.close()
            self._studio = None

    def pids(self) -> list[int]:
        """List the workers' process ids."""
        return [worker.process.pid for worker in self._running if worker.process.pid is not None]

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_error: object) -> None:
        self.stop()

    def _begun(self, place: int) -> _Worker:
        """Start a worker."""
        name = f"worker-{secrets.token_hex(6)}"
        process = self._context.Process(
            target=work, args=(self._data, self._backing, name, self.hearing, place), name=name, daemon=True
        )
        process.start()
        return _Worker(name, place, process, time.monotonic())

    def _end(self, worker: _Worker, *, blamed: bool) -> None:
        """End a worker, if it lives, and give its take back."""
        worker.process.kill()
        worker.process.join()
        worker.process.close()
        if self._studio is not None:
            with suppress(Exception):  # the database is away: then the claim grows stale, with the same end
                self._studio.queue.give_back(worker.name, blamed=blamed)

    def _look_after(self) -> None:
        """Replace the workers that die."""
        while not self._stopping.is_set():
            died = connection.wait([worker.process.sentinel for worker in self._running], WATCH_S)
            gone = [each for each in self._running if each.process.sentinel in died]
            for worker in gone:
                self._running.remove(worker)
                self._end(worker, blamed=True)
            if any(time.monotonic() - worker.since_s < SHORT_LIFE_S for worker in gone):
                self._stopping.wait(PAUSE_S)
            while len(self._running) < self._size and not self._stopping.is_set():
                free = set(range(self._size)) - {each.place for each in self._running}
                with suppress(OSError):  # the system has no room for another process: it is tried again
                    self._running.append(self._begun(min(free)))
                    continue
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
        studio.takes.unfinished_file() as place,
    ):
        try:
            found = _heard(studio, take, opens, films, heartbeat.tell)
        except CannotKeep:  # no fault of the take: it waits until the disk can keep it
            raise
        except EvenhandError as error:
            return studio.queue.took_failed(take.id, _named(str(error), take), worker=worker)
        except Exception as error:  # noqa: BLE001 - it may pass, such as a lack of memory; the next take is heard
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
