"""``evenhand serve``: where the studio lies, its password, what is said of reaching it."""

from __future__ import annotations

import socket
import sys
import threading
import time
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
import typer

from evenhand.cli.studio import serve as command
from evenhand.cli.studio.serve import code, named_addresses, named_proxies, warning
from evenhand.errors import WrongOptions
from evenhand.studio.demo.fill import filling_of, say_filling
from evenhand.studio.demo.people import PEOPLE
from evenhand.studio.store.layout import DATABASE
from evenhand.studio.store.studio import Studio
from evenhand.web.serving import Served, WebSettings
from tests.studios import NOON, a_studio


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> list[WebSettings]:
    """Let the command do all but serve, and keep how it would have."""
    kept: list[WebSettings] = []

    def not_served(settings: WebSettings, _served: Served, _bound: socket.socket) -> None:
        kept.append(settings)

    monkeypatch.setattr("evenhand.web.serving.serve", not_served)
    return kept


def serve(*arguments: str) -> None:
    """Run the command as the command line would."""
    app = typer.Typer()
    app.command()(command.serve)
    app([*arguments, "--port", "0"], standalone_mode=False)


def test_a_new_studio_is_made_with_the_password_of_a_script(
    run: list[WebSettings],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("EVENHAND_PASSWORD", "a long password")
    folder = tmp_path / "new" / "studio"
    serve("--data", str(folder))
    said = capsys.readouterr().out
    assert "a new one is made" in said
    assert "open  http://127.0.0.1:" in said
    assert "Ctrl-C ends it." in said
    assert "a long password" not in said
    with Studio.open(folder) as studio:
        assert studio.access.check_password("a long password")
        assert not studio.facts.demo
    assert run[0].data == folder
    assert not run[0].secure


def test_a_studio_that_is_there_is_opened_and_asks_nothing(
    run: list[WebSettings], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    a_studio(tmp_path).close()
    serve("--data", str(tmp_path / "studio"), "--workers", "2")
    assert "Studio Larkfield" in capsys.readouterr().out
    assert run[0].workers == 2


def test_a_short_password_is_refused_and_nothing_is_made(
    run: list[WebSettings], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("EVENHAND_PASSWORD", "short")
    with pytest.raises(WrongOptions, match="5 characters; must be 12 characters or more"):
        serve("--data", str(tmp_path / "new"))
    assert not (tmp_path / "new").exists()
    assert run == []


def test_without_a_terminal_it_says_how_a_script_gives_the_password(
    run: list[WebSettings], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("EVENHAND_PASSWORD", raising=False)
    with pytest.raises(WrongOptions, match="the variable EVENHAND_PASSWORD"):
        serve("--data", str(tmp_path / "new"))
    assert run == []


def test_in_a_terminal_the_password_is_asked_until_it_is_long_enough(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv("EVENHAND_PASSWORD", raising=False)
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
    typed = iter(["short", "Password2026", "long enough now"])
    monkeypatch.setattr(typer, "prompt", lambda *_words, **_how: next(typed))
    assert command.new_password() == "long enough now"
    said = capsys.readouterr().out
    assert "That has 5 characters; it must be 12 characters or more" in said
    assert "That has what is tried first" in said
    assert not list(tmp_path.iterdir())


def test_a_port_that_is_taken_is_said_before_anything_is_made(
    run: list[WebSettings], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("EVENHAND_PASSWORD", "a long password")
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        app = typer.Typer()
        app.command()(command.serve)
        with pytest.raises(WrongOptions, match="which another program"):
            app(["--data", str(tmp_path / "new"), "--port", str(port)], standalone_mode=False)
    assert not (tmp_path / "new").exists()
    assert run == []


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--self-made-certificate", "--behind-proxy"), "one of them at most"),
        (("--certificate", __file__), "--certificate without --key"),
        (("--key", __file__), "--key without --certificate"),
        (("--behind-proxy",), "--behind-proxy without --address"),
        (("--proxy", "192.0.2.3"), "--proxy without --behind-proxy"),
        (("--behind-proxy", "--address", "https://a.example", "--proxy", "a.example"), "own IP address"),
    ],
)
def test_what_does_not_go_together_is_refused(
    run: list[WebSettings], tmp_path: Path, arguments: tuple[str, ...], said: str
) -> None:
    with pytest.raises(WrongOptions, match=said):
        serve("--data", str(tmp_path / "new"), *arguments)
    assert run == []


def test_behind_a_proxy_cookies_go_by_https_only(run: list[WebSettings], tmp_path: Path) -> None:
    a_studio(tmp_path).close()
    serve("--data", str(tmp_path / "studio"), "--behind-proxy", "--address", "https://drums.example/")
    assert run[0].secure
    assert "https://drums.example" in run[0].origins
    assert "drums.example" in run[0].hosts


def test_only_the_proxy_that_was_named_is_believed() -> None:
    named = ("https://drums.example",)
    assert named_proxies(None, behind_proxy=True, named=named) == ("127.0.0.1", "::1")
    assert named_proxies(["192.0.2.3"], behind_proxy=True, named=named) == ("192.0.2.3",)
    assert named_proxies(None, behind_proxy=False, named=None) == ()


@pytest.mark.parametrize(
    "given", ["drums.example", "ftp://drums.example", "https://", "https://a@b", "https://[x", "https://a:b"]
)
def test_an_address_that_is_none_is_refused(given: str) -> None:
    with pytest.raises(WrongOptions, match="scheme and host"):
        named_addresses([given])


def test_addresses_are_written_as_a_browser_says_its_origin() -> None:
    """RFC 6454, 6.2: the usual port is left out."""
    given = ["https://Drums.example:443/", "http://192.0.2.7:8420", "https://[2001:db8::1]"]
    assert named_addresses(given) == (
        "https://drums.example",
        "http://192.0.2.7:8420",
        "https://[2001:db8::1]",
    )


def test_a_real_studio_is_never_taken_for_a_demonstration(run: list[WebSettings], tmp_path: Path) -> None:
    a_studio(tmp_path).close()
    with pytest.raises(WrongOptions, match="--demo with a real studio"):
        serve("--data", str(tmp_path / "studio"), "--demo")
    assert run == []


@pytest.fixture
def plays(monkeypatch: pytest.MonkeyPatch) -> list[datetime]:
    """Let nobody play in a demonstration, and keep from which day it was counted back."""
    kept: list[datetime] = []

    def fill(_studio: Studio, now: datetime, **how: Any) -> bool:
        kept.append(now)
        how["progress"](7, 54)
        return True

    monkeypatch.setattr("evenhand.studio.demo.fill.fill_demo", fill)
    return kept


def test_a_demonstration_is_open_before_anybody_played(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    plays: list[datetime],
) -> None:
    """It is served, with its students and their links, while it is filled beside."""
    folder, begun, seen = tmp_path / "demo", threading.Event(), []

    def not_played(_studio: Studio, _now: datetime, **how: Any) -> bool:
        how["progress"](7, 54)
        begun.set()
        while how["goes_on"]():
            time.sleep(0.01)
        return False

    def served(*_how: object) -> None:
        assert begun.wait(20)
        seen.append(filling_of(folder))

    monkeypatch.setattr("evenhand.studio.demo.fill.fill_demo", not_played)
    monkeypatch.setattr("evenhand.web.serving.serve", served)
    serve("--data", str(folder), "--demo")
    said = capsys.readouterr().out
    assert "the teacher's password: demo" in said
    assert seen == [(7, 54)]
    assert filling_of(folder) == (7, 54)  # it was stopped before the end
    assert "is filled" not in said
    with Studio.open(folder) as studio:
        assert studio.facts.demo
        assert studio.access.check_password("demo")
        student = studio.access.student_of_link(said.split("/s/")[1].split()[0])
        assert student is not None
        assert student.name in said
        assert len(studio.students.all()) == len(PEOPLE)
    assert plays == []


def test_one_that_broke_off_goes_on_from_the_day_on_which_it_was_begun(
    run: list[WebSettings], tmp_path: Path, capsys: pytest.CaptureFixture[str], plays: list[datetime]
) -> None:
    folder = tmp_path / "demo"
    with Studio.create(folder, name="D", password="demo", demo=True, now=lambda: NOON):  # noqa: S106 - it is known
        say_filling(folder, 3, 54)
    serve("--data", str(folder), "--demo")
    assert plays == [NOON]
    assert "The demonstration is filled: 7 takes" in capsys.readouterr().out
    assert filling_of(folder) is None
    serve("--data", str(folder), "--demo")  # a third time it is there already
    assert plays == [NOON]
    assert "is filled" not in capsys.readouterr().out
    assert len(run) == 2


@pytest.mark.usefixtures("plays")
def test_one_that_was_killed_while_its_tables_were_made_is_made_anew(
    run: list[WebSettings], tmp_path: Path
) -> None:
    folder = tmp_path / "demo"
    folder.mkdir(mode=0o700)
    (folder / DATABASE).write_bytes(b"")
    serve("--data", str(folder), "--demo")
    with Studio.open(folder) as studio:
        assert len(studio.students.all()) == len(PEOPLE)
    assert len(run) == 1


def test_one_that_cannot_be_filled_says_why_and_stays_open(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def broken(_studio: Studio, _now: datetime, **_how: object) -> bool:
        raise OSError("the disk is full")

    def served_until_it_broke(*_how: object) -> None:
        for thread in threading.enumerate():
            if thread.name == "filling":
                thread.join(20)

    monkeypatch.setattr("evenhand.studio.demo.fill.fill_demo", broken)
    monkeypatch.setattr("evenhand.web.serving.serve", served_until_it_broke)
    serve("--data", str(tmp_path / "demo"), "--demo")
    assert "could not be filled (the disk is full). Started again, it goes on" in capsys.readouterr().out
    assert filling_of(tmp_path / "demo") is not None


def test_a_demonstration_is_not_put_among_other_files(run: list[WebSettings], tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("mine")
    with pytest.raises(WrongOptions, match="an empty folder, or a new one"):
        serve("--data", str(tmp_path), "--demo")
    assert run == []


@pytest.mark.parametrize(
    ("platform", "given", "folder"),
    [
        ("linux", "", ".local/share/evenhand"),
        ("linux", "elsewhere", ".local/share/evenhand"),  # the base directory must be absolute
        ("darwin", "", "Library/Application Support/Evenhand"),
    ],
)
def test_the_data_folder_is_the_platforms(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, platform: str, given: str, folder: str
) -> None:
    """From the XDG Base Directory Specification 0.8 and Apple's File System Programming Guide."""
    monkeypatch.setattr(sys, "platform", platform)
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", given)
    assert command.data_folder() == tmp_path / folder


def test_the_data_folder_may_be_moved(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert command.data_folder() == tmp_path / "evenhand"


def test_on_a_network_without_https_it_says_what_that_costs() -> None:
    open_to_all = Served("0.0.0.0", 8420, ("http://192.0.2.7:8420",))  # noqa: S104 - named, not bound
    assert "without HTTPS a browser gives no microphone" in warning(open_to_all)
    assert "--self-made-certificate" in warning(open_to_all)
    alone = Served("127.0.0.1", 8420, ("http://127.0.0.1:8420",))
    assert "--host 0.0.0.0 --self-made-certificate" in warning(alone)
    proxied = Served("127.0.0.1", 8420, ("http://127.0.0.1:8420",), proxies=("127.0.0.1",))
    assert "must be HTTPS" in warning(proxied)


def test_the_code_in_the_terminal_leads_to_the_address() -> None:
    """Read back by another library (zxing-cpp) from the terminal's own blocks."""
    import numpy as np
    import zxingcpp

    lines = code("https://192.0.2.7:8420").splitlines()
    upper = [[letter in "\N{FULL BLOCK}\N{UPPER HALF BLOCK}" for letter in line] for line in lines]
    lower = [[letter in "\N{FULL BLOCK}\N{LOWER HALF BLOCK}" for letter in line] for line in lines]
    rows = [row for pair in zip(upper, lower, strict=True) for row in pair]
    light = np.repeat(np.repeat(np.array(rows, dtype=np.uint8) * 255, 6, axis=0), 6, axis=1)
    (found,) = zxingcpp.read_barcodes(np.pad(light, 24, constant_values=255))
    assert found.text == "https://192.0.2.7:8420"


def test_several_processes_that_would_share_no_counts_are_refused(
    run: list[WebSettings], tmp_path: Path
) -> None:
    """Each process would count guesses by itself, and so let as many through."""
    with pytest.raises(WrongOptions, match=r"--processes 2 with .* in its folder; must be --database"):
        serve("--data", str(tmp_path / "studio"), "--processes", "2")
    assert run == []
    assert not (tmp_path / "studio").exists()
