"""Stick heights are in one unit everywhere: inches, or what ``EVENHAND_UNIT`` or ``--unit`` says."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from pypdf import PdfReader

from evenhand.cli.main import run
from evenhand.media.write import write_wav
from evenhand.synthesis.drops import Drop, record_drops
from evenhand.synthesis.instruments import Scene

HEIGHT = re.compile(r"\d (in|cm)\b(?! (all|one|the|a|control)\b)")
PLAYED = ["--exercise", "1/16: RLRR LRLL", "--tempo", "1/4=80"]


def some_drops() -> None:
    take = record_drops([Drop()], Scene(), seed=1)
    write_wav(Path("drops.wav"), take.samples, take.rate_hz)


def printed() -> str:
    return " ".join(page.extract_text() for page in PdfReader("sheet.pdf").pages)


COMMANDS: dict[str, tuple[list[str], Callable[[], None] | None, Callable[[], str] | None]] = {
    "path": ([], None, None),
    "strokes": (PLAYED, None, None),
    "bounce": (["drops.wav"], some_drops, None),
    "sheet": ([*PLAYED, "--stroke", "half", "--date", "2026-03-09", "--out", "sheet.pdf"], None, printed),
}


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("unit", ["in", "cm"])
@pytest.mark.parametrize("how", ["environment", "option", "nothing said"])
def test_heights_are_in_the_unit_that_is_set(
    command: str,
    unit: str,
    how: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    arguments, needs, reads = COMMANDS[command]
    if needs is not None:
        needs()
    if how == "environment":
        monkeypatch.setenv("EVENHAND_UNIT", unit)
    said = [*arguments, "--unit", unit] if how == "option" else arguments
    assert run([command, *said]) == 0
    shown = " ".join((capsys.readouterr().out if reads is None else reads()).split())
    units = {found[1] for found in HEIGHT.finditer(shown)}
    assert units == ({"in"} if how == "nothing said" else {unit})
