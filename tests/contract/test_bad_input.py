"""What is not as it should be ends as one line and exit code 2 or 3, and changes no file.

Whatever is read is never written over, no two results go to one place, and nothing is left half written.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from evenhand.cli.main import run
from evenhand.media.write import write_wav
from evenhand.synthesis.drops import Drop, record_drops
from evenhand.synthesis.instruments import Scene

Out = pytest.CaptureFixture[str]
EXERCISE = "1/8: RLRR LRLL"
LONG = "1/16: " + "RLRRLRLL" * 512 + "R"  # one note more than an exercise may have
ENDLESS = "/dev/zero"

FILES = {
    "book.txt": "1/8: RLRR LRLL\r\n1/16: RLRL\r\n",
    "rests.txt": "1/8: - - - -\n",
    "letters.txt": "1/8: RLRR # \u0378\n",
    "words.csv": "these are only words\n",
    "words.mid": "these are only words\n",
    "words.musicxml": "these are only words\n",
    "words.json": "these are only words\n",
    "list.csv": f"file,exercise,tempo\ntake.wav,{EXERCISE},1/8=200\n",
    "empty.wav": "",
    "empty.txt": "",
}

MADE = [f"--exercise={EXERCISE}", "--tempo=1/4=100"]
WRONG_USE = [
    *([["exercises", "generate", f"--length={n}"] for n in ("0", "-1", "25", "9" * 30, "nan")]),
    ["exercises", "generate", "--length=8", "--json=a", "--out=a"],
    ["exercises", "generate", "--length=8", "--json=-", "--out=-"],
    ["exercises", "generate", "--length=24", "--accents=12"],
    *(
        [
            ["exercises", "cover", book, "--changes=3"]
            for book in ("rests.txt", "empty.txt", "take.wav", "dir")
        ]
    ),
    ["exercises", "cover", "book.txt", "--changes=3", "--out=book.txt"],
    ["exercises", "cover", ENDLESS, "--changes=3"],
    ["exercises", "book", "book.txt", "--json=book.txt"],
    ["exercises", "choose", "book.txt", "words.json"],
    ["exercises", "import", "words.mid"],
    ["exercises", "import", "words.musicxml"],
    ["exercises", "import", "take.wav"],
    ["exercises", "print", "book.txt", "--out=book.txt"],
    ["exercises", "print", "letters.txt", "--out=a.pdf"],
    *(
        [
            ["export", f"--exercise={text}", "--svg=a"]
            for text in ("", "Q", "1/8:", "1/8: - -", "1/0: R", LONG)
        ]
    ),
    ["export", *MADE, "--svg=a", "--midi=gone/a"],
    ["strokes", *MADE, "--restitution=nan"],
    ["strokes", *MADE, "--json=a", "--chart=a"],
    ["sheet", *MADE, "--minutes=nan", "--out=a.pdf"],
    ["sheet", *MADE, "--student=\u0378", "--out=a.pdf"],
    ["sheet", "--plan=words.json", "--out=a.pdf"],
    ["sheet", f"--plan={ENDLESS}", "--out=a.pdf"],
    ["sheet", "--book=book.txt", "--out=book.txt"],
    ["click", "--tempo=1/4=120", "--peak=nan", "--out=a.wav"],
    ["click", "--tempo=1/4=120", "--out=a.wav", "--json=a.wav"],
    ["click", "--tempo=1/4=120", "--bars=100000", "--out=a.wav"],
    ["click", "--tempo=1/4=120", "--out=-"],
    ["playalong", *MADE, "--out=a.wav", "--json=a.wav"],
    ["bounce", "take.wav", "--json=take.wav"],
    ["bounce", "take.wav", "--hands=R"],
    ["bounce", "take.wav", "--table=words.csv"],
    ["bounce", "take.wav", f"--table={ENDLESS}"],
    ["minute", "take.wav", "--picture=./take.wav"],
    ["minute", "take.wav", "--seconds=nan"],
    ["ceiling", "words.csv"],
    ["ceiling", "list.csv", "--json=list.csv"],
    ["ceiling", "list.csv", "--json=take.wav"],
    ["ceiling", ENDLESS],
    ["listen", "take.wav", "--report=take.wav"],
    ["heights", "say", "take.wav", "--calibration=words.json"],
    ["load", "--plan=words.json"],
    ["load", "--sound=nan:30"],
    *([["plan", f"--minutes={minutes}"] for minutes in ("nan", "inf", "0", "-5", "1e9")]),
    ["plan", "--days=8"],
    ["plan", "--starts=9999-12-31", "--ics=a.ics"],
    ["plan", "--at=17:00+02:00"],
    ["plan", "--book=rests.txt"],
    ["plan", "--minutes=8", "--book=letters.txt", "--json=a.json", "--ics=a.ics", "--sheet=a.pdf"],
    ["plan", "--book=book.txt", "--json=book.txt"],
    ["simulate", *MADE, "--out=-"],
    ["simulate", *MADE, "--out=a.wav", "--truth=a.wav"],
    ["simulate", *MADE, "--out=a.wav", "--click-level=inf"],
    ["simulate", *MADE, "--out=a.wav", "--repetitions=100000"],
]
UNHEARD = [
    [command, take] for command in ("bounce", "minute") for take in ("empty.wav", "words.mid", ENDLESS)
]


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Give a recording of two drops."""
    drops = record_drops([Drop(20, 0.8), Drop(20, 0.8)], Scene(noise_snr_db=45), 6)
    place = tmp_path_factory.mktemp("drops") / "take.wav"
    write_wav(place, drops.samples, drops.rate_hz)
    return place.read_bytes()


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, take: bytes) -> Path:
    """Stand in a folder with files that are, or are not, what they seem."""
    monkeypatch.chdir(tmp_path)
    for name, text in FILES.items():
        Path(name).write_bytes(text.encode())
    Path("take.wav").write_bytes(take)
    Path("dir").mkdir()
    return tmp_path


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def refused(arguments: list[str], exit_code: int, folder: Path, capsys: Out) -> None:
    before = contents(folder)
    assert run(arguments) == exit_code
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("evenhand: ")
    assert said.err.count("\n") == 1
    assert "Traceback" not in said.err
    assert contents(folder) == before


