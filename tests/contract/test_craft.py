"""The command line of the craft: generate, cover, rudiments, export, click, strokes, sheet.

Option names, keys, shapes and counts are the contract. Counts of stickings are published sequences (OEIS),
and are counted here once more by hand.
"""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from itertools import combinations, product
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pypdf
import pytest
import soundfile

from evenhand.cli.main import run

Out = pytest.CaptureFixture[str]
ALL_OF_8 = ["".join(hands) for hands in product("RL", repeat=8)]
SVG, MEI = "{http://www.w3.org/2000/svg}svg", "{http://www.music-encoding.org/ns/mei}mei"


def said_json(capsys: Out, *arguments: str) -> Any:
    """Run a command with ``--json -``: JSON and nothing else on stdout, nothing on stderr."""
    capsys.readouterr()
    assert run([*arguments, "--json", "-"]) == 0
    said = capsys.readouterr()
    assert said.err == ""
    return json.loads(said.out)


def hands(text: str) -> str:
    return text.partition(":")[2].replace(" ", "")


def longest_run(sticking: str, *, around: bool = False) -> int:
    """Count by hand: the longest word of one letter in the line, or in the line said over and over."""
    line = sticking * 2 if around else sticking
    return max(n for n in range(1, len(sticking) + 1) if "R" * n in line or "L" * n in line)


@pytest.mark.parametrize(
    ("options", "count"),
    [
        ([], 256),  # 2^8
        (["--up-to", "rotation"], 36),  # OEIS A000031, necklaces
        (["--up-to", "rotation-reversal"], 30),  # OEIS A000029, bracelets
        (["--up-to", "rotation-swap"], 20),  # OEIS A000013
        (["--balanced", "--up-to", "rotation"], 10),  # OEIS A003239
        (["--balanced"], 70),  # 8 over 4
        (["--longest-run", "2"], 68),  # twice a Fibonacci number
        (["--longest-run", "3"], 162),  # twice a tribonacci number
        (["--longest-run", "2", "--up-to", "none"], 68),
    ],
)
def test_as_many_stickings_of_eight_as_are_published(options: list[str], count: int, capsys: Out) -> None:
    said = said_json(capsys, "exercises", "generate", "--length", "8", "--value", "1/16", *options)
    assert set(said) == {"count", "exercises"}
    assert said["count"] == len(said["exercises"]) == len(set(said["exercises"])) == count
    assert all(text.startswith("1/16: ") and hands(text) in ALL_OF_8 for text in said["exercises"])


@pytest.mark.parametrize("around", [False, True])
def test_runs_are_counted_in_the_line_and_if_asked_around_the_repeat(*, around: bool, capsys: Out) -> None:
    options = ["--longest-run", "2", *(["--around"] if around else [])]
    said = said_json(capsys, "exercises", "generate", "--length", "8", "--value", "1/16", *options)
    by_hand = {sticking for sticking in ALL_OF_8 if longest_run(sticking, around=around) <= 2}
    assert {hands(text) for text in said["exercises"]} == by_hand
    assert len(by_hand) == (46 if around else 68)


def test_what_cannot_be_has_its_reason(capsys: Out) -> None:
    asked = ["exercises", "generate", "--length", "8", "--longest-run", "1", "--rights", "6"]
    assert run([*asked, "--json", "-"]) == 0
    said = capsys.readouterr()
    assert json.loads(said.out)["count"] == 0
    assert "With no run over 1, there are 4 rights." in said.err
    assert said.err.count("\n") == 1


def changes(text: str, count: int) -> set[str]:
    """List the words of so many notes, around the repeat."""
    line = hands(text) * count
    return {line[i : i + count] for i in range(len(hands(text)))}


def test_a_cover_holds_every_hand_change_and_no_fewer_would(tmp_path: Path, capsys: Out) -> None:
    lines = [f"1/16: {''.join(each)}" for each in product("RL", repeat=6) if each.count("R") == 3]
    (tmp_path / "LIST.txt").write_text("\n".join(lines), "utf-8")
    said = said_json(capsys, "exercises", "cover", str(tmp_path / "LIST.txt"), "--changes", "4")
    assert {"chosen", "covered", "of", "optimal"} <= set(said)
    wanted = set().union(*(changes(line, 4) for line in lines))
    held = set().union(*(changes(text, 4) for text in said["chosen"]))
    assert {hands(text) for text in said["chosen"]} <= {hands(line) for line in lines}
    assert held == wanted
    assert said["covered"] == said["of"] == len(wanted)
    assert said["optimal"] is True
    fewer = combinations(lines, len(said["chosen"]) - 1)
    assert not any(set().union(*(changes(line, 4) for line in few)) == wanted for few in fewer)


