"""Wherever practice is assigned, shown or counted, the cautions stand beside it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from pypdf import PdfReader

from evenhand.acts.takes.document import json_text
from evenhand.cli.main import run
from evenhand.media.write import write_wav
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.report.words.figures import PRACTICE_CAUTION
from evenhand.synthesis.drops import Drop, record_drops
from evenhand.synthesis.instruments import Scene
from evenhand.synthesis.player import simulate
from tests.builders import a_heard_take
from tests.unit.acts.test_fit_heights import AIMS, struck
from tests.unit.cli.test_heights import GUIDED

TEXT, TEMPO = "1/16: RLRR LRLL", "1/4=80"
PAIN = "Pain, numbness or tingling: stop, rest, and see a clinician."
HEARING = "harm hearing"
HEIGHTS = [word for name in AIMS for word in (f"--{name}", f"{name}.wav")]
ITEM = {"exercise": TEXT, "tempo": TEMPO, "repetitions": 8, "seconds": 60}

# command, its least arguments, what it must say
COMMANDS: dict[str, tuple[list[str], tuple[str, ...]]] = {
    "plan": (["--minutes", "5", "--days", "1", "--starts", "2026-03-09"], (PAIN, HEARING, "rise gradually")),
    "load": (["--plan", "week.json"], (PAIN, HEARING, "rise gradually")),
    "path": ([], (PAIN, HEARING)),
    "strokes": (["--exercise", TEXT, "--tempo", TEMPO], (PAIN, HEARING)),
    "ceiling": (["list.csv"], (PAIN, HEARING)),
    "bounce": (["drops.wav"], (PAIN, HEARING)),
    "minute": (["take.wav"], (PAIN, HEARING, "Only as fast as the hands stay loose")),
    "heights calibrate": ([*HEIGHTS, *GUIDED, "--out", "heights.json"], (PAIN, HEARING)),
    "heights say": (["half.wav", "--calibration", "heights.json", *GUIDED], (PAIN, HEARING)),
    "listen": (["take.wav", "--exercise", TEXT, "--tempo", TEMPO], (PAIN, HEARING)),
    "exercises generate": (["--length", "4"], (PAIN, HEARING, "rise gradually")),
    "exercises cover": (["book.txt", "--changes", "3"], (PAIN, HEARING, "rise gradually")),
    "exercises choose": (["book.txt", "--takes", "take.json"], (PAIN, HEARING, "rise gradually")),
    "click": (["--tempo", TEMPO, "--bars", "1", "--out", "click.wav"], (PAIN, HEARING)),
    "playalong": (
        ["--exercise", TEXT, "--tempo", TEMPO, "--repeat", "1", "--out", "along.wav"],
        (PAIN, HEARING),
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


def three_heights() -> None:
    for k, (name, cm) in enumerate(AIMS.items()):
        write_wav(Path(f"{name}.wav"), struck([cm] * 24, k).samples[:], 48_000)


def a_calibration() -> None:
    three_heights()
    assert run(["heights", "calibrate", *HEIGHTS, *GUIDED, "--out", "heights.json"]) == 0


def a_book() -> None:
    Path("book.txt").write_text(f"{TEXT}\n1/16: RRLL RRLL\n")


def a_book_and_a_take() -> None:
    a_book()
    Path("take.json").write_text(json_text(a_heard_take()))


NEEDS: dict[str, Callable[[], None]] = {
    "load": a_plan,
    "listen": a_take,
    "minute": a_take,
    "ceiling": a_list,
    "bounce": some_drops,
    "heights calibrate": three_heights,
    "heights say": a_calibration,
    "exercises cover": a_book,
    "exercises choose": a_book_and_a_take,
}


@pytest.mark.parametrize("command", COMMANDS)
def test_the_command_says_its_cautions(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    NEEDS.get(command, lambda: None)()
    arguments, cautions = COMMANDS[command]
    assert run([*command.split(), *arguments]) == 0
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
