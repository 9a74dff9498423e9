"""Ctrl-C ends a studio in order at any moment, and nobody is shown a traceback."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from evenhand.studio.work.children import HELD, held, let_through

pytestmark = pytest.mark.slow  # a server starts


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_a_studio_that_has_hardly_begun_ends_in_order(tmp_path: Path, how: signal.Signals) -> None:
    """As a terminal does it: Ctrl-C goes to every process of the group, while workers are being started."""
    served = subprocess.Popen(
        [sys.executable, "-m", "evenhand", "serve", "--data", str(tmp_path / "studio"), "--port", "0"],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**os.environ, "EVENHAND_PASSWORD": "many words of an invented studio"},
        start_new_session=True,
    )
    assert served.stdout is not None
    said = ""
    while "Ctrl-C ends it." not in said:
        line = served.stdout.readline()
        assert line, f"the server ended by itself:\n{said}"
        said += line
    if how == signal.SIGINT:
        os.killpg(served.pid, how)
    else:
        served.send_signal(how)
    said += served.communicate(timeout=60)[0]
    assert "Traceback" not in said
    assert "The studio is closed." in said
    assert served.returncode == 0


def test_what_is_held_back_is_taken_when_it_is_let_through() -> None:
    with held():
        signal.raise_signal(signal.SIGINT)
        assert signal.SIGINT in signal.sigpending()
        with pytest.raises(KeyboardInterrupt):
            let_through()
    assert not HELD & signal.pthread_sigmask(signal.SIG_BLOCK, set())