def test_forty_rudiments_with_number_name_family_and_exercise(capsys: Out) -> None:
    said = said_json(capsys, "exercises", "rudiments")
    assert [each["number"] for each in said] == list(range(1, 41))  # forty of them, published 1984
    assert {tuple(each) for each in said} == {("number", "name", "family", "exercise", "ladder")}
    assert "Lesson 25" in said[33]["name"]  # number 34 is published under this name
    paradiddle = next(each for each in said if each["name"] == "Single paradiddle")
    assert hands(paradiddle["exercise"]) == ">RLRR>LRLL"  # common practice


def test_an_exercise_is_exported_in_all_forms(tmp_path: Path) -> None:
    places = {form: tmp_path / f"F.{form}" for form in ("svg", "musicxml", "midi", "mei")}
    asked = [part for form, place in places.items() for part in (f"--{form}", str(place))]
    exercise = ["--exercise", "1/8: RLRR LRLL", "--tempo", "1/4=90", "--repeat", "3"]
    assert run(["export", *exercise, *asked]) == 0
    assert ET.parse(places["svg"]).getroot().tag == SVG
    assert ET.parse(places["mei"]).getroot().tag == MEI
    score = ET.parse(places["musicxml"]).getroot()
    assert score.get("version") == "4.0"
    assert [each.text for each in score.iter("text")] == list("RLRRLRLL")
    assert next(score.iter("midi-unpitched")).text == "39"  # the snare, MIDI note 38, plus one (MusicXML 4.0)
    messages = [message for track in mido.MidiFile(places["midi"]).tracks for message in track]
    assert [m.tempo for m in messages if m.type == "set_tempo"] == [666_667]  # 60e6 / 90 (SMF 1.0)
    assert sum(m.type == "note_on" and m.velocity > 0 for m in messages) == 3 * 8


@pytest.mark.parametrize("option", ["--svg", "--musicxml", "--midi", "--mei"])
def test_one_form_alone_will_do(option: str, tmp_path: Path) -> None:
    assert run(["export", "--exercise", "1/8: RLRR LRLL", option, str(tmp_path / "F")]) == 0
    assert (tmp_path / "F").stat().st_size > 0


CLICK = ["click", "--tempo", "1/4=120", "--bars", "8", "--meter", "4/4", "--count-in", "1"]


def samples_of(place: Path) -> np.ndarray[Any, np.dtype[np.float64]]:
    samples, rate_hz = soundfile.read(place)
    assert rate_hz == 48_000
    return np.asarray(samples)


def test_the_first_click_is_at_sample_0_and_each_on_its_beat(tmp_path: Path) -> None:
    """At 120 quarters a minute and 48 kHz a beat is 24,000 samples; nine bars of four have 36 clicks."""
    assert run([*CLICK, "--out", str(tmp_path / "F.wav")]) == 0
    samples = samples_of(tmp_path / "F.wav")
    assert len(samples) >= 36 * 24_000
    beats = samples[: 36 * 24_000].reshape(36, 24_000)
    assert (np.abs(beats[:, :10]).max(axis=1) > 0.01).all()  # sounds from the beat's first samples on
    assert not beats[:, -2_400:].any()  # and is silent for 50 ms before the next
    assert samples[0] != 0


def test_a_lead_in_moves_the_first_click(tmp_path: Path) -> None:
    assert run([*CLICK, "--lead-in", "0.5", "--out", str(tmp_path / "F.wav")]) == 0
    assert np.flatnonzero(samples_of(tmp_path / "F.wav"))[0] == 24_000


