"""The command line from end to end: a recording goes in, what was heard comes out.

What must be heard is what the invented player was told to play.
"""

from __future__ import annotations

import json
from html import unescape
from importlib.resources import files
from pathlib import Path
from typing import Any

import mido
import pytest
from jsonschema import Draft202012Validator

from evenhand.cli.main import run

EXERCISE, TEMPO, REPETITIONS = "1/8: RLRR LRLL", "1/4=100", 8
GUIDED = ["--exercise", EXERCISE, "--tempo", TEMPO]
SCHEMA = json.loads(files("evenhand").joinpath("schema/listen-2.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder with take.wav, 8 times RLRR LRLL with the left hand 4 dB weak, and its truth."""
    folder = tmp_path_factory.mktemp("takes")
    assert record(folder / "take.wav", "--truth", str(folder / "truth.json"), "--fault", "weak-hand=L:4") == 0
    return folder


def record(out: Path, *more: str) -> int:
    return run(
        ["simulate", *GUIDED, "--repetitions", str(REPETITIONS), "--seed", "5", "--out", str(out), *more]
    )


def heard(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    capsys.readouterr()
    assert run(["listen", *arguments, "--json", "-"]) == 0
    said = capsys.readouterr()
    assert said.err == ""
    written: dict[str, Any] = json.loads(said.out)
    Draft202012Validator(SCHEMA).validate(written)
    return written


def test_a_take_is_heard_with_its_hands(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    written = heard(capsys, str(folder / "take.wav"), *GUIDED)
    truth = json.loads((folder / "truth.json").read_text("utf-8"))
    hits = [(hit["repetition"], hit["position"], hit["hand"]) for hit in written["hits"]]
    assert hits == [(hit["repetition"], hit["position"], hit["hand"]) for hit in truth["hits"]]
    late_ms = [
        1000 * (a["time_s"] - b["time_s"]) for a, b in zip(written["hits"], truth["hits"], strict=True)
    ]
    assert max(abs(late) for late in late_ms) < 2  # the coarsest step in which hits are matched from outside
    low, high = written["balance"]["level_db"]["ci95"]
    assert (
        low < 4 < high or abs(written["balance"]["level_db"]["value"] - 4) < 1
    )  # 1 dB: what an ear can tell
    assert written["clock"] == "smooth"
    assert written["exercise"] == EXERCISE


def test_a_take_begins_where_it_is_said_to(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """From its second time through on; what was struck before is extra, with its reason."""
    truth = json.loads((folder / "truth.json").read_text("utf-8"))
    second_s = next(hit["time_s"] for hit in truth["hits"] if hit["repetition"] == 2)
    written = heard(capsys, str(folder / "take.wav"), *GUIDED, "--begins-at", f"{second_s:.2f}")
    assert written["begins_at_s"] == round(second_s, 2)
    assert written["hits"][0]["time_s"] == pytest.approx(second_s, abs=2e-3)
    assert [hit["reason"] for hit in written["extra"]] == ["before the start"] * 8
    assert len(written["hits"]) == len(truth["hits"]) - 8
    assert "8 hits were given no note: 8 before the first note." in written["warnings"]
    assert heard(capsys, str(folder / "take.wav"), *GUIDED)["begins_at_s"] is None


def test_why_hits_have_no_note_is_said_in_terminal_and_report(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    report = tmp_path / "take.html"
    asked = ["--begins-at", "5.3", "--report", str(report)]
    assert run(["listen", str(folder / "take.wav"), *GUIDED, *asked]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "8 extra (8 before the start)" in said
    assert "8 extra hits before the first note." in " ".join(unescape(report.read_text("utf-8")).split())


@pytest.mark.parametrize("asked", [["--begins-at", "999"], ["--begins-at", "nan"], ["--begins-at", "-1"]])
def test_a_beginning_that_the_take_does_not_reach_is_refused(folder: Path, asked: list[str]) -> None:
    assert run(["listen", str(folder / "take.wav"), *GUIDED, *asked]) == 2


def test_a_beginning_needs_an_exercise(folder: Path) -> None:
    assert run(["listen", str(folder / "take.wav"), "--begins-at", "1"]) == 2


def test_the_evidence_of_a_finding_names_a_figure_that_is_there(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    written = heard(capsys, str(folder / "take.wav"), *GUIDED)
    assert written["findings"]
    for finding in written["findings"]:
        if finding["evidence"] is not None:
            figure = written
            for key in finding["evidence"]["measure"].split("."):
                figure = figure[key]
            assert figure


def test_the_same_take_is_heard_blind(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    written = heard(capsys, str(folder / "take.wav"))
    assert len(written["hits"]) == pytest.approx(REPETITIONS * 8, abs=1)
    assert {hit["hand"] for hit in written["hits"]} == {None}
    assert written["findings"] == []
    assert written["hands"] == {}


def test_the_same_take_gives_the_same_answer(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    take = str(folder / "take.wav")
    assert heard(capsys, take, *GUIDED) == heard(capsys, take, *GUIDED)


def test_the_same_seed_gives_the_same_take(folder: Path, tmp_path: Path) -> None:
    assert record(tmp_path / "again.wav", "--fault", "weak-hand=L:4") == 0
    assert (tmp_path / "again.wav").read_bytes() == (folder / "take.wav").read_bytes()


def test_summary_json_and_report_come_together(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    json_file, report = tmp_path / "take.json", tmp_path / "take.html"
    asked = ["--json", str(json_file), "--report", str(report)]
    assert run(["listen", str(folder / "take.wav"), *GUIDED, *asked]) == 0
    summary = capsys.readouterr().out
    top = json.loads(json_file.read_text("utf-8"))["findings"][0]["text"]
    page = report.read_text("utf-8")
    assert " ".join(top.split()) in " ".join(summary.split())
    assert " ".join(top.split()) in " ".join(unescape(page).split())
    assert page.startswith("<!doctype html>")


def test_a_list_is_heard_and_what_fails_does_not_stop_the_rest(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "text.wav").write_text("this is no recording", "utf-8")
    rows = [f"take.wav,{EXERCISE},{TEMPO}", "gone.wav,,", "text.wav,,", "take.wav,,"]
    (folder / "week.csv").write_text("file,exercise,tempo\n" + "\n".join(rows), "utf-8")
    (tmp_path / "gone.json").write_text("{}", "utf-8")
    single = heard(capsys, str(folder / "take.wav"), *GUIDED)
    assert run(["listen-all", str(folder / "week.csv"), "--out", str(tmp_path), "--jobs", "2"]) == 3
    said = capsys.readouterr()
    assert "2 of 4 takes heard" in said.out
    failed = said.err.splitlines()
    assert [line.split(":")[1].strip() for line in failed] == ["row 3, gone.wav", "row 4, text.wav"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["take-2.json", "take.json"]
    assert json.loads((tmp_path / "take.json").read_text("utf-8")) == single


def test_a_list_without_failures_ends_with_0(folder: Path, tmp_path: Path) -> None:
    (folder / "one.csv").write_text("file,exercise,tempo,click\ntake.wav,,,auto\n", "utf-8")
    assert run(["listen-all", str(folder / "one.csv"), "--out", str(tmp_path / "new")]) == 0
    assert (tmp_path / "new" / "take.json").is_file()


def test_a_pads_midi_file_is_heard_with_its_hands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Eighths at 100 quarters a minute are 0.3 s apart; 40 log10(100 / 64) is 7.753 dB."""
    file = mido.MidiFile(ticks_per_beat=1000)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(100))])
    for i, hand in enumerate("RLRRLRLL" * REPETITIONS):
        velocity = 100 if hand == "R" else 64
        track.append(mido.Message("note_on", note=38, velocity=velocity, time=400 if i else 1000))
        track.append(mido.Message("note_off", note=38, time=100))
    file.tracks.append(track)
    file.save(tmp_path / "pad.mid")
    written = heard(capsys, str(tmp_path / "pad.mid"), *GUIDED)
    assert [hit["hand"] for hit in written["hits"]] == list("RLRRLRLL" * REPETITIONS)
    assert [hit["time_s"] for hit in written["hits"]] == pytest.approx(
        [0.6 + 0.3 * i for i in range(64)], abs=1e-6
    )
    assert written["balance"]["level_db"]["value"] == pytest.approx(7.753, abs=0.001)
    assert written["input"]["format"] == "midi"
    assert written["missed"] == written["extra"] == []


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("empty.wav", b""),
        ("text.wav", b"not a recording at all, only words"),
        ("cut.wav", b"RIFF\x24\x00\x00\x00WAVE"),
    ],
)
def test_what_cannot_be_heard_ends_with_3(
    name: str, content: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / name).write_bytes(content)
    assert run(["listen", str(tmp_path / name)]) == 3
    line = capsys.readouterr().err
    assert line.startswith(f"evenhand: {name}")
    assert line.count("\n") == 1


def test_the_demo_leaves_a_take_its_truth_its_figures_and_a_report(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["demo", "--out", str(tmp_path / "demo")]) == 0
    said = capsys.readouterr().out
    assert "invented" in said
    assert sorted(path.name for path in (tmp_path / "demo").iterdir()) == [
        "heard.json",
        "report.html",
        "take.wav",
        "truth.json",
    ]
    written = json.loads((tmp_path / "demo" / "heard.json").read_text("utf-8"))
    Draft202012Validator(SCHEMA).validate(written)
    assert {"late_hand", "weak_hand"} & {finding["kind"] for finding in written["findings"]}
