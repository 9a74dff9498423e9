"""A film shows what its truth says: measured here on the decoded file, by other means than the renderer's."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from numpy.typing import NDArray

from benchmarks.filming import FilmCase, FilmTruth, View, film

Floats = NDArray[np.float64]
SMALL = FilmCase(
    exercise="1/4: R",
    tempo="1/4=60",
    seconds=2,
    size=(480, 270),
    fps=60,
    clutter=0,
    shutter_s=1 / 1000,
    crf=16,
    seed=3,
)


def pictures(path: Path) -> tuple[Floats, list[NDArray[np.uint8]]]:
    """Decode a film: times, and frames as shown, shape (height, width, 3)."""
    times, frames = [], []
    with av.open(str(path)) as container:
        for frame in container.decode(video=0):
            times.append(float(frame.time or 0))
            shown = np.asarray(frame.to_ndarray(format="rgb24"), np.uint8)
            frames.append(np.rot90(shown, frame.rotation // 90))
    return np.array(times), frames


def blue_at(frame: NDArray[np.uint8]) -> tuple[float, float]:
    """Return the middle of what is blue, x and y, pixels."""
    r, g, b = (frame[..., i].astype(int) for i in range(3))
    rows, columns = np.nonzero((b > r + 60) & (b > g + 40))
    return float(columns.mean()), float(rows.mean())


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, FilmTruth]:
    path = tmp_path_factory.mktemp("film") / "film.mp4"
    return path, film(replace(SMALL, bands=1), path)


def test_the_band_rises_in_the_picture_as_the_tip_does(made: tuple[Path, FilmTruth]) -> None:
    """The band's middle is 3.75 cm from the tip; it rises a little less than the tip, by the lever."""
    path, truth = made
    times, frames = pictures(path)
    y = np.array([blue_at(frame)[1] for frame in frames])
    tip = np.interp(times, *truth.tip_cm["R"])
    slope, _ = np.polyfit(tip, -y / truth.px_per_cm["R"], 1)
    assert 0.85 < slope < 1.02
    assert np.std(-y / truth.px_per_cm["R"] - slope * tip) < 0.45


def test_the_picture_is_lowest_when_the_stroke_sounds(made: tuple[Path, FilmTruth]) -> None:
    path, truth = made
    times, frames = pictures(path)
    lowest = times[int(np.argmax([blue_at(frame)[1] for frame in frames]))]
    assert min(abs(stroke.time_s - lowest) for stroke in truth.strokes) < 1.1 / SMALL.fps


def test_a_stroke_sounds_at_its_time(made: tuple[Path, FilmTruth]) -> None:
    path, truth = made
    with av.open(str(path)) as container:
        blocks = [(float(f.time or 0), f.to_ndarray().ravel()) for f in container.decode(audio=0)]
    samples = np.concatenate([block for _, block in blocks])
    loud = blocks[0][0] + np.flatnonzero(np.abs(samples) > 0.1 * np.abs(samples).max()) / 48_000
    for stroke in truth.strokes:
        assert loud[loud > stroke.time_s - 0.005][0] == pytest.approx(stroke.time_s, abs=0.003)


def test_a_sound_that_comes_late_is_late_by_the_shift(tmp_path: Path) -> None:
    path = tmp_path / "late.mp4"
    truth = film(replace(SMALL, shift_ms=200, seconds=1), path)
    times, frames = pictures(path)
    lowest = times[int(np.argmax([blue_at(frame)[1] for frame in frames]))]
    assert truth.strokes[0].time_s - 0.2 == pytest.approx(lowest, abs=1.1 / SMALL.fps)


def test_near_and_far_hand_have_their_own_scale(made: tuple[Path, FilmTruth]) -> None:
    _, truth = made
    near = 1 + (truth.px_per_cm["R"] / truth.px_per_cm["L"] - 1)
    assert near == pytest.approx((180 + 3.5) / (180 - 3.5), abs=0.005)


def test_the_pad_is_as_wide_as_it_should_be(made: tuple[Path, FilmTruth]) -> None:
    """30 cm at 480 px for 95 cm."""
    assert made[1].pad_px == pytest.approx(30 * 480 / 95, rel=0.02)