def test_a_play_along_has_its_count_in_and_its_repetitions(tmp_path: Path, capsys: Out) -> None:
    """A bar of clicks, then a bar of eighths four times: five bars of two seconds."""
    asked = ["playalong", "--exercise", "1/8: RLRR LRLL", "--tempo", "1/4=120", "--repeat", "4"]
    assert run([*asked, "--out", str(tmp_path / "F.wav")]) == 0
    assert "1 exercise, 4 repetitions, 32 strokes" in capsys.readouterr().out
    samples = samples_of(tmp_path / "F.wav")
    assert samples[0].any()
    assert 10.0 <= len(samples) / 48_000 < 11.0


def test_strokes_have_their_heights_and_the_free_rebound(capsys: Out) -> None:
    """By hand: an accent comes down to a tap; the note before the same hand's next accent rises to it.

    A stick that is away from the head for T flies g T^2 / 8 high, fall and rise in equal halves.
    """
    said = said_json(capsys, "strokes", "--exercise", "1/16: >RLRR >LRLL", "--tempo", "1/4=90")
    strokes = said["strokes"]
    assert [each["stroke"] for each in strokes] == ["down", "up", "tap", "tap", "down", "up", "tap", "tap"]
    away = [2, 3, 1, 2, 2, 3, 1, 2]  # sixteenths until the same hand plays again, around the repeat
    for each, sixteenths in zip(strokes, away, strict=True):
        assert {"before_cm", "after_cm"} <= set(each)
        by_hand_cm = 980.665 * (sixteenths / 6) ** 2 / 8  # a sixteenth at 90 quarters lasts 1/6 s
        assert each["greatest_free_rebound_cm"] == pytest.approx(by_hand_cm, rel=1e-3)


def test_strokes_are_as_high_as_is_common(capsys: Out) -> None:
    """Taps 3 to 5 in, full strokes from 10 in on (common practice)."""
    said = said_json(capsys, "strokes", "--exercise", "1/16: >RLRR >LRLL", "--tempo", "1/4=90")
    for each in said["strokes"]:
        low, high = (10, 12) if each["stroke"] == "down" else (3, 5)
        assert low * 2.54 <= each["before_cm"] <= high * 2.54


def pdf_text(place: Path) -> str:
    return " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(place).pages).split())


def test_a_sheet_of_exercises(tmp_path: Path) -> None:
    place = tmp_path / "F.pdf"
    exercises = ["--exercise", "1/8: RLRR LRLL # Paradiddle", "--exercise", "1/16: >RLRR >LRLL"]
    assert run(["sheet", *exercises, "--student", "Ines Okoro", "--out", str(place)]) == 0
    text = pdf_text(place)
    assert "Ines Okoro" in text
    assert "Paradiddle" in text
    assert "see a clinician" in text


def test_a_sheet_from_a_plan(tmp_path: Path, capsys: Out) -> None:
    week = said_json(
        capsys, "plan", "--minutes", "8", "--days", "2", "--seed", "1", "--student", "Ines Okoro"
    )
    (tmp_path / "week.json").write_text(json.dumps(week), "utf-8")
    assert run(["sheet", "--plan", str(tmp_path / "week.json"), "--out", str(tmp_path / "F.pdf")]) == 0
    text = pdf_text(tmp_path / "F.pdf")
    assert "Ines Okoro" in text
    assert week["days"][0]["items"][0]["tempo"].split("= ")[1] in text


def test_generated_chosen_printed_and_played(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The four commands of the README, one after the other."""
    monkeypatch.chdir(tmp_path)
    wanted = ["--length", "8", "--value", "1/16", "--balanced", "--longest-run", "2"]
    assert run(["exercises", "generate", *wanted, "--up-to", "rotation-swap", "--out", "page.txt"]) == 0
    assert run(["exercises", "cover", "page.txt", "--changes", "4", "--out", "week.txt"]) == 0
    what = ["--tempo", "1/4=60", "--stroke", "half", "--repetitions", "8", "--minutes", "15"]
    assert run(["sheet", "--book", "week.txt", "--student", "Ines Okoro", *what, "--out", "sheet.pdf"]) == 0
    played = ["--book", "week.txt", "--tempo", "1/4=60", "--repeat", "4", "--out", "playalong.mp3"]
    assert run(["playalong", *played]) == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "page.txt",
        "playalong.mp3",
        "sheet.pdf",
        "week.txt",
    ]
