"""Progress shows only where someone watches, and only for what takes long."""

from __future__ import annotations

import sys
from io import StringIO

import pytest

from evenhand.cli import results as progress
from evenhand.cli.results import shown


class Terminal(StringIO):
    """A stderr that someone watches."""

    def isatty(self) -> bool:
        """Say that it is a terminal."""
        return True


def test_nothing_is_shown_where_nobody_watches(capsys: pytest.CaptureFixture[str]) -> None:
    with shown("hearing") as tell:
        tell(0.5)
    assert capsys.readouterr().err == ""


def test_a_short_job_shows_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with shown("hearing") as tell:
        tell(0.5)
        tell(1.0)
    assert terminal.getvalue() == ""


def test_a_long_job_shows_how_far_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setattr(progress, "PATIENCE_S", -1.0)
    with shown("hearing take.wav") as tell:
        tell(0.5)
    assert "hearing take.wav" in terminal.getvalue()
