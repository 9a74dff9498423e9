"""What to change about how a small film was taken: the one thing that is wrong with it, and nothing else."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from evenhand.acts.takes.request import TakeRequest
from evenhand.acts.takes.watch import WatchRequest, watch_take
from evenhand.measuring.seen import SeenTake
from evenhand.media.film.reader import FilmReader
from evenhand.media.open_take import open_take
from tests.films import PX_PER_CM, Shown, a_film, still, two_sticks

TAPE = "R=blue,L=green"
LOOKS_DOWN_DEG = 20.0


def watched(path: Path, tape: str = TAPE, exercise: str = "1/8: RL") -> SeenTake:
    take = TakeRequest.read(exercise, "1/8=240", "none")
    asked = WatchRequest.read(take, tape, pad_cm=30.0)
    return watch_take(path, asked, opens=open_take, films=FilmReader())


def warned(seen: SeenTake) -> dict[str, Mapping[str, float | str]]:
    return {each.kind: each.facts for each in seen.watched.warnings}


def over(behind: Shown, px_per_cm: float = PX_PER_CM) -> Callable[[float], Shown]:
    return lambda time_s: two_sticks(time_s, behind=behind, px_per_cm=px_per_cm)


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return a_film(tmp_path_factory.mktemp("films") / "film.mp4")


def test_a_good_film_is_warned_of_nothing(film: Path) -> None:
    assert warned(watched(film)) == {}


def test_little_light_is_too_dark_and_not_a_pad_that_is_missing(tmp_path: Path) -> None:
    def dark(time_s: float) -> Shown:
        return np.asarray(two_sticks(time_s) * 0.35).astype(np.uint8)

    said = warned(watched(a_film(tmp_path / "film.mp4", dark)))
    assert "too dark" in said
    assert "pad not found" not in said


def test_a_dark_wall_in_good_light_is_not_too_dark(tmp_path: Path) -> None:
    behind = still()
    behind[:, :300][behind[:, :300] == still()[0, 0]] = 30
    assert "too dark" not in warned(watched(a_film(tmp_path / "film.mp4", over(behind))))


def test_a_pad_that_is_cut_off_is_not_called_tilted(tmp_path: Path) -> None:
    behind = still((640, 320))

    def cut(time_s: float) -> Shown:
        return np.ascontiguousarray(two_sticks(time_s, behind=behind)[:, 194:])

    seen = watched(a_film(tmp_path / "film.mp4", cut))
    assert set(warned(seen)) == {"pad cut off", "no heights"}  # by one band there is no other scale


def test_a_camera_that_is_near_is_too_close_and_not_tilted(tmp_path: Path) -> None:
    """Seen 16.7 degrees from above (its sine .287), 60 px beside the middle, sloping by 4 degrees.

    Its focal length is 60 tan 16.7 / tan 4 = 257 px; at 6 px a cm it is 43 cm away.
    """
    behind = still(round_px=0.287 * 90, slope=float(np.tan(np.radians(4.0))))

    def near(time_s: float) -> Shown:
        return np.ascontiguousarray(two_sticks(time_s, behind=behind)[:, :400])

    said = warned(watched(a_film(tmp_path / "film.mp4", near)))
    assert "camera tilted" not in said
    assert said["too close"]["m"] == pytest.approx(0.43, abs=0.1)


def test_heights_seen_from_above_are_put_right(tmp_path: Path, film: Path) -> None:
    """From 20 degrees above a height of 15 cm is cos 20 as high, and 3 % larger as it comes nearer."""
    sine = float(np.sin(np.radians(LOOKS_DOWN_DEG)))
    share = float(np.cos(np.radians(LOOKS_DOWN_DEG))) * (1 + 15 * sine / 170)
    draw = over(still(round_px=90 * sine), PX_PER_CM * share)
    level, above = (watched(path) for path in (film, a_film(tmp_path / "film.mp4", draw)))
    heights: list[Any] = [[s.preparation_cm for s in each.watched.strokes] for each in (level, above)]
    np.testing.assert_allclose(heights[1], heights[0], rtol=0.03)


def test_one_tape_where_two_hands_play_is_said(film: Path) -> None:
    seen = watched(film, "R=blue")
    assert warned(seen) == {"one tape": {"hand": "R", "n": 6.0, "of": 12.0}}


def test_ten_bits_without_a_wide_range_are_no_fault(tmp_path: Path) -> None:
    path = a_film(tmp_path / "film.mp4", codec="libx265", form="yuv420p10le", fps=50.0)
    assert "wide range" not in warned(watched(path))
