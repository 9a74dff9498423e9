"""Frames around a stroke with the tip's way, and the whole film at half speed."""

from __future__ import annotations

import re
from pathlib import Path

import av
import numpy as np
import pytest

from evenhand.acts.takes.request import TakeRequest
from evenhand.acts.takes.strip import INKS, strip_of, write_marked
from evenhand.acts.takes.watch import WatchRequest, watch_take
from evenhand.errors import WrongOptions
from evenhand.film import Cut, Picture
from evenhand.measuring.seen import SeenTake
from evenhand.media.film.reader import FilmReader
from evenhand.media.open_take import open_take
from tests.films import PAD_TOP, PX_PER_CM, a_film

SECONDS, FPS = 4.0, 60


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return a_film(tmp_path_factory.mktemp("films") / "film.mp4", seconds=SECONDS)


@pytest.fixture(scope="module")
def seen(film: Path) -> SeenTake:
    take = TakeRequest.read("1/8: RL", "1/8=240", "none")
    asked = WatchRequest.read(take, "R=blue,L=green", pad_cm=30.0)
    return watch_take(film, asked, opens=open_take, films=FilmReader())


def test_the_tip_s_places_are_where_the_tape_was_drawn(seen: SeenTake) -> None:
    places = seen.watched.sticks["R"].tip_px
    assert places is not None
    assert np.nanmedian(places[0]) == pytest.approx(255, abs=1.5)
    assert np.nanmin(places[1]) == pytest.approx(PAD_TOP + 6 - PX_PER_CM * 20, abs=3)


def test_a_strip_has_twelve_frames_about_the_hit_with_its_way(film: Path, seen: SeenTake) -> None:
    drawn = strip_of(film, seen, 3, shows=FilmReader())
    assert drawn.count("data:image/jpeg;base64,/9j/") == 12
    after_ms = [int(found.replace("−", "-")) for found in re.findall(r">([+−]\d+) ms, ", drawn)]
    assert after_ms == sorted(after_ms)
    assert after_ms[0] < -150 < 200 < after_ms[-1]
    assert "<path" in drawn
    assert "Stroke 3 of 12" in drawn


@pytest.mark.parametrize("number", [0, 13])
def test_a_stroke_that_is_not_there_is_one_clear_line(film: Path, seen: SeenTake, number: int) -> None:
    with pytest.raises(WrongOptions, match="1 to 12: so many were seen"):
        strip_of(film, seen, number, shows=FilmReader())


def test_a_cut_is_the_part_of_the_frames_that_was_asked_for(film: Path) -> None:
    found: list[tuple[float, Picture]] = []
    cut = Cut((0.5, 1.0), 100, (170, 200, 370, 300))
    FilmReader().show(film, cut, lambda time_s, picture: found.append((time_s, picture)))
    assert [time_s for time_s, _ in found] == pytest.approx([0.5, 1.0], abs=1e-3)
    assert found[0][1].shape == (50, 100, 3)
    assert int(found[0][1][25, 40].max()) < 90  # the pad


def test_the_marked_film_takes_twice_as_long_and_shows_the_ways(
    film: Path, seen: SeenTake, tmp_path: Path
) -> None:
    write_marked(film, seen, tmp_path / "marked.webm", shows=FilmReader())
    with av.open(str(tmp_path / "marked.webm")) as container:
        frames = [(frame.time, frame) for frame in container.decode(video=0)]
    assert len(frames) == SECONDS * FPS
    assert frames[-1][0] == pytest.approx(2 * (SECONDS - 1 / FPS), abs=0.01)
    yellow = np.abs(frames[120][1].to_ndarray(format="rgb24").astype(int) - INKS["L"]).max(axis=2) < 60
    assert 10 < np.count_nonzero(yellow) < 2000
    assert [path.name for path in tmp_path.iterdir()] == ["marked.webm"]
