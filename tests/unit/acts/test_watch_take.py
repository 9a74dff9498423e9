"""A film is heard and watched as one take: hands, heights, what is asked for, and what cannot be told."""

from __future__ import annotations

import json
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from evenhand.acts.takes.request import TakeRequest
from evenhand.acts.takes.watch import WatchRequest, seen_as_json, seen_json_text, tapes_of, watch_take
from evenhand.errors import NothingSeen, UnreadableRecording, WrongOptions
from evenhand.measuring.seen import SeenTake
from evenhand.media.film.reader import FilmReader
from evenhand.media.open_take import open_take
from evenhand.take import Progress, SoundTake
from tests.films import BLUE, GREEN, HITS_S, PX_PER_CM, a_film, bar, bounces, still, two_sticks

SCHEMA: dict[str, Any] = json.loads(files("evenhand").joinpath("schema/watch-1.json").read_text("utf-8"))
TAPE = "R=blue,L=green"
SINGLES = TakeRequest.read("1/8: RL", "1/8=240", "none")


def watched(path: Path, take: TakeRequest = SINGLES, tape: str = TAPE, **more: Any) -> SeenTake:
    asked = WatchRequest.read(take, tape, **{"pad_cm": 30.0, **more})
    return watch_take(path, asked, opens=open_take, films=FilmReader())


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return a_film(tmp_path_factory.mktemp("films") / "film.mp4")


@pytest.fixture(scope="module")
def seen(film: Path) -> SeenTake:
    return watched(film)


def test_each_hit_has_its_hand_and_its_height(seen: SeenTake) -> None:
    strokes = seen.watched.strokes
    assert len(strokes) == len(HITS_S)
    assert [stroke.hand for stroke in strokes] == ["R", "L"] * 6
    np.testing.assert_allclose([stroke.time_s for stroke in strokes], HITS_S, atol=0.01)
    heights = [stroke.preparation_cm or 0.0 for stroke in strokes]
    np.testing.assert_allclose(
        heights, 20.0 * 1.11, atol=1.2
    )  # a band is taken for a tip 3.75 cm ahead of it
    assert {stroke.stroke for stroke in strokes} == {"half"}


def test_the_scale_is_the_pad_s_and_the_sound_is_in_time(seen: SeenTake) -> None:
    for stick in seen.watched.sticks.values():
        assert stick.px_per_cm == pytest.approx(PX_PER_CM, rel=0.03)
    assert seen.watched.shift_ms == pytest.approx(0.0, abs=8.0)


def test_what_is_written_keeps_to_the_schema(seen: SeenTake) -> None:
    Draft202012Validator.check_schema(SCHEMA)
    document = json.loads(seen_json_text(seen))
    Draft202012Validator(SCHEMA).validate(document)
    assert set(document) == set(SCHEMA["properties"]) == set(SCHEMA["required"])
    assert {"strokes", "hands", "setup", "audio_video_shift_ms", "scale_px_per_cm"} <= set(document)
    assert document["heard"]["schema"] == "urn:evenhand:listen-2"


def test_figures_per_hand_carry_a_range_and_a_count(seen: SeenTake) -> None:
    for own in seen.hands.values():
        assert own.height_mean_cm.n == 6
        assert own.height_mean_cm.ci95 is not None
        assert own.over_asked_cm.n == 0


def test_sound_that_comes_late_by_300_ms_is_put_right(tmp_path: Path) -> None:
    late = [time_s + 0.3 for time_s in HITS_S]
    late_seen = watched(a_film(tmp_path / "film.mp4", hits_s=late))
    assert late_seen.watched.shift_ms == pytest.approx(300.0, abs=8.0)
    assert [stroke.hand for stroke in late_seen.watched.strokes] == ["R", "L"] * 6


def test_another_sticking_than_written_is_said(film: Path) -> None:
    other = watched(film, TakeRequest.read("1/8: RRLL", "1/8=240", "none"))
    (finding,) = [each for each in other.heard.findings if each.kind == "other_sticking"]
    assert finding.remark is not None
    assert finding.remark.facts["played"] == "1 RLRL, 2 RLRL, 3 RLRL"
    assert [hit.hand for hit in other.heard.heard.hits] == ["R", "L"] * 6
    document = seen_as_json(other)
    assert [stroke["written_hand"] for stroke in document["strokes"]] == ["R", "R", "L", "L"] * 3


def test_colours_that_were_not_named_go_to_the_hands_that_are_written(film: Path, seen: SeenTake) -> None:
    for text, hands in (("1/8: RL", ["R", "L"]), ("1/8: LR", ["L", "R"])):
        found = watched(film, TakeRequest.read(text, "1/8=240", "none"), "auto")
        assert [stroke.hand for stroke in found.watched.strokes] == hands * 6
    assert seen.watched.tapes == {"R": "blue", "L": "green"}


def test_without_an_exercise_hands_are_seen_all_the_same(film: Path) -> None:
    blind = watched(film, TakeRequest(click="none"))
    assert [stroke.hand for stroke in blind.watched.strokes] == ["R", "L"] * 6
    Draft202012Validator(SCHEMA).validate(json.loads(json.dumps(seen_as_json(blind))))


def test_what_was_asked_is_held_against_what_was_seen(film: Path) -> None:
    low = watched(film, stroke="tap")
    kinds = [each.kind for each in low.heard.findings]
    assert kinds.count("stroke_heights") == 2
    assert low.hands["R"].over_asked_cm.value == pytest.approx(22.2 - 10.2, abs=1.2)


