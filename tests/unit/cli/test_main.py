"""Every end of a command is an exit code and, where it is an error, one line on stderr."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
import typer

import evenhand.media.open_take as opening
from evenhand import __version__
from evenhand.cli.main import COMMANDS, command_line, run
from evenhand.errors import NoSound
from evenhand.testing import FakeTakes


@pytest.fixture
def take(tmp_path: Path) -> str:
    path = tmp_path / "take.wav"
    path.write_bytes(b"opened by a fake")
    return str(path)


def opens(monkeypatch: pytest.MonkeyPatch, error: Exception) -> None:
    monkeypatch.setattr(opening, "open_take", FakeTakes({"take.wav": error}))


def one_line(text: str) -> str:
    assert text.startswith("evenhand: ")
    assert text.endswith("\n")
    assert text.count("\n") == 1
    return text


def test_help_and_version_are_no_errors(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in (["--help"], [], ["listen", "--help"]):
        assert run(arguments) == 0
        assert "Usage: " in capsys.readouterr().out
    assert run(["--version"]) == 0
    assert capsys.readouterr().out == f"evenhand {__version__}\n"


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_loads_itself_alone(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    app = command_line(name)
    assert len(app.registered_commands) + len(app.registered_groups) == 1
    assert run([name, "--help"]) == 0
    assert f"{name} [OPTIONS]" in capsys.readouterr().out


def groups(app: typer.Typer | None = None, name: str = "") -> Iterator[tuple[str, ...]]:
    """Give the command, and each of its commands that holds others."""
    app = app or command_line()
    words = tuple(name.split())
    yield words
    for group in app.registered_groups:
        assert group.typer_instance is not None
        yield from groups(group.typer_instance, f"{name} {group.name}")


@pytest.mark.parametrize("group", list(groups()), ids=lambda group: " ".join(group) or "evenhand")
def test_a_list_of_commands_says_each_in_a_whole_sentence(
    group: tuple[str, ...], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """In a terminal of 80 columns, which is what a new window has."""
    monkeypatch.setenv("COLUMNS", "80")
    assert run([*group, "--help"]) == 0
    listed = capsys.readouterr().out.partition("Commands:\n")[2].splitlines()
    assert listed
    assert [line for line in listed if not line.endswith(".") or line.endswith("...")] == []
    assert max(map(len, listed)) <= 80


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["lisen"], "No such command 'lisen'"),
        (["listen"], "Missing argument 'TAKE'"),
        (["listen", "--loud"], "--loud"),
        (["listen", "gone.wav"], "'gone.wav' does not exist"),
        (["listen", "TAKE", "--exercise", "1/8: RX", "--tempo", "1/8=70"], "exercise, column 7: found 'X'"),
        (["listen", "TAKE", "--exercise", "1/8: RL"], "an exercise without a tempo"),
        (["listen", "TAKE", "--tempo", "1/8=70"], "a tempo without an exercise"),
        (["listen", "TAKE", "--exercise", "1/8: RL", "--tempo", "70"], "tempo: got '70'"),
        (["listen", "TAKE", "--click", "loud"], "--click"),
        (["listen", "TAKE", "--midi-notes", "38,200"], "MIDI notes '38,200'; must be numbers from 0 to 127"),
        (["listen", "TAKE", "--json", "no/such/place.json"], "there is no such folder"),
        (["listen", "TAKE", "--report", "."], "it is a folder"),
        (["listen-all", "gone.csv", "--out", "x"], "'gone.csv' does not exist"),
        (["listen-all", "TAKE", "--out", "x", "--jobs", "0"], "--jobs"),
        (["listen-all", "TAKE", "--out", "x"], "row 1: got the columns opened by a fake"),
        (["simulate", "--out", "x.wav"], "nothing to play"),
        (
            ["simulate", "--out", "x.wav", "--exercise", "1/8: RL", "--tempo", "1/8=70", "--fault", "odd"],
            "fault",
        ),
        (["simulate", "--out", "x.wav", "--repetitions", "0"], "--repetitions"),
    ],
)
def test_wrong_use_ends_with_2(
    arguments: Sequence[str],
    message: str,
    take: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run([take if argument == "TAKE" else argument for argument in arguments]) == 2
    said = capsys.readouterr()
    assert message in one_line(said.err)
    assert said.out == ""


def test_what_cannot_be_heard_ends_with_3(
    take: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    opens(monkeypatch, NoSound(got="the recording is silent", do="Look at the microphone."))
    assert run(["listen", take]) == 3
    assert one_line(capsys.readouterr().err) == (
        "evenhand: the recording is silent. Look at the microphone.\n"
    )


def test_an_error_of_our_own_ends_with_1_and_says_how_to_report_it(
    take: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv("EVENHAND_DEBUG", raising=False)
    opens(monkeypatch, ZeroDivisionError("over\nnought \x1b[31m"))
    assert run(["listen", take]) == 1
    line = one_line(capsys.readouterr().err)
    assert "EVENHAND_DEBUG=1" in line
    assert "over nought ?[31m" in line
    monkeypatch.setenv("EVENHAND_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        run(["listen", take])


def test_ctrl_c_ends_with_130(
    take: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def stop(*_: Any, **__: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(opening, "open_take", stop)
    assert run(["listen", take]) == 130
    assert one_line(capsys.readouterr().err) == "evenhand: stopped.\n"


def test_an_exercise_without_a_value_is_read_and_it_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["strokes", "--exercise", "rlrr lrll", "--tempo", "1/4=60"]) == 0
    assert capsys.readouterr().err == "evenhand: the exercise was read as 1/8: RLRR LRLL\n"
    assert run(["strokes", "--exercise", "1/8: RLRR", "--tempo", "1/4=60"]) == 0
    assert capsys.readouterr().err == ""


def test_it_is_said_of_each_exercise_of_a_sheet_with_its_title_or_without(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    typed = ["--exercise", "rlrr lrll # Singles", "--exercise=1/16: rlrr", "--exercise", "1/8: RL"]
    assert run(["sheet", *typed, "--tempo", "1/4=60", "--out", str(tmp_path / "sheet.pdf")]) == 0
    assert capsys.readouterr().err == (
        "evenhand: the exercise was read as 1/8: RLRR LRLL\nevenhand: the exercise was read as 1/16: RLRR\n"
    )