@pytest.mark.parametrize("rotation", [90, 180, 270])
def test_a_rotated_film_is_shown_upright(tmp_path: Path, rotation: int) -> None:
    path = tmp_path / "turned.mp4"
    case = replace(SMALL, seconds=1, size=(240, 426), fps=15, noise=0)
    film(replace(case, rotation=rotation), path)  # type: ignore[arg-type]
    film(case, tmp_path / "straight.mp4")
    turned, straight = pictures(path)[1], pictures(tmp_path / "straight.mp4")[1]
    assert turned[0].shape == (426, 240, 3)
    assert np.abs(turned[5].astype(int) - straight[5]).mean() < 3


def test_frames_come_unevenly_and_some_are_lost(tmp_path: Path) -> None:
    path = tmp_path / "uneven.mp4"
    truth = film(replace(SMALL, seconds=1, size=(160, 90), jitter=0.4, drop_share=0.1), path)
    times, _ = pictures(path)
    assert times == pytest.approx(truth.frames_s, abs=1e-3)
    assert np.diff(times).std() > 0.001


def test_a_slowed_film_says_times_of_its_own(tmp_path: Path) -> None:
    truth = film(replace(SMALL, seconds=1, size=(160, 90), slowed=4, sound=False), tmp_path / "slow.mp4")
    times, _ = pictures(tmp_path / "slow.mp4")
    assert times == pytest.approx(truth.frames_s, abs=1e-3)
    with av.open(str(tmp_path / "slow.mp4")) as container:
        assert not container.streams.audio


@pytest.mark.parametrize("view", [View(side="L"), View(roll_deg=12), View(yaw_deg=25), View(field_cm=40)])
def test_every_view_can_be_drawn(tmp_path: Path, view: View) -> None:
    """Sticks and hands that lie partly outside of the picture, too."""
    film(replace(SMALL, seconds=1, size=(160, 90), fps=15, view=view, shake_px=2), tmp_path / "view.mp4")
    assert len(pictures(tmp_path / "view.mp4")[1]) > 20


def test_ten_bit_hevc_can_be_written(tmp_path: Path) -> None:
    path = tmp_path / "deep.mp4"
    film(replace(SMALL, seconds=1, size=(160, 90), fps=15, codec="libx265", deep=True), path)
    with av.open(str(path)) as container:
        assert container.streams.video[0].codec_context.name == "hevc"
        assert next(container.decode(video=0)).format.name == "yuv420p10le"


@pytest.mark.parametrize(
    "harder", [{"passer": True}, {"exposure_drift": 0.3}, {"warmth": 1.0, "light": 0.3}, {"readout_s": 0.02}]
)
def test_what_makes_a_film_harder_is_seen_in_it(tmp_path: Path, harder: dict[str, Any]) -> None:
    """Each changes the pictures more than the codec does, which is the same for both."""
    case = replace(SMALL, seconds=1, size=(160, 90), fps=15, noise=0, shutter_s=1 / 60)
    film(case, tmp_path / "plain.mp4")
    film(replace(case, **harder), tmp_path / "harder.mp4")
    plain, other = (np.array(pictures(tmp_path / f"{name}.mp4")[1], int) for name in ("plain", "harder"))
    assert (np.abs(plain - other).max(axis=(1, 2, 3)) > 40).any()


def test_a_film_that_is_cut_off_still_has_its_start(tmp_path: Path) -> None:
    whole, cut = tmp_path / "whole.mp4", tmp_path / "cut.mp4"
    case = replace(SMALL, seconds=1, size=(160, 90), fps=15)
    film(case, whole)
    film(replace(case, kept=0.6), cut)
    assert cut.stat().st_size < 0.7 * whole.stat().st_size
    with av.open(str(cut)) as container:
        assert next(container.decode(video=0)).width == 160


def test_a_film_can_be_without_a_pad(tmp_path: Path) -> None:
    """Where the dark pad was, the wall is seen."""
    case = replace(SMALL, seconds=1, size=(320, 180), fps=15)
    film(case, tmp_path / "with.mp4")
    film(replace(case, pad="none"), tmp_path / "without.mp4")
    there, gone = (pictures(tmp_path / f"{name}.mp4")[1][0].astype(int) for name in ("with", "without"))
    assert (gone.sum(2) - there.sum(2) > 150).mean() > 0.02