def one_stick(time_s: float) -> Any:
    picture = still()
    bar(picture, 255, 226 - PX_PER_CM * bounces(np.array([time_s]), HITS_S, 15.0)[0], BLUE)
    return picture


def test_one_tape_that_is_named_is_watched_alone_and_the_other_is_said_to_be_missing(tmp_path: Path) -> None:
    alone = watched(a_film(tmp_path / "film.mp4", one_stick))
    assert set(alone.hands) == {"R"}
    assert ("tape not found", {"hand": "L", "colour": "green"}) in [
        (each.kind, dict(each.facts)) for each in alone.watched.warnings
    ]


def test_a_hand_that_is_hidden_most_of_the_time_has_no_heights(tmp_path: Path) -> None:
    def hidden(time_s: float) -> Any:
        return two_sticks(time_s, (BLUE, GREEN if time_s * 2.5 % 1 < 0.35 else ()))

    seen = watched(a_film(tmp_path / "film.mp4", hidden))
    left = [stroke for stroke in seen.watched.strokes if stroke.hand != "R"]
    assert all(stroke.preparation_cm is None for stroke in left)
    assert "tape often hidden" in [each.kind for each in seen.watched.warnings]
    assert all(stroke.preparation_cm for stroke in seen.watched.strokes if stroke.hand == "R")


def test_one_tape_that_nobody_named_is_asked_about(tmp_path: Path) -> None:
    path = a_film(tmp_path / "film.mp4", one_stick)
    with pytest.raises(NothingSeen, match="only one colour of tape moves in it, blue"):
        watched(path, tape="auto")


@pytest.mark.parametrize("tape", [TAPE, "auto"])
def test_no_tape_is_one_clear_line(tmp_path: Path, tape: str) -> None:
    path = a_film(tmp_path / "film.mp4", lambda t: two_sticks(t, ((90, 90, 90), (220, 220, 220))))
    with pytest.raises(NothingSeen, match="tape moves in it"):
        watched(path, tape=tape)


def test_no_sound_is_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(UnreadableRecording, match="a video without sound"):
        watched(a_film(tmp_path / "film.mp4", hits_s=()))


def test_fifteen_frames_a_second_give_heights_and_no_rises(tmp_path: Path) -> None:
    slow = watched(a_film(tmp_path / "film.mp4", fps=15.0))
    assert all(stroke.rise is None for stroke in slow.watched.strokes)
    assert "few frames a second" in [each.kind for each in slow.watched.warnings]


def test_without_a_pad_s_width_one_band_says_hands_and_no_heights(film: Path) -> None:
    unknown = watched(film, pad_cm=None)
    assert [stroke.hand for stroke in unknown.watched.strokes] == ["R", "L"] * 6
    assert all(stroke.preparation_cm is None for stroke in unknown.watched.strokes)
    assert "no heights" in [each.kind for each in unknown.watched.warnings]
    Draft202012Validator(SCHEMA).validate(json.loads(seen_json_text(unknown)))


def test_sound_of_another_take_gives_no_heights(film: Path) -> None:
    rng = np.random.default_rng(3)

    def other(path: Path, *, midi_notes: object = (), progress: Progress | None = None) -> SoundTake:
        assert midi_notes is not None
        assert progress is None
        take = open_take(path)
        assert isinstance(take, SoundTake)
        samples = np.array(take.samples[0 : len(take.samples)])
        cuts = np.sort(rng.choice(np.arange(1, 60), 25, replace=False)) * 3000
        return replace(take, samples=np.concatenate([part[::-1] for part in np.split(samples, cuts)]))

    asked = WatchRequest.read(TakeRequest(click="none"), TAPE, pad_cm=30.0)
    unrelated = watch_take(film, asked, opens=other, films=FilmReader())
    assert unrelated.watched.shift_ms is None or unrelated.watched.shift_ms == pytest.approx(0, abs=600)


@pytest.mark.parametrize(
    ("tape", "said"),
    [
        ("R=blue,L=blue", "blue for both hands; must be another colour on each stick"),
        ("R=mauve", "the tape 'R=mauve'; must be auto, or a colour for each hand"),
        ("blue,green", "the tape 'blue'"),
        ("R=blue,R=green", "the tape 'R=green'"),
        ("", "the tape ''"),
    ],
)
def test_tapes_that_do_not_go_together_are_refused(tape: str, said: str) -> None:
    with pytest.raises(WrongOptions, match=said.replace("(", r"\(")):
        tapes_of(tape)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"pad_cm": 3.0}, "3 cm for the pad; must be 10 to 60 cm"),
        ({"stick_cm": 400.0}, "400 cm for the stick"),
        ({"stroke": "huge"}, "the stroke 'huge'; must be tap, half or full"),
    ],
)
def test_sizes_and_strokes_that_cannot_be_are_refused(more: dict[str, Any], said: str) -> None:
    with pytest.raises(WrongOptions, match=said):
        WatchRequest.read(SINGLES, TAPE, **more)


def test_without_an_exercise_the_colours_must_be_named() -> None:
    with pytest.raises(WrongOptions, match="without an exercise nothing tells them"):
        WatchRequest.read(TakeRequest(click="none"), "auto")
