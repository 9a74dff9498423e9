"""Chapters in an mp3, read back by FFmpeg, which knows nothing of ours."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np
import pytest

from evenhand.errors import WrongOptions
from evenhand.media.chapters import Chapter, add_chapters
from evenhand.media.write import write_track

RATE_HZ = 48_000
CHAPTERS = [Chapter(0.0, 1.25, "1 Warm-up: Two each hand"), Chapter(1.25, 3.0, "2 Focus: Übung ½")]


@pytest.fixture
def track(tmp_path: Path) -> Path:
    tone = 0.1 * np.sin(np.arange(3 * RATE_HZ) * 0.05).astype(np.float32)
    write_track(tmp_path / "day.mp3", [tone[:, None]], RATE_HZ, 1)
    return tmp_path / "day.mp3"


def test_another_reader_finds_the_chapters(track: Path) -> None:
    add_chapters(track, CHAPTERS)
    with av.open(str(track)) as found:
        read = [
            tuple(float(each[side] * (each["time_base"] or 1)) for side in ("start", "end"))
            for each in found.chapters()
        ]
        titles = [each["metadata"]["title"] for each in found.chapters()]
    assert read == [(0.0, 1.25), (1.25, 3.0)]
    assert titles == [each.title for each in CHAPTERS]


def test_the_sound_stays_as_it_is(track: Path) -> None:
    before = track.read_bytes()
    add_chapters(track, CHAPTERS)
    assert track.read_bytes().endswith(before)
    assert [each.name for each in track.parent.iterdir()] == ["day.mp3"]


@pytest.mark.parametrize("n", [0, 256])
def test_none_or_too_many_are_refused_and_nothing_is_written(track: Path, n: int) -> None:
    before = track.read_bytes()
    with pytest.raises(WrongOptions, match="1 to 255"):
        add_chapters(track, CHAPTERS[:1] * n)
    assert track.read_bytes() == before
