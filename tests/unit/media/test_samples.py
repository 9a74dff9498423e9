"""A folder of drum samples becomes layers, soft to loud."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from evenhand.errors import BadSamples
from evenhand.media.write import load_layers, write_flac, write_wav
from tests.media_files import blows

BLOW = blows(44_100, 0.2, [0.0])


def test_layers_come_soft_to_loud_whatever_their_names(tmp_path: Path) -> None:
    for name, gain in (("a", 0.5), ("b", 1.0), ("c", 0.125)):
        write_wav(tmp_path / f"{name}.wav", gain * BLOW, 44_100)
    levels = [layer.level_db for layer in load_layers(tmp_path)]
    assert np.diff(levels) == pytest.approx([12.04, 6.02], abs=0.1)  # 20 log10 of 4 and of 2


def test_each_layer_keeps_its_rate_and_its_louder_channel(tmp_path: Path) -> None:
    write_flac(tmp_path / "a.flac", np.stack([0.1 * BLOW, BLOW], axis=1), 44_100)
    (layer,) = load_layers(tmp_path)
    assert layer.rate_hz == 44_100
    np.testing.assert_allclose(layer.samples, BLOW, atol=1 / 32768)


def test_names_can_be_picked_whatever_the_case(tmp_path: Path) -> None:
    for name in ("Snare-1.wav", "snare-2.WAV", "Kick.wav"):
        write_wav(tmp_path / name, BLOW, 44_100)
    assert len(load_layers(tmp_path, "*SNARE*")) == 2
    with pytest.raises(BadSamples, match="no sound files of that name"):
        load_layers(tmp_path, "tom*")


def test_what_cannot_be_read_or_is_silent_is_left_out(tmp_path: Path) -> None:
    write_wav(tmp_path / "good.wav", BLOW, 44_100)
    write_wav(tmp_path / "silent.wav", 0 * BLOW, 44_100)
    (tmp_path / "bad.wav").write_bytes(b"bad")
    (tmp_path / "notes.txt").write_text("not a sound")
    assert len(load_layers(tmp_path)) == 1


def test_a_folder_without_samples_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadSamples, match="got no sound files; must be a folder"):
        load_layers(tmp_path)
    (tmp_path / "bad.wav").write_bytes(b"bad")
    with pytest.raises(BadSamples, match="1 sound files, none of which can be read"):
        load_layers(tmp_path)
    with pytest.raises(BadSamples, match="got no folder"):
        load_layers(tmp_path / "none")
