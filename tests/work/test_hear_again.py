"""Heard again, a take keeps what was heard until there is something new; a damaged recording is not heard."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from evenhand.errors import DamagedRecording, DiskFull
from evenhand.media.film.reader import FilmReader
from evenhand.media.open_take import open_take
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import StudioTake
from evenhand.studio.work import pool as hearing
from evenhand.studio.work.pool import hear_waiting_once
from tests.places import Place
from tests.sounds import EXERCISE, TEMPO, a_recording
from tests.studios import a_new_take

OTHER: dict[str, Any] = {"exercise": "1/8: RRLL", "tempo": "1/4=60", "click": "none", "stroke": "full"}


def cut(place: Path) -> None:
    place.write_bytes(place.read_bytes()[:-200])


def turn_a_bit(place: Path) -> None:
    found = bytearray(place.read_bytes())
    found[len(found) // 2] ^= 0x10
    place.write_bytes(found)


DAMAGES: dict[str, Callable[[Path], object]] = {
    "missing": Path.unlink,
    "empty": lambda place: place.write_bytes(b""),
    "zeroed": lambda place: place.write_bytes(bytes(place.stat().st_size)),
    "cut short": cut,
    "a bit turned": turn_a_bit,
    "longer": lambda place: place.write_bytes(place.read_bytes() + b"x"),
}


@pytest.fixture
def heard(studio: Studio) -> StudioTake:
    """Give a take that was heard, and put right by the teacher."""
    ida = studio.students.add("Ida Quill")
    new = a_new_take(ida.id, exercise=EXERCISE, tempo=TEMPO)
    take, _ = studio.takes.receive(new, a_recording())
    assert hear_waiting_once(studio) == 1
    studio.takes.change(take.id, corrected=True)
    return again(studio, take)


def again(studio: Studio, take: StudioTake) -> StudioTake:
    found = studio.takes.find(take.id)
    assert found is not None
    return found


@pytest.mark.parametrize("damage", DAMAGES.values(), ids=list(DAMAGES))
def test_what_was_heard_stays_where_it_cannot_be_heard_again(
    studio: Studio, heard: StudioTake, damage: Callable[[Path], object]
) -> None:
    """With the exercise it was heard as, and the teacher's corrections; three of three were lost."""
    damage(studio.takes.recording(heard))
    studio.queue.hear_again(heard.id, **OTHER)
    assert again(studio, heard).heard == heard.heard
    assert hear_waiting_once(studio) == 1
    after = again(studio, heard)
    assert (after.status, after.heard, after.corrected) == ("heard", heard.heard, True)
    assert (after.exercise, after.tempo, after.click, after.stroke) == (
        heard.exercise,
        heard.tempo,
        heard.click,
        None,
    )
    assert after.facts == heard.facts
    assert "on the disk" in (after.reason or "")


def test_heard_again_it_is_as_what_was_asked_for(studio: Studio, heard: StudioTake) -> None:
    studio.queue.hear_again(heard.id, exercise=heard.exercise, tempo=heard.tempo, click="none")
    studio.queue.hear_again(heard.id, **OTHER)
    waits = again(studio, heard)
    assert (waits.status, waits.exercise, waits.heard) == ("waiting", "1/8: RRLL", heard.heard)
    hear_waiting_once(studio)
    after = again(studio, heard)
    assert (after.status, after.exercise, after.tempo, after.click, after.stroke) == (
        "heard",
        *OTHER.values(),
    )
    assert (after.corrected, after.reason, after.facts) == (False, None, heard.facts)
    assert after.heard != heard.heard


def test_what_breaks_its_worker_again_keeps_what_was_heard(
    place: Place, studio: Studio, heard: StudioTake
) -> None:
    studio.queue.hear_again(heard.id, **OTHER)
    for k in range(3):
        place.clock.move(seconds=10)
        assert studio.queue.claim(f"w{k}") is not None
        studio.queue.give_back(f"w{k}", blamed=True)
    place.clock.move(seconds=40)
    assert studio.queue.claim("last") is None
    after = again(studio, heard)
    assert (after.status, after.heard, after.exercise) == ("heard", heard.heard, heard.exercise)
    assert "broke off" in (after.reason or "")


@pytest.mark.parametrize("damage", DAMAGES.values(), ids=list(DAMAGES))
def test_a_damaged_recording_is_not_heard(
    studio: Studio, heard: StudioTake, damage: Callable[[Path], object]
) -> None:
    """Its bytes are held against its key (SHA-256): two of five damaged FLACs were "heard"."""
    flac = studio.takes.recording(heard).read_bytes()
    take, _ = studio.takes.receive(a_new_take(heard.student_id, "key-2"), flac + b"")
    damage(studio.takes.recording(take))
    with pytest.raises(DamagedRecording):
        studio.takes.sound_recording(take)
    hear_waiting_once(studio)
    after = again(studio, take)
    assert (after.status, after.heard) == ("failed", None)


def test_a_full_disk_is_no_fault_of_the_take(
    studio: Studio, heard: StudioTake, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is not written down as a failure, and waits."""
    studio.queue.hear_again(heard.id, **OTHER)
    take = studio.queue.claim("w")
    assert take is not None

    def full(*_args: object, **_more: object) -> None:
        raise DiskFull(where="here")

    monkeypatch.setattr(hearing, "_heard", full)
    with pytest.raises(DiskFull):
        hearing.hear_one(studio, take, "w", opens=open_take, films=FilmReader())
    studio.queue.give_back("w")
    assert (again(studio, heard).status, again(studio, heard).tried) == ("waiting", 0)
