"""A film's frames come with their own times, upright, and what is none or not of its own time is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from benchmarks.filming.turned import as_stored, flag
from evenhand.errors import StretchedTime, UnreadableRecording
from evenhand.film import SeenFilm
from evenhand.media.decoder import Decoder
from evenhand.media.film.looking import connected
from evenhand.media.film.reader import FilmReader
from evenhand.watching.tapes import named_tape, sought, survey
from tests.films import BLUE, HITS_S, Shown, a_film, bar, still, two_sticks

X, Y = 300.0, 100.0


def moving(time_s: float) -> Shown:
    """Move a blue band to the right by 60 px a second, from 40 px below the picture's middle of height."""
    picture = still()
    bar(picture, 100 + 60 * time_s, Y, BLUE)
    return picture


def seen(path: Path, colour: str = "blue") -> SeenFilm:
    reader = FilmReader()
    sample = reader.sample(path)
    survey_of = survey(sample)
    tape = named_tape(survey_of, colour)
    assert tape is not None
    return reader.look(path, sought({"R": tape}, sample, survey_of))


def largest(film: SeenFilm) -> dict[int, tuple[float, float]]:
    """Give where the largest patch of each frame is."""
    out: dict[int, tuple[float, float]] = {}
    for i in np.argsort(film.blobs.mass):
        out[int(film.blobs.frame[i])] = (float(film.blobs.x[i]), float(film.blobs.y[i]))
    return out


def assert_moves_as_drawn(film: SeenFilm) -> None:
    places = largest(film)
    assert len(places) > 0.9 * len(film.times_s)
    for frame, (x, y) in places.items():
        assert x == pytest.approx(100 + 60 * (film.times_s[frame] - film.times_s[0]), abs=1.5)
        assert y == pytest.approx(Y, abs=1.0)


@pytest.mark.parametrize(
    ("name", "codec", "form"),
    [
        ("film.mp4", "libx264", "yuv420p"),
        ("film.mov", "libx265", "yuv420p10le"),  # as phones film in HDR: HEVC, 10 bits
        ("film.mkv", "libx264", "yuv444p"),
    ],
)
def test_a_patch_is_where_it_was_drawn_whatever_the_codec(
    tmp_path: Path, name: str, codec: str, form: str
) -> None:
    assert_moves_as_drawn(seen(a_film(tmp_path / name, moving, codec=codec, form=form, seconds=2.0)))


@pytest.mark.parametrize("degrees", [90, 180, 270])
def test_a_film_that_says_it_is_turned_is_seen_as_it_is_shown(tmp_path: Path, degrees: int) -> None:
    path = a_film(tmp_path / "film.mp4", lambda t: as_stored(moving(t), degrees), seconds=2.0)
    stored = as_stored(moving(0.0), degrees)
    flag(path, (stored.shape[1], stored.shape[0]), degrees)
    facts = FilmReader().sample(path).facts
    assert (facts.width_px, facts.height_px) == (480, 320)
    assert_moves_as_drawn(seen(path))


def test_frames_have_their_own_times(tmp_path: Path) -> None:
    film = seen(a_film(tmp_path / "film.mp4", fps=30.0, seconds=2.0))
    np.testing.assert_allclose(film.times_s, np.arange(60) / 30, atol=0.002)


def test_a_film_says_what_it_is(tmp_path: Path) -> None:
    facts = FilmReader().sample(a_film(tmp_path / "film.mp4", seconds=2.0)).facts
    assert (facts.format, facts.width_px, facts.height_px, facts.bits) == ("mp4/h264", 480, 320, 8)
    assert facts.fps == pytest.approx(60, abs=0.1)
    assert facts.seconds == pytest.approx(2.0, abs=0.05)


def test_frames_are_sampled_from_all_of_a_long_film(tmp_path: Path) -> None:
    path = a_film(tmp_path / "film.mp4", fps=10.0, seconds=60.0)
    times = [frame.time_s for frame in FilmReader().sample(path).frames]
    assert times == sorted(times)
    assert times[-1] > 45


def test_slow_motion_is_refused(tmp_path: Path) -> None:
    path = a_film(tmp_path / "film.mp4", fps=30.0, seconds=1.0, tags={"com.android.capture.fps": "240.0"})
    with pytest.raises(StretchedTime, match="slow motion, filmed at 240 frames a second and shown at 30"):
        FilmReader().sample(path)


def test_a_film_of_an_hour_is_refused(tmp_path: Path) -> None:
    path = a_film(tmp_path / "film.mkv", fps=1.0, seconds=3600.0, draw=lambda _: still((160, 160)), hits_s=())
    with pytest.raises(UnreadableRecording, match="a video of 60 minutes"):
        FilmReader().sample(path)


def test_sound_alone_is_no_film(tmp_path: Path) -> None:
    path = tmp_path / "take.m4a"
    import av

    with av.open(path, "w", format="mp4") as container:
        sound = container.add_stream("aac", rate=48_000, layout="mono")
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 4800), np.float32), format="fltp", layout="mono")
        frame.sample_rate = 48_000
        container.mux(sound.encode(frame))
        container.mux(sound.encode(None))
    with pytest.raises(UnreadableRecording, match="no pictures in it"):
        FilmReader().sample(path)


def test_what_is_no_recording_at_all_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "film.mp4"
    path.write_bytes(b"not a film" * 400)
    with pytest.raises(UnreadableRecording):
        FilmReader().sample(path)


def test_a_film_that_breaks_off_is_read_as_far_as_it_goes(tmp_path: Path) -> None:
    whole = a_film(tmp_path / "film.mkv", moving, seconds=3.0)
    cut = tmp_path / "cut.mkv"
    cut.write_bytes(whole.read_bytes()[: whole.stat().st_size * 2 // 3])
    film = seen(cut)
    assert 20 < len(film.times_s) < 180
    assert_moves_as_drawn(film)


def test_a_decoder_that_is_killed_on_a_film_gives_one_line(tmp_path: Path) -> None:
    path = a_film(tmp_path / "film.mp4", two_sticks, seconds=1.0, hits_s=HITS_S[:2])
    decoder = Decoder(stall_s=0.0)
    with pytest.raises(UnreadableRecording, match="decoding it did not end within"):
        FilmReader(decoder).sample(path)


def test_places_that_touch_are_one_patch_and_others_are_not() -> None:
    drawn = [
        "##...##",
        ".##..#.",
        ".......",
        ".......",
        "###....",
    ]
    rows, columns = np.nonzero(np.array([[letter == "#" for letter in line] for line in drawn]))
    label = connected(rows, columns)
    assert [len(set(label[rows == row])) for row in (0, 1, 4)] == [2, 2, 1]
    assert len(set(label)) == 3
