"""A demonstration's filling: who plays is not ended by Ctrl-C, and a broken player at the end is no news."""

from __future__ import annotations

import signal
import threading
from pathlib import Path
from typing import Any

import pytest

from evenhand.studio.demo.fill import Filling, filling_of, say_filling
from tests.studios import a_studio

FILLS = "evenhand.studio.demo.fill.fill_demo"


def filling(folder: Path, ended: list[BaseException | None]) -> Filling:
    """Begin to fill a new demonstration."""
    a_studio(folder, demo=True).close()
    say_filling(folder / "studio", 0, 0)
    made = Filling(folder / "studio", lambda _done, _of: None, ended.append)
    made.start()
    return made


def test_ctrl_c_goes_to_the_server_alone_from_the_first_moment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a thread blocks, the processes that it begins block too (POSIX, fork and exec)."""
    blocked: list[bool] = []

    def fill(*_studio: object, **_how: Any) -> bool:
        blocked.append(signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, ()))
        return True

    monkeypatch.setattr(FILLS, fill)
    ended: list[BaseException | None] = []
    filling(tmp_path, ended).stop()
    assert blocked == [True]
    assert ended == [None]
    assert filling_of(tmp_path / "studio") is None


def test_what_breaks_while_it_is_stopped_is_not_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    begun, stopped = threading.Event(), threading.Event()

    def fill(*_studio: object, **_how: Any) -> bool:
        begun.set()
        assert stopped.wait(20)
        raise OSError("a player was ended")

    monkeypatch.setattr(FILLS, fill)
    ended: list[BaseException | None] = []
    made = filling(tmp_path, ended)
    assert begun.wait(20)
    ending = threading.Thread(target=made.stop)
    ending.start()
    while not made.stopping:
        pass
    stopped.set()
    ending.join()
    assert ended == []
    assert filling_of(tmp_path / "studio") == (0, 0)
