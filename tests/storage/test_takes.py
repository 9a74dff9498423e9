"""Takes come in once, and are lost by nothing."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path

import pytest

from evenhand.errors import NotFound
from evenhand.studio.store.studio import Studio
from evenhand.studio.store.takes import Takes
from evenhand.studio.values import StudioTake
from tests.places import Place, everywhere
from tests.studios import NOON, a_new_take

pytestmark = everywhere
FLAC = b"fLaC" + bytes(60)
WAV = b"RIFF\x00\x00\x00\x00WAVEfmt " + bytes(60)


class PowerCut(BaseException):
    """Stands for the end of the process: nothing of ours catches it."""


def kept(studio: Studio) -> list[str]:
    return [Path(key).suffix for key in studio.data.recordings.kept_keys()]


def test_a_take_that_comes_in_waits_and_has_all_that_came_with_it(studio: Studio) -> None:
    ida = studio.students.add("Ida Quill")
    new = a_new_take(
        ida.id,
        name="slow",
        stroke="tap",
        click="heard",
        latency_ms=12.5,
        device_id="phone",
        model=True,
        facts={"rate": "48000"},
    )
    take, first = studio.takes.receive(new, WAV, original_name="Übung 1.wav")
    assert first
    assert studio.takes.find(take.id) == take
    assert (take.status, take.received_at, take.original_name) == ("waiting", NOON, "Übung 1.wav")
    assert {name: getattr(take, name) for name in new.__slots__} == {
        name: getattr(new, name) for name in new.__slots__
    }
    assert studio.takes.recording(take).read_bytes() == WAV


def test_a_take_that_is_sent_twice_is_kept_once(studio: Studio) -> None:
    ida, tomas = studio.students.add("Ida Quill"), studio.students.add("Tomas Reed")
    take, _ = studio.takes.receive(a_new_take(ida.id), WAV)
    assert studio.takes.receive(a_new_take(ida.id), WAV) == (take, False)
    assert studio.takes.receive(a_new_take(ida.id), FLAC) == (take, False)  # the first that came counts
    assert kept(studio) == [".wav"]
    other, first = studio.takes.receive(a_new_take(tomas.id), WAV)  # a key is its student's own
    assert first
    assert other.recording == take.recording


def test_a_take_that_is_sent_many_times_at_once_is_kept_once(studio: Studio) -> None:
    ida = studio.students.add("Ida Quill")
    start = threading.Barrier(8)

    def send(_n: int) -> tuple[StudioTake, bool]:
        start.wait()
        return studio.takes.receive(a_new_take(ida.id), WAV)

    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(send, range(8)))
    assert sum(first for _, first in answers) == 1
    assert {take.id for take, _ in answers} == {studio.takes.all()[0].id}
    assert len(studio.takes.all()) == 1


def test_fifty_takes_at_once_are_all_kept(studio: Studio) -> None:
    ida = studio.students.add("Ida Quill")
    with ThreadPoolExecutor(10) as pool:
        list(
            pool.map(
                lambda n: studio.takes.receive(a_new_take(ida.id, f"key-{n}"), WAV + bytes([n])), range(50)
            )
        )
    assert {take.upload_key for take in studio.takes.all()} == {f"key-{n}" for n in range(50)}
    assert len(kept(studio)) == 50


def test_a_take_of_nobody_is_refused_and_leaves_nothing(studio: Studio) -> None:
    with pytest.raises(NotFound, match="this student"):
        studio.takes.receive(a_new_take("nobody"), WAV)
    assert kept(studio) == []


def test_takes_are_listed_newest_first_without_what_was_heard(place: Place) -> None:
    studio = place.create()
    ida, tomas = studio.students.add("Ida Quill"), studio.students.add("Tomas Reed")
    for hour, student in enumerate((ida, tomas, ida, ida)):
        studio.takes.receive(a_new_take(student.id, f"key-{hour}"), WAV)
        place.clock.move(hours=1)
    (second,) = studio.takes.all(tomas.id)
    studio.queue.took_heard(second.id, '{"hits": []}', 3.0)

    def keys(found: Sequence[StudioTake]) -> str:
        return "".join(take.upload_key[-1] for take in found)

    assert keys(studio.takes.all()) == "3210"
    assert keys(studio.takes.all(ida.id)) == "320"
    assert keys(studio.takes.all(since=NOON + timedelta(hours=1))) == "321"
    assert keys(studio.takes.all(ida.id, since=NOON, limit=2)) == "32"
    assert [take.heard for take in studio.takes.all(tomas.id)] == [None]
    assert [take.heard for take in studio.takes.all(tomas.id, with_heard=True)] == ['{"hits": []}']


def test_a_take_that_comes_late_stands_where_it_was_recorded(place: Place) -> None:
    """Kept on a phone without a network for two hours, sent after a newer one: still the older."""
    studio = place.create()
    ida = studio.students.add("Ida Quill")
    for key, hour in (("newer", 2), ("older", 0), ("between", 1)):
        recorded = NOON + timedelta(hours=hour)
        studio.takes.receive(a_new_take(ida.id, f"key-{key}", recorded_at=recorded), WAV)
        place.clock.move(hours=1)
    keys = [take.upload_key.removeprefix("key-") for take in studio.takes.all(ida.id)]
    assert keys == ["newer", "between", "older"]
    assert [take.upload_key for take in studio.takes.all(limit=1)] == ["key-newer"]
    came = studio.takes.all(since=NOON + timedelta(hours=1))
    assert [take.upload_key for take in came] == ["key-between", "key-older"]  # what came in since then


def test_a_take_is_changed_by_name_and_heard_again_when_it_waits(studio: Studio) -> None:
    take, _ = studio.takes.receive(a_new_take(studio.students.add("Ida Quill").id), WAV)
    studio.queue.took_failed(take.id, "nothing sounds")
    changed = studio.takes.change(take.id, name="evening", exercise="1/8: RL", status="waiting")
    assert studio.takes.find(take.id) == changed
    assert (changed.reason, changed.tried, changed.name) == (None, 0, "evening")
    corrected = studio.takes.change(take.id, heard='{"hits": [1]}', corrected=True, status="heard")
    assert studio.takes.find(take.id) == corrected
    with pytest.raises(TypeError, match="'recording' cannot be changed"):
        studio.takes.change(take.id, recording="ab/cd.wav")
    with pytest.raises(NotFound):
        studio.takes.change("none", name="")


def test_a_deleted_take_takes_its_recording_along_unless_another_has_it(studio: Studio) -> None:
    ida = studio.students.add("Ida Quill")
    one, _ = studio.takes.receive(a_new_take(ida.id, "key-1"), WAV)
    two, _ = studio.takes.receive(a_new_take(ida.id, "key-2"), WAV)
    studio.takes.delete(one.id)
    assert studio.takes.recording(two).read_bytes() == WAV
    studio.takes.delete(two.id)
    assert kept(studio) == []
    with pytest.raises(NotFound, match="this take"):
        studio.takes.delete(two.id)
    with pytest.raises(NotFound, match="this recording"):
        studio.takes.recording(two)


def test_the_flac_takes_the_place_of_what_came_in(studio: Studio) -> None:
    take, _ = studio.takes.receive(a_new_take(studio.students.add("Ida Quill").id), WAV)
    assert studio.queue.took_heard(take.id, "{}", 1.0, flac=FLAC)
    changed = studio.takes.get(take.id)
    assert studio.takes.recording(changed).read_bytes() == FLAC
    assert (changed.original, kept(studio)) == (None, [".flac"])


def test_the_original_is_kept_where_that_is_wanted(studio: Studio) -> None:
    studio.change_facts(keep_originals=True)
    ida = studio.students.add("Ida Quill")
    take, _ = studio.takes.receive(a_new_take(ida.id), WAV)
    assert studio.queue.took_heard(take.id, "{}", 1.0, flac=FLAC)
    assert studio.takes.get(take.id).original == take.recording
    made, _ = studio.takes.receive(a_new_take(ida.id, "key-2"), FLAC + b"2", original=b"OggS")
    assert Path(made.original or "").suffix == ".ogg"
    assert sorted(kept(studio)) == [".flac", ".flac", ".ogg", ".wav"]


def test_an_original_that_nobody_wants_is_not_kept(studio: Studio) -> None:
    take, _ = studio.takes.receive(a_new_take(studio.students.add("Ida Quill").id), FLAC, original=b"OggS")
    assert (take.original, kept(studio)) == (None, [".flac"])


@pytest.mark.parametrize("keep", [False, True])
@pytest.mark.parametrize("flac", [None, FLAC])
def test_a_film_beside_a_recording_is_there_until_it_was_watched(
    studio: Studio, *, flac: bytes | None, keep: bool
) -> None:
    studio.change_facts(keep_videos=keep)
    film = b"\x1aE\xdf\xa3film"
    take, _ = studio.takes.receive(a_new_take(studio.students.add("Ida Quill").id), WAV, film=film)
    assert sorted(kept(studio)) == [".wav", ".webm"]
    assert studio.queue.took_heard(take.id, "{}", 1.0, flac=flac, is_film=True)
    sound = ".wav" if flac is None else ".flac"
    assert sorted(kept(studio)) == ([sound, ".webm"] if keep else [sound])
    assert (studio.takes.get(take.id).original is not None) == keep


def test_a_crash_before_the_row_leaves_a_file_that_the_sweep_sets_aside(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The device heard no answer and sends again; until then there is one file too many, and no more."""
    studio = place.create()
    ida = studio.students.add("Ida Quill")
    other, _ = studio.takes.receive(a_new_take(ida.id, "other"), FLAC)

    def cut(*_args: object) -> None:
        raise PowerCut

    with monkeypatch.context() as patch:
        patch.setattr(Takes, "_commit", cut)
        with pytest.raises(PowerCut):
            studio.takes.receive(a_new_take(ida.id), WAV)
    again = place.open()
    assert (again.takes.all(), sorted(kept(again))) == ([other], [".flac", ".wav"])
    assert again.data.sweep() == 1
    assert (again.takes.all(), kept(again)) == ([other], [".flac"])
    take, first = again.takes.receive(a_new_take(ida.id), WAV)
    assert first
    assert again.takes.recording(take).read_bytes() == WAV