@pytest.mark.parametrize("arguments", WRONG_USE, ids=lambda arguments: " ".join(arguments)[:70])
def test_wrong_use_is_one_line_and_leaves_all_as_it_was(
    arguments: list[str], folder: Path, capsys: Out
) -> None:
    refused(arguments, 2, folder, capsys)


@pytest.mark.parametrize("arguments", UNHEARD, ids=" ".join)
def test_what_cannot_be_heard_ends_with_3(arguments: list[str], folder: Path, capsys: Out) -> None:
    refused(arguments, 3, folder, capsys)


@pytest.mark.parametrize("arguments", [["exercises"], ["heights"]], ids=" ".join)
def test_a_group_alone_shows_its_commands(arguments: list[str], capsys: Out) -> None:
    assert run(arguments) == 0
    said = capsys.readouterr()
    assert said.out.count("\n") > 5
    assert said.err == ""


def test_a_book_may_be_written_over_itself(folder: Path) -> None:
    """As docs/book.md has it."""
    assert run(["exercises", "book", "book.txt", "--out=book.txt"]) == 0
    assert (folder / "book.txt").read_text("utf-8") == "1/8: RLRR LRLL\n1/16: RLRL\n"


@pytest.mark.usefixtures("folder")
def test_a_dash_gives_a_page_and_nothing_else(capsys: Out) -> None:
    assert run(["bounce", "take.wav", "--report=-"]) == 0
    said = capsys.readouterr()
    assert said.out.startswith("<!doctype html>")
    assert said.out.rstrip().endswith("</html>")
