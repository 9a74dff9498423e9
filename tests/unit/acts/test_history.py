"""A student's folder is read whole; what was heard once is kept."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from evenhand.acts.takes.document import as_json, heard_take_of, json_text, past_take
from evenhand.acts.takes.hear import hear_take
from evenhand.acts.takes.history import read_history, read_table
from evenhand.acts.takes.request import TakeRequest
from evenhand.errors import BadHistory
from evenhand.measuring.values import HeardTake
from evenhand.media.open_take import open_take
from evenhand.media.write import write_wav
from evenhand.progress.ceiling.control import tried_repetitions
from evenhand.report.words.findings import finding_words
from evenhand.synthesis.player import simulate
from evenhand.synthesis.playing import Player

TEXT, TEMPO = "1/8: RLRR LRLL", "1/8=180"
ASKED = TakeRequest.read(TEXT, TEMPO)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Keep two weeks of an invented student, and one file that is silent."""
    place = tmp_path_factory.mktemp("ines")
    assert ASKED.exercise is not None
    assert ASKED.tempo is not None
    for name, late in (("first", 12.0), ("second", 2.0)):
        player = Player(late_ms={"R": 0.0, "L": late})
        take = simulate(ASKED.exercise, ASKED.tempo, 6, player=player, seed=3)
        write_wav(place / f"{name}.wav", take.samples, take.rate_hz)
    write_wav(place / "silent.wav", np.zeros(48000, np.float32), 48000)
    rows = ["date,file,exercise,tempo,stroke"]
    rows += [
        f"2026-03-{day},{name}.wav,{TEXT},{TEMPO},half" for day, name in (("16", "second"), ("09", "first"))
    ]
    rows += [f"2026-03-17,silent.wav,{TEXT},{TEMPO},"]
    (place / "takes.csv").write_text("\n".join(rows))
    return place


@pytest.fixture(scope="module")
def first(folder: Path) -> HeardTake:
    return hear_take(folder / "first.wav", ASKED, opens=open_take)


def test_takes_come_in_order_of_their_days(folder: Path) -> None:
    history = read_history(folder, opens=open_take)
    assert [take.day for take in history.takes] == [date(2026, 3, 9), date(2026, 3, 16)]
    assert [take.name for take in history.takes] == ["first.wav", "second.wav"]
    assert {take.stroke for take in history.takes} == {"half"}
    assert history.student == folder.name


def test_what_cannot_be_heard_is_named(folder: Path) -> None:
    (left_out,) = read_history(folder, opens=open_take).left_out
    assert left_out.startswith("silent.wav")


def test_the_late_hand_is_in_the_measures(folder: Path) -> None:
    one, two = read_history(folder, opens=open_take).takes
    values = [take.measures["balance.timing_ms"].value for take in (one, two)]
    assert values == pytest.approx([-12, -2], abs=3)


def test_what_was_heard_is_kept_and_not_heard_again(folder: Path) -> None:
    read_history(folder, opens=open_take)

    def refuses(*_: object, **__: object) -> None:
        raise AssertionError

    assert len(list((folder / "heard").glob("*.json"))) == 2
    (folder / "silent.wav").rename(folder / "silent.off")
    try:
        with pytest.raises(AssertionError):
            read_history(folder, opens=refuses)  # type: ignore[arg-type]
    finally:
        (folder / "silent.off").rename(folder / "silent.wav")


def test_a_take_reads_back_as_it_was_measured(first: HeardTake) -> None:
    past = past_take(heard_take_of(json_text(first)), date(2026, 3, 9), None)
    assert first.measures is not None
    assert past.measures["tempo_bpm"].value == pytest.approx(first.measures.tempo_bpm.value, abs=1e-3)
    left = first.measures.hands["L"]
    assert past.measures["hands.L.timing_sd_ms"].value == pytest.approx(left.timing_sd_ms.value, abs=1e-3)
    assert past.measures["hands.L.timing_sd_ms"].n == left.timing_sd_ms.n
    assert [each.kind for each in past.findings] == [each.kind for each in first.findings]
    said = [finding_words(each, past.exercise) for each in past.findings]
    assert said == [finding_words(each, first.exercise) for each in first.findings]
    assert sum(past.strokes.values()) == len(first.heard.hits)


def test_repetitions_read_back_are_judged_as_the_take_itself(first: HeardTake) -> None:
    assert ASKED.exercise is not None
    assert ASKED.tempo is not None
    past = past_take(heard_take_of(json_text(first)), date(2026, 3, 9), None)
    direct = tried_repetitions(first.heard, ASKED.exercise, ASKED.tempo, take=first.name)
    assert [each.controlled for each in past.tried] == [each.controlled for each in direct]
    assert [each.tempo_bpm for each in past.tried] == pytest.approx(
        [each.tempo_bpm for each in direct], abs=0.01
    )


def test_figures_may_stand_in_for_the_recording(folder: Path, first: HeardTake) -> None:
    (folder / "first.json").write_text(json.dumps(as_json(first)))
    (folder / "other").mkdir(exist_ok=True)
    (folder / "other" / "takes.csv").write_text(
        f"date,file,exercise,tempo\n2026-03-09,../first.json,{TEXT},{TEMPO}\n"
    )
    (take,) = read_history(folder / "other", opens=open_take).takes
    assert take.name == "first.wav"


@pytest.mark.parametrize(
    ("table", "where"),
    [
        ("date,file\n", "row 1"),
        ("date,file,exercise,tempo,points\n", "row 1"),
        (f"date,file,exercise,tempo\n30.11.,a.wav,{TEXT},{TEMPO}", "row 2, column date"),
        ("date,file,exercise,tempo\n2026-03-09,a.wav,1/8: X,1/8=70", "row 2"),
        ("date,file,exercise,tempo\n2026-03-09,a.wav,,", "row 2"),
        (f"date,file,exercise,tempo\n2026-03-09,,{TEXT},{TEMPO}", "row 2, column file"),
        (f"date,file,exercise,tempo,stroke\n2026-03-09,a.wav,{TEXT},{TEMPO},huge", "row 2, column stroke"),
        (f"date,file,exercise,tempo,kind\n2026-03-09,a.wav,{TEXT},{TEMPO},song", "row 2, column kind"),
        ("date,file,exercise,tempo,kind,hands\n2026-03-09,a.wav,,,bounce,R X", "row 2, column hands"),
    ],
)
def test_what_cannot_be_read_is_named_by_row_and_column(table: str, where: str) -> None:
    with pytest.raises(BadHistory, match=where):
        read_table(table, name="takes.csv", folder=Path())


def test_the_hands_of_a_bounce_test_are_read_in_their_order() -> None:
    (row,) = read_table(
        "date,file,exercise,tempo,kind,hands\n2026-03-09,a.wav,,,bounce,R L r\n",
        name="takes.csv",
        folder=Path(),
    )
    assert (row.kind, row.hands) == ("bounce", ("R", "L", "R"))


def test_a_folder_without_a_table_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadHistory, match=r"a folder with the table takes\.csv"):
        read_history(tmp_path, opens=open_take)


def test_json_that_is_no_take_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a.json").write_text('{"hello": 1}')
    (tmp_path / "takes.csv").write_text(f"date,file,exercise,tempo\n2026-03-09,a.json,{TEXT},{TEMPO}\n")
    with pytest.raises(BadHistory, match="holds no take's figures"):
        read_history(tmp_path, opens=open_take)
