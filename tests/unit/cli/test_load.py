"""``evenhand load`` on the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evenhand.acts.takes.document import as_json
from evenhand.cli.main import run
from evenhand.cli.tables.weeks import DAY, length
from tests.builders import a_heard_take

Out = pytest.CaptureFixture[str]
TEXT = "1/8: RLRR LRLL"


def week(repetitions: int, starts: str) -> str:
    item = {"exercise": TEXT, "tempo": "1/8=70", "repetitions": repetitions, "seconds": 60}
    return json.dumps({"student": "Ines Varga", "starts": starts, "days": [{"items": [item]}]})


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep two plans, and the figures of one take that count for three."""
    monkeypatch.chdir(tmp_path)
    Path("one.json").write_text(week(10, "2026-03-09"))
    Path("two.json").write_text(week(20, "2026-03-16"))
    ines = Path("ines")
    ines.mkdir()
    (ines / "take.json").write_text(json.dumps(as_json(a_heard_take())))
    days = ("2026-03-12", "2026-03-16", "2026-03-17")
    rows = [f"{day},take.json,{TEXT},1/8=140" for day in days]
    (ines / "takes.csv").write_text("\n".join(["date,file,exercise,tempo", *rows]))
    return tmp_path


def said(capsys: Out) -> str:
    return " ".join(capsys.readouterr().out.split())


def test_json_alone_goes_to_stdout(capsys: Out) -> None:
    assert run(["load", "--plan", "one.json", "--sound", "94:30", "--json", "-"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["assigned"]["weeks"][0]["hands"]["R"] == {"strokes": 40, "minutes": 1.0}
    assert found["sound"]["niosh"]["dose_percent"] == 50.0
    assert (found["recorded"], found["student"]) == (None, "Ines Varga")


def test_plans_say_that_they_are_what_was_assigned(capsys: Out) -> None:
    assert run(["load", "--plan", "one.json", "--plan", "two.json"]) == 0
    words = said(capsys)
    assert "What was assigned, whether or not it was played" in words
    assert "2026-W12 over 2026-W11: both hands strokes +100 %." in words
    assert "a convention, no limit and no diagnosis" in words
    assert "No weekly limit that rests on evidence is known." in words


def test_a_history_says_that_only_recorded_playing_counts(capsys: Out) -> None:
    """The take has 126 hits, each with its hand; it was played once in one week, twice in the next."""
    assert run(["load", "--history", "ines", "--json", "ines.json"]) == 0
    words = said(capsys)
    assert "Only recorded playing counts" in words
    assert "The record begins on a Thursday: its first week may be a part of one." in words
    one, two = json.loads(Path("ines.json").read_text())["recorded"]["weeks"]
    assert (one["days"], two["days"]) == (1, 2)
    assert sum(hand["strokes"] for hand in one["hands"].values()) == 126
    assert two["hands"]["R"]["strokes"] == 2 * one["hands"]["R"]["strokes"]


def test_sound_defers_to_a_meter_and_to_professionals(capsys: Out) -> None:
    assert run(["load", "--sound", "94:30", "--sound", "88:45"]) == 0
    words = said(capsys)
    assert "69 % of NIOSH's day" in words
    assert "must come from a sound level meter" in words
    assert "neither a phone nor this tool measures dBA" in words
    assert "Wear ear protection" in words
    assert "see a clinician" in words


def test_a_passed_limit_and_the_ceiling_are_said_plainly(capsys: Out) -> None:
    assert run(["load", "--sound", "100:30"]) == 0
    assert "The day's limit is passed" in said(capsys)
    assert run(["load", "--sound", "118:1"]) == 0
    assert "Over 115 dBA NIOSH allows no time at all." in said(capsys)


def test_the_picture_is_written(capsys: Out) -> None:
    assert run(["load", "--history", "ines", "--plan", "one.json", "--picture", "load.svg"]) == 0
    assert "The picture is in load.svg" in said(capsys)
    assert Path("load.svg").read_text().startswith("<svg")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([], "got nothing to count; must be --history, --plan or --sound"),
        (["--sound", "94"], "a level in dBA and minutes, such as 94:30"),
        (["--sound", "94:30", "--picture", "a.svg"], "--picture without weeks to draw"),
        (["--plan", "ines/takes.csv"], "no JSON"),
        (["--plan", "missing.json"], "does not exist"),
        (["--history", "nowhere"], "does not exist"),
        (["--history", "."], "a folder with the table takes.csv in it"),
        (["--plan", "one.json", "--json", "nowhere/a.json"], "there is no such folder"),
    ],
)
def test_bad_input_is_one_line_and_exit_code_2(arguments: list[str], message: str, capsys: Out) -> None:
    assert run(["load", *arguments]) == 2
    heard = capsys.readouterr()
    assert message in heard.err
    assert (heard.out, heard.err.count("\n")) == ("", 1)


def test_nothing_is_written_where_something_is_wrong() -> None:
    assert run(["load", "--plan", "one.json", "--sound", "94", "--picture", "a.svg", "--json", "a.json"]) == 2
    assert not list(Path().glob("a.*"))


def test_the_same_input_gives_the_same_bytes() -> None:
    for name in ("a", "b"):
        assert run(["load", "--plan", "one.json", "--json", f"{name}.json", "--picture", f"{name}.svg"]) == 0
    for kind in ("json", "svg"):
        assert Path(f"a.{kind}").read_bytes() == Path(f"b.{kind}").read_bytes()


def test_lengths_of_time_are_read_at_a_glance() -> None:
    assert [length(minutes) for minutes in (59.7, 119.6, 0.99, 0.995)] == ["1 h", "2 h", "59 s", "1 min"]
    assert [length(1440.0, DAY), length(1439.0, DAY)] == ["all day", "23 h 59 min"]
