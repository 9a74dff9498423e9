"""Hear one claimed take, from its recording to what stands in the database.

A take's sound as FLAC: one channel, the one that is heard, 16 bit, block by block.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from evenhand.errors import CannotKeep, EvenhandError
from evenhand.measuring.values import HeardTake
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import BEGINS_AT, StudioTake
from evenhand.studio.work.pool import Heartbeat
from evenhand.take import MidiTake, OpensTakes, Progress, SoundTake, part_of

_BLOCK = 1 << 16


def write_sound(take: SoundTake, place: Path) -> bool:
    """Write a take's sound as FLAC, however long it is; False where FLAC cannot hold it.

    FLAC holds no rate that is over 65,535 Hz and no multiple of ten; what came in stays then.
    """
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
    studio: Studio, take: StudioTake, worker: str, *, opens: OpensTakes, longest_s: float | None = None
) -> bool:
    """Hear a take that this worker has claimed; tell whether it was still wanted at the end.

    What stands in the way becomes the take's reason; the recording stays as it came then.
    """
    with (
        Heartbeat(studio, take.id, worker, longest_s=longest_s) as heartbeat,
        studio.takes.unfinished_file() as place,
    ):
        try:
            heard, opened = _heard(studio, take, opens, heartbeat.tell)
        except CannotKeep:  # no fault of the take: it waits until the disk can keep it
            raise
        except EvenhandError as error:
            return studio.queue.took_failed(take.id, _named(str(error), take), worker=worker)
        except Exception as error:  # noqa: BLE001 - one take's trouble is written down, and the next is heard
            reason = f"an error of Evenhand's own ({type(error).__name__}: {error})"
            return studio.queue.took_failed(take.id, reason, worker=worker)
        flac = place if _as_flac(take, opened, place) else None
        from evenhand.acts.takes.document import json_text

        return studio.queue.took_heard(
            take.id, json_text(heard), heard.input.seconds or 0.0, worker=worker, flac=flac
        )


def _heard(
    studio: Studio, take: StudioTake, opens: OpensTakes, progress: Progress
) -> tuple[HeardTake, SoundTake | MidiTake]:
    """Open and listen, as the command line does, with what the device knows of its click."""
    from evenhand.acts.takes.hear import hear_opened
    from evenhand.acts.takes.request import RecordingDevice, TakeRequest

    request = TakeRequest.read(take.exercise, take.tempo, take.click)
    begins_at_s = float(take.facts[BEGINS_AT]) if BEGINS_AT in take.facts else None
    device = RecordingDevice.of(take.facts, take.latency_ms)
    request = replace(request, begins_at_s=begins_at_s, device=device)
    path = studio.takes.sound_recording(take)
    opened = opens(path, progress=part_of(progress, 0.0, 0.5))
    heard = hear_opened(opened, request, path.name, part_of(progress, 0.5, 1.0))
    return replace(heard, name=take.original_name or take.name), opened


def _as_flac(take: StudioTake, sound: SoundTake | MidiTake, place: Path) -> bool:
    """Write the sound as FLAC, unless it came as FLAC, or is none."""
    if not isinstance(sound, SoundTake) or (take.recording or "").endswith(".flac"):
        return False
    return write_sound(sound, place)


def _named(reason: str, take: StudioTake) -> str:
    """Call the recording what a person calls it, not what it is called on the disk."""
    if take.recording is None:
        return reason
    return reason.replace(Path(take.recording).name, take.original_name or NAMELESS)
