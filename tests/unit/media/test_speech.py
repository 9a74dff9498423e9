"""Words spoken by a program of the machine, here by one that is made for the test."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import numpy as np
import pytest

from evenhand.media import speech

SPEAKS = """#!{python}
import sys, wave
said = sys.stdin.read()
with wave.open(sys.argv[-1], "wb") as out:
    out.setparams((1, 2, 22050, 0, "NONE", ""))
    silence = bytes(2 * 2205)
    half = (12000).to_bytes(2, "little") * 50, (-12000).to_bytes(2, "little", signed=True) * 50
    tone = b"".join(half[k % 2] for k in range(441))
    out.writeframes(silence + tone * said.count("word") + silence)
"""


def program(folder: Path, text: str) -> None:
    file = folder / "espeak-ng"
    file.write_text(text.format(python=sys.executable), "utf-8")
    file.chmod(0o755)


@pytest.fixture
def only_here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder that holds all programs there are."""
    monkeypatch.setenv("PATH", str(tmp_path))
    return tmp_path


def test_what_is_spoken_comes_at_the_rate_without_silence_around(only_here: Path) -> None:
    """Two seconds of a square wave between silences of 0.1 s; its peak is brought to a half."""
    program(only_here, SPEAKS)
    said = speech.speak("word word", 48_000)
    assert said is not None
    assert len(said) == pytest.approx(96_000, abs=3)
    assert np.median(np.abs(said)) == pytest.approx(speech.SPOKEN_PEAK, rel=0.1)


def test_without_a_program_nothing_is_spoken(only_here: Path) -> None:
    assert not list(only_here.iterdir())
    assert speech.speak("word", 48_000) is None


@pytest.mark.parametrize(
    "text", ["#!{python}\nraise SystemExit(3)\n", "#!{python}\n", SPEAKS.replace('"word"', '"nothing"')]
)
def test_a_program_that_fails_or_says_nothing_speaks_nothing(only_here: Path, text: str) -> None:
    program(only_here, text)
    assert speech.speak("word", 48_000) is None


@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="the machine has no eSpeak NG")
def test_espeak_ng_speaks() -> None:
    said = speech.speak("Number one of four. Warm-up.", 48_000)
    assert said is not None
    assert 1.0 < len(said) / 48_000 < 6.0


def test_a_tone_keeps_its_pitch_and_size_at_another_rate() -> None:
    t = np.arange(22_050) / 22_050
    tone = np.sin(2 * np.pi * 440 * t) * np.hanning(len(t))
    made = speech.resampled(tone, 22_050, 48_000)
    expected = np.sin(2 * np.pi * 440 * np.arange(48_000) / 48_000) * np.hanning(48_000)
    assert np.max(np.abs(made - expected)) < 1e-3
