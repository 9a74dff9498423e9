"""Loudness against the standard's own value, and against another meter.

Published: a 997 Hz sine whose peak is 20 dB under full scale, in one channel, reads -23.01 LUFS (ITU-R
BS.1770-4: 0 dB FS in one front channel is -3.01 LKFS). By others: FFmpeg's ``ebur128`` (EBU R 128), through
PyAV, on our own clicks. Tolerance: the 0.1 LU of EBU Tech 3341; for true peaks, which both estimate by
oversampling, 0.2 dB. The weighting: the standard's own coefficients at 48 kHz, tables 1 and 2 (from memory),
and pyloudnorm's filters run by scipy, to a millionth of the loudest sample.
"""

from __future__ import annotations

from fractions import Fraction
from typing import cast

import numpy as np
import pytest

from evenhand.media.loudness import Frames, Readable, loudness, sections, weighted
from evenhand.music.click_pattern import ClickPattern
from evenhand.music.exercise import Tempo
from evenhand.synthesis.click import ClickAsked, Ear, click_track, lay_click
from evenhand.synthesis.pulse import parse_meter
from tests.media_files import Plain

EBU_LU, PEAK_DB = 0.1, 0.2


def by_ffmpeg(track: Readable) -> tuple[float, float]:
    """Measure integrated loudness and true peak with FFmpeg's filter."""
    import av

    layout = "mono" if track.channels == 1 else "stereo"
    graph = av.filter.Graph()
    made = f"sample_rate={track.rate_hz}:sample_fmt=flt:channel_layout={layout}:time_base=1/{track.rate_hz}"
    source = graph.add("abuffer", made)
    meter, sink = graph.add("ebur128", "peak=true:metadata=1"), graph.add("abuffersink")
    source.link_to(meter)
    meter.link_to(sink)
    graph.configure()
    said: dict[str, str] = {}
    for start in range(0, track.frames, 4800):
        block: Frames = track.read(start, start + 4800)
        frame = av.AudioFrame.from_ndarray(
            np.ascontiguousarray(block.reshape(1, -1)), format="flt", layout=layout
        )
        frame.sample_rate, frame.pts, frame.time_base = track.rate_hz, start, Fraction(1, track.rate_hz)
        source.push(frame)
        while True:
            try:
                said.update(cast("av.AudioFrame", sink.pull()).metadata)
            except (av.error.BlockingIOError, av.error.EOFError):
                break
    return float(said["lavfi.r128.I"]), 20 * np.log10(float(said["lavfi.r128.true_peak"]))


def test_the_filters_are_the_standards() -> None:
    shelf, high_pass = sections(48_000)
    assert shelf == pytest.approx(
        [1.53512485958697, -2.69169618940638, 1.19839281085285, 1.0, -1.69065929318241, 0.73248077421585],
        abs=1e-9,
    )
    assert high_pass == pytest.approx([1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621], abs=1e-9)


@pytest.mark.parametrize("rate_hz", [8_000, 44_100, 48_000, 192_000])
@pytest.mark.parametrize("channels", [1, 2])
def test_pyloudnorm_weighs_and_gates_the_same(rate_hz: int, channels: int, rng: np.random.Generator) -> None:
    """Noise that swells and stops, in pieces; the gates leave out what is soft."""
    import pyloudnorm

    n = 7 * rate_hz
    noise = rng.normal(0, 0.05, (n, channels)) * np.linspace(0, 1, n)[:, None] ** 4
    noise[: rate_hz // 2] = 1.0  # a step: what rings longest
    meter = pyloudnorm.Meter(rate_hz, filter_class="DeMan")
    theirs = noise
    for each in meter._filters.values():  # noqa: SLF001 - the filters have no other door
        theirs = np.stack([each.apply_filter(channel) for channel in theirs.T], axis=1)
    np.testing.assert_allclose(weighted(noise, rate_hz), theirs, atol=1e-6)
    ours = loudness(Plain(noise.astype(np.float32), rate_hz)).integrated_lufs
    assert ours == pytest.approx(meter.integrated_loudness(noise), abs=0.01)


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
def test_the_standards_sine(rate_hz: int) -> None:
    t = np.arange(5 * rate_hz) / rate_hz
    frames = (0.1 * np.sin(2 * np.pi * 997 * t)).astype(np.float32)[:, None]
    measured = loudness(Plain(frames, rate_hz))
    assert measured.integrated_lufs == pytest.approx(-23.01, abs=EBU_LU / 2)
    assert measured.true_peak_dbtp == pytest.approx(-20.0, abs=0.05)


@pytest.mark.parametrize("tempo", ["1/4=60", "1/4=97", "1/4=300"])
@pytest.mark.parametrize("ear", ["both", "left"])
def test_clicks_as_another_meter_hears_them(tempo: str, ear: Ear) -> None:
    """From blocks that hold one click or none to blocks that hold two."""
    pattern = ClickPattern(between=2)
    laid = lay_click(ClickAsked(Tempo.parse(tempo), parse_meter("4/4"), 4, pattern=pattern))
    track = click_track(laid, 48_000, ear=ear)
    lufs, peak_db = by_ffmpeg(track)
    ours = loudness(track)
    assert ours.integrated_lufs == pytest.approx(lufs, abs=EBU_LU)
    assert ours.true_peak_dbtp == pytest.approx(peak_db, abs=PEAK_DB)
