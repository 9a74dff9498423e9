"""Imports go one way, and what is heavy comes late."""

from __future__ import annotations

import subprocess
import sys
from importlib.metadata import entry_points

import pytest

from tests.architecture.house import ROOT

HEAVY = ("numpy", "av", "verovio", "rich", "mido", "soundfile", "scipy")


def test_the_import_contracts_hold() -> None:
    from importlinter.cli import lint_imports

    assert lint_imports(config_filename=str(ROOT / "pyproject.toml"), no_cache=True) == 0


@pytest.mark.parametrize("command", ["--help", "listen --help", "listen-all --help", "simulate --help"])
def test_help_waits_for_nothing_heavy(command: str) -> None:
    """So that it comes at once: below 0.3 s of one core's time."""
    script = (
        "import sys, time; from evenhand.cli.main import run; "
        f"code = run({command.split()!r}); heavy = [m for m in {HEAVY!r} if m in sys.modules]; "
        "print(heavy, file=sys.stderr); sys.exit(code)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr.strip()) == (0, "[]")
    assert "Usage" in done.stdout


def test_the_command_is_installed() -> None:
    (command,) = entry_points(group="console_scripts", name="evenhand")
    assert command.value == "evenhand.cli.main:main"


def test_scipy_is_not_on_the_way_of_a_take() -> None:
    script = (
        "import sys; import evenhand.acts.takes.hear, evenhand.hearing.listen, evenhand.measuring; "
        "sys.exit('scipy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", script], check=False).returncode == 0


def test_a_server_holds_signals_back_before_arrays_start_threads() -> None:
    """A thread that is there before takes a signal that the main thread holds back."""
    script = (
        "import sys; import evenhand.cli.studio.serve, evenhand.studio.work.pool, evenhand.web.serving; "
        "sys.exit('numpy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", script], check=False).returncode == 0
