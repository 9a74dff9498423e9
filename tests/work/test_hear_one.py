"""One take, from its recording to what stands in the database."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile

from evenhand.errors import NoSound
from evenhand.media.write import write_wav
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import StudioTake
from evenhand.studio.work import pool as worker
from evenhand.studio.work.pool import Heartbeat, hear_one, hear_waiting_once, write_sound
from evenhand.synthesis.instruments import Scene
from evenhand.synthesis.player import simulate
from evenhand.take import SNARE_NOTES, MidiTake, Progress, SoundTake
from evenhand.testing import sound_take
from tests.places import Place
from tests.sounds import EXERCISE, TEMPO, a_recording
from tests.studios import a_new_take


def received(studio: Studio, content: bytes, key: str = "key-1", **changes: str) -> StudioTake:
    """Let a recording come in."""
    found = studio.students.all()
    student = found[0] if found else studio.students.add("Ida Quill")
    new = a_new_take(student.id, key, **{"exercise": EXERCISE, "tempo": TEMPO, **changes})
    return studio.takes.receive(new, content, original_name="evening.wav")[0]


def again(studio: Studio, take: StudioTake) -> StudioTake:
    found = studio.takes.find(take.id)
    assert found is not None
    return found


class Opens:
    """Opens no take: it raises what it was given."""

    def __init__(self, error: Exception) -> None:
        self.error = error

    def __call__(
        self,
        path: Path,  # noqa: ARG002 - the port's signature
        *,
        midi_notes: Sequence[int] = SNARE_NOTES,  # noqa: ARG002 - the same
        progress: Progress | None = None,  # noqa: ARG002 - the same
    ) -> SoundTake | MidiTake:
        """Raise it."""
        raise self.error


def test_a_take_is_heard_and_its_recording_kept_as_flac(studio: Studio, tmp_path: Path) -> None:
    """The invented player played 16 notes; the sound is the same to half a step of 16 bits."""
    wav = a_recording()
    take = received(studio, wav)
    assert hear_waiting_once(studio) == 1
    heard = again(studio, take)
    assert heard.status == "heard"
    written = json.loads(heard.heard or "")
    assert (written["name"], len(written["hits"])) == ("evening.wav", 16)
    place = studio.takes.recording(heard)
    assert place.suffix == ".flac"
    (tmp_path / "take.wav").write_bytes(wav)
    came, rate_hz = soundfile.read(tmp_path / "take.wav")
    kept, kept_rate_hz = soundfile.read(place)
    assert kept_rate_hz == rate_hz
    assert heard.seconds == pytest.approx(len(came) / rate_hz)
    np.testing.assert_allclose(kept, came if came.ndim == 1 else came.mean(axis=1), atol=1 / 32768)


def test_what_was_heard_is_what_the_command_line_hears(studio: Studio, tmp_path: Path) -> None:
    from evenhand.acts.takes.document import as_json
    from evenhand.acts.takes.hear import hear_take
    from evenhand.acts.takes.request import TakeRequest
    from evenhand.media.open_take import open_take

    (tmp_path / "evening.wav").write_bytes(a_recording())
    expected = as_json(
        hear_take(tmp_path / "evening.wav", TakeRequest.read(EXERCISE, TEMPO), opens=open_take)
    )
    take = received(studio, a_recording())
    hear_waiting_once(studio)
    assert json.loads(again(studio, take).heard or "") == expected


def test_a_take_heard_again_from_its_flac_is_heard_the_same(studio: Studio) -> None:
    """Times to 0.01 ms, levels to 0.01 dB: 16 bits are enough."""
    take = received(studio, a_recording())
    hear_waiting_once(studio)
    first = json.loads(again(studio, take).heard or "")
    studio.takes.change(take.id, status="waiting")
    hear_waiting_once(studio)
    second = json.loads(again(studio, take).heard or "")
    assert second["input"]["format"].startswith("flac")
    for one, two in zip(first["hits"], second["hits"], strict=True):
        assert two["time_s"] == pytest.approx(one["time_s"], abs=1e-5)
        assert two["level_db"] == pytest.approx(one["level_db"], abs=0.01)


def test_what_stands_in_the_way_is_said_without_the_disks_names(studio: Studio) -> None:
    """And the recording stays, as it came."""
    take = received(studio, b"not a sound " * 500)
    assert hear_waiting_once(studio) == 1
    failed = again(studio, take)
    assert failed.status == "failed"
    assert (failed.reason or "").startswith("evening.wav: ")
    assert studio.takes.recording(failed).read_bytes() == b"not a sound " * 500


@pytest.mark.parametrize(
    ("error", "reason", "rounds"),
    [
        (NoSound(got="silence", do="Record again."), "silence. Record again.", 1),
        (ZeroDivisionError("by us"), "an error of Evenhand's own (ZeroDivisionError: by us)", 3),
        (MemoryError(), "an error of Evenhand's own (MemoryError: )", 3),
    ],
)
def test_one_takes_trouble_does_not_stop_the_next(
    place: Place, studio: Studio, error: Exception, reason: str, rounds: int
) -> None:
    """What is wrong with the take is wrong for good; what may pass is tried three times."""
    takes = [received(studio, b"fLaC1", "1"), received(studio, b"fLaC2", "2")]
    for _ in range(rounds):
        assert {again(studio, take).status for take in takes} == {"waiting"}
        assert hear_waiting_once(studio, opens=Opens(error)) == 2
        place.clock.move(seconds=10)
    assert [again(studio, take).reason for take in takes] == [reason, reason]


def test_an_exercise_that_cannot_be_read_is_said(studio: Studio) -> None:
    take = received(studio, a_recording(), exercise="1/8: RLX")
    hear_waiting_once(studio)
    assert (again(studio, take).reason or "").startswith("exercise, column ")


def test_a_recording_that_is_gone_is_said(studio: Studio) -> None:
    take = received(studio, a_recording())
    studio.takes.recording(take).unlink()
    hear_waiting_once(studio)
    assert (again(studio, take).reason or "").startswith("the recording is missing on the disk.")


def test_a_rate_that_flac_cannot_hold_leaves_what_came(tmp_path: Path) -> None:
    """FLAC holds rates over 65,535 Hz only in steps of 10 Hz (RFC 9639, 9.1.2)."""
    sound = np.zeros(1000, np.float32)
    assert not write_sound(sound_take(sound, 88_201), tmp_path / "odd")
    assert not (tmp_path / "odd").exists()
    assert write_sound(sound_take(sound, 88_200), tmp_path / "even")


def test_sound_beyond_full_scale_does_not_turn_over(tmp_path: Path) -> None:
    samples = np.array([0.0, 1.5, -1.5, 0.25], np.float32)
    assert write_sound(sound_take(samples), tmp_path / "loud")
    kept, _ = soundfile.read(tmp_path / "loud")
    np.testing.assert_allclose(kept, [0.0, 1.0, -1.0, 0.25], atol=1 / 32768)


def test_a_long_hearing_says_now_and_then_that_it_lives(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(worker, "BEAT_S", 0.01)
    studio = place.create()
    take = received(studio, b"fLaC")
    studio.queue.claim("a")
    place.clock.move(seconds=50)
    with Heartbeat(studio, take.id, "a") as beating:
        beating.tell(0.5)
        for _ in range(500):
            if again(studio, take).progress == 0.5:
                break
            beating._over.wait(0.01)  # noqa: SLF001 - a pause that ends early if it must
    place.clock.move(seconds=50)
    assert again(studio, take).progress == 0.5
    assert studio.queue.claim("b") is None


def test_a_hearing_without_end_ends_its_process(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    ended: list[int] = []
    monkeypatch.setattr(worker, "BEAT_S", 0.01)
    monkeypatch.setattr("os._exit", ended.append)
    take = received(studio, b"fLaC")
    with Heartbeat(studio, take.id, "a", longest_s=0.0) as beating:
        while not ended:
            beating._over.wait(0.01)  # noqa: SLF001 - the same
    assert set(ended) == {worker.OVERDUE_EXIT}


def test_a_take_that_is_not_wanted_any_more_is_let_go(studio: Studio) -> None:
    from evenhand.media.film.reader import FilmReader
    from evenhand.media.open_take import open_take

    take = received(studio, a_recording())
    claimed = studio.queue.claim("a")
    assert claimed is not None
    studio.takes.delete(take.id)
    assert not hear_one(studio, claimed, "a", opens=open_take, films=FilmReader())
    assert (studio.takes.all(), list(studio.data.recordings.folder.rglob("*.*"))) == ([], [])


def test_a_take_begins_where_the_teacher_says(studio: Studio) -> None:
    """From its second repetition on: what comes before is extra, before the start."""
    take = received(studio, a_recording())
    hear_waiting_once(studio)
    hits = json.loads(again(studio, take).heard or "")["hits"]
    second = next(hit for hit in hits if hit["repetition"] == 2)
    at = f"{second['time_s']:.7f}"
    studio.queue.hear_again(take.id, exercise=EXERCISE, tempo=TEMPO, click="auto", begins_at=at)
    hear_waiting_once(studio)
    heard = json.loads(again(studio, take).heard or "")
    assert heard["begins_at_s"] == second["time_s"]
    assert heard["hits"][0]["time_s"] == pytest.approx(second["time_s"], abs=1e-3)
    assert {hit["reason"] for hit in heard["extra"]} == {"before the start"}
    assert len(heard["hits"]) + len(heard["extra"]) == len(hits)


def test_where_the_stand_counted_in_nothing_played_is_a_count_in(studio: Studio, tmp_path: Path) -> None:
    """The same sound as a file has its first four hits taken for a count-in."""
    text, tempo = "1/8: RLRR LRLL", "1/8=100"
    scene = Scene(noise_snr_db=45, count_in="sticks")
    played = simulate(parse_exercise(text), Tempo.parse(tempo), 3, scene=scene, seed=2)
    write_wav(tmp_path / "take.wav", played.samples, played.rate_hz)
    sound = (tmp_path / "take.wav").read_bytes()
    from_file = received(studio, sound, "file", exercise=text, tempo=tempo)
    student = studio.students.all()[0]
    new = a_new_take(student.id, "stand", exercise=text, tempo=tempo)
    new = replace(new, facts={"first_note_s": f"{played.truth.count_in_s[0]:.3f}"})
    on_stand = studio.takes.receive(new, sound)[0]
    hear_waiting_once(studio)
    hear_waiting_once(studio)
    of_file, of_stand = (json.loads(again(studio, take).heard or "") for take in (from_file, on_stand))
    assert (len(of_file["hits"]), len(of_file["extra"])) == (24, 4)
    assert (len(of_stand["hits"]), len(of_stand["extra"])) == (28, 0)