def test_a_recording_that_went_between_storing_and_committing_is_stored_again(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another take with the same bytes is deleted at the worst instant: after ours found them there."""
    ida = studio.students.add("Ida Quill")
    other, _ = studio.takes.receive(a_new_take(ida.id, "other"), WAV)
    commit = studio.takes._commit  # noqa: SLF001 - the instant between

    def late(take: StudioTake, contents: dict[str, bytes]) -> None:
        studio.takes.delete(other.id)
        assert kept(studio) == []
        commit(take, contents)

    monkeypatch.setattr(studio.takes, "_commit", late)
    take, _ = studio.takes.receive(a_new_take(ida.id), WAV)
    assert studio.takes.recording(take).read_bytes() == WAV


def test_takes_with_the_same_bytes_may_come_and_go_at_once(studio: Studio) -> None:
    """Whatever the order, a take that is there has its recording."""
    ida = studio.students.add("Ida Quill")

    def come_and_go(n: int) -> None:
        take, _ = studio.takes.receive(a_new_take(ida.id, f"key-{n}"), WAV)
        assert studio.takes.recording(take).read_bytes() == WAV
        if n % 3:
            studio.takes.delete(take.id)

    with ThreadPoolExecutor(6) as pool:
        list(pool.map(come_and_go, range(30)))
    assert len(studio.takes.all()) == 10
    assert all(studio.takes.recording(take).read_bytes() == WAV for take in studio.takes.all())
    assert kept(studio) == [".wav"]


def test_a_student_erased_during_an_upload_leaves_nothing(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    ida = studio.students.add("Ida Quill")
    commit = studio.takes._commit  # noqa: SLF001 - the instant between

    def late(take: StudioTake, contents: dict[str, bytes]) -> None:
        studio.students.erase(ida.id)
        commit(take, contents)

    monkeypatch.setattr(studio.takes, "_commit", late)
    with pytest.raises(NotFound, match="this student"):
        studio.takes.receive(a_new_take(ida.id), WAV)
    assert (studio.takes.all(), kept(studio)) == ([], [])


def test_a_flac_that_went_between_storing_and_committing_is_stored_again(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same instant, when the FLAC comes."""
    take, _ = studio.takes.receive(a_new_take(studio.students.add("Ida Quill").id), WAV)
    store, recordings = studio.takes.store_flac, studio.data.recordings
    lost: list[str] = []

    def store_and_lose(of: StudioTake, flac: bytes) -> str:
        key = store(of, flac)
        lost.append(key)
        recordings.remove(key)
        return key

    monkeypatch.setattr(studio.takes, "store_flac", store_and_lose)
    assert studio.queue.took_heard(take.id, "{}", 1.0, flac=FLAC)
    kept_take = studio.takes.get(take.id)
    assert lost == [kept_take.recording]
    assert studio.takes.recording(kept_take).read_bytes() == FLAC
