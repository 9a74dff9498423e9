"""Wherever practice is assigned, shown or counted, the cautions stand beside it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from pypdf import PdfReader

from evenhand.cli.main import run
from evenhand.craft.text import parse_exercise
from evenhand.domain.practice import PRACTICE_CAUTION
from evenhand.domain.tempo import Tempo
from evenhand.media.write import write_wav
from evenhand.sound.drops import Drop, record_drops
from evenhand.sound.player import simulate
from evenhand.sound.scene import Scene

TEXT, TEMPO = "1/16: RLRR LRLL", "1/4=80"
PAIN = "Pain, numbness or tingling: stop, rest, and see a clinician."
HEARING = "harm hearing"
ITEM = {"exercise": TEXT, "tempo": TEMPO, "repetitions": 8, "seconds": 60}

# command, its least arguments, what it must say
COMMANDS: dict[str, tuple[list[str], tuple[str, ...]]] = {
    "plan": (["--minutes", "5", "--days", "1", "--starts", "2026-03-09"], (PAIN, HEARING, "rise gradually")),
    "load": (["--plan", "week.json"], (PAIN, HEARING, "rise gradually")),
    "path": ([], (PAIN, HEARING)),
    "strokes": (["--exercise", TEXT, "--tempo", TEMPO], (PAIN, HEARING)),
    "ceiling": (["list.csv"], (PAIN, HEARING)),
    "bounce": (["drops.wav"], (PAIN,)),
    "minute": (["take.wav"], (PAIN, "Only as fast as the hands stay loose")),
    "listen": (["take.wav", "--exercise", TEXT, "--tempo", TEMPO], (PAIN, "harms hearing")),
    "click": (["--tempo", TEMPO, "--bars", "1", "--out", "click.wav"], (HEARING,)),
    "playalong": (
        ["--exercise", TEXT, "--tempo", TEMPO, "--repeat", "1", "--out", "along.wav"],
        (HEARING,),
    ),
}


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def a_plan() -> None:
    Path("week.json").write_text(json.dumps({"days": [{"items": [ITEM]}]}))


def a_take() -> None:
    take = simulate(parse_exercise(TEXT), Tempo.parse(TEMPO), 4, seed=1)
    write_wav(Path("take.wav"), take.samples, take.rate_hz)


def a_list() -> None:
    a_take()
    Path("list.csv").write_text(f"file,exercise,tempo\ntake.wav,{TEXT},{TEMPO}\n")


def some_drops() -> None:
    take = record_drops([Drop()], Scene(), seed=1)
    write_wav(Path("drops.wav"), take.samples, take.rate_hz)


NEEDS: dict[str, Callable[[], None]] = {
    "load": a_plan,
    "listen": a_take,
    "minute": a_take,
    "ceiling": a_list,
    "bounce": some_drops,
}


@pytest.mark.parametrize("command", COMMANDS)
def test_the_command_says_its_cautions(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    NEEDS.get(command, lambda: None)()
    arguments, cautions = COMMANDS[command]
    assert run([command, *arguments]) == 0
    words = " ".join(capsys.readouterr().out.split())
    assert [caution for caution in cautions if caution not in words] == []


@pytest.mark.parametrize("source", [["--exercise", TEXT], ["--plan", "week.json"]], ids=["exercise", "plan"])
def test_the_printed_sheet_bears_the_whole_caution(source: list[str]) -> None:
    a_plan()
    assert run(["sheet", *source, "--date", "2026-03-09", "--out", "sheet.pdf"]) == 0
    printed = " ".join(" ".join(page.extract_text() for page in PdfReader("sheet.pdf").pages).split())
    assert PRACTICE_CAUTION in printed.replace("\N{SOFT HYPHEN}", "")


def test_the_calendar_bears_it_on_every_day() -> None:
    arguments = ["--minutes", "5", "--days", "3", "--starts", "2026-03-09", "--ics", "week.ics"]
    assert run(["plan", *arguments]) == 0
    unfolded = Path("week.ics").read_text().replace("\n ", "").replace("\\", "")
    assert unfolded.count(PAIN) == unfolded.count("BEGIN:VEVENT") == 3


def test_the_whole_caution_defers_to_a_clinician_and_never_diagnoses() -> None:
    assert PRACTICE_CAUTION.startswith(PAIN)
    assert HEARING in PRACTICE_CAUTION
    assert not any(word in PRACTICE_CAUTION.lower() for word in ("tendin", "carpal", "you have", "injury"))
