"""From the JSON of heard takes to exercises; any bytes are an answer or a clear refusal."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from evenhand.acts.exercises.choose import HeardTakes, choose_exercises, read_takes
from evenhand.acts.takes.document import as_json, json_text
from evenhand.errors import BadList
from evenhand.measuring.values import Evidence, Finding
from evenhand.music.book import parse_book
from evenhand.music.exercise import Tempo
from evenhand.music.text import print_exercise
from evenhand.planning.choosing import Need
from evenhand.report.words.remarks import all_remarks
from evenhand.take import Remark
from tests.builders import a_blind_take, a_heard_take, in_words
from tests.depth import share

BOOK = parse_book(
    "1/16: RLRL RLRL  # Singles\n1/16: RRLL RRLL  # Doubles\n"
    "1/16: RLLL RLLL\n1/16: RLRR LRLL\n1/16: RRRL RRRL\n"
)
TEMPO = Tempo.parse("1/4=90")


def kept(folder: Path, name: str = "take.json", text: str | None = None) -> Path:
    path = folder / name
    path.write_text(json_text(a_heard_take()) if text is None else text, encoding="utf-8")
    return path


def test_a_take_is_read_back_as_it_was_written(tmp_path: Path) -> None:
    written = a_heard_take()
    (take,) = read_takes([kept(tmp_path)]).takes
    assert (take.name, take.exercise) == ("take.json", written.exercise)
    assert [(f.kind, f.remark) for f in take.findings] == [(f.kind, f.remark) for f in written.findings]
    assert take.findings[1].evidence == written.findings[1].evidence


def test_folders_are_read_whole_and_blind_takes_are_named(tmp_path: Path) -> None:
    kept(tmp_path, "b.json")
    kept(tmp_path, "a.json", json_text(a_blind_take()))
    (tmp_path / "notes.txt").write_text("no take", encoding="utf-8")
    heard = read_takes([tmp_path])
    assert ([take.name for take in heard.takes], heard.blind) == (["b.json"], ("a.json",))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "take.json: got a file that is not JSON; must be a JSON file written by evenhand listen"),
        ("[1]", "got JSON without a schema"),
        ('{"schema": "other"}', "got JSON of the schema 'other'"),
        (
            '{"schema": "urn:evenhand:listen-1", "exercise": "1/8: RX", "tempo": "1/8=70"}',
            "got the exercise '1/8: RX'",
        ),
        ('{"schema": "urn:evenhand:listen-2", "exercise": "1/8: RL"}', "got one without 'tempo'"),
        (json.dumps({**as_json(a_heard_take()), "findings": [{"kind": "odd"}]}), "got a damaged one .*'odd'"),
        ("[" * 100_000, "got a file that is not JSON"),
    ],
)
def test_what_is_no_heard_take_is_refused_by_name(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(BadList, match=message):
        read_takes([kept(tmp_path, text=text)])


def test_no_file_and_an_empty_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(BadList, match=r"gone\.json: got no such file"):
        read_takes([tmp_path / "gone.json"])
    with pytest.raises(BadList, match=r"a folder with no \*\.json in it"):
        read_takes([tmp_path])


@share(0.6, suppress=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_damaged_take_is_read_or_refused(tmp_path: Path, data: st.DataObject) -> None:
    """Any value may be any other: never another error than the family's."""
    loaded = json.loads(json_text(a_heard_take()))
    odd: st.SearchStrategy[object] = (
        st.none() | st.text(max_size=3) | st.integers() | st.lists(st.none(), max_size=2) | st.just({})
    )
    key = data.draw(st.sampled_from(["findings", "exercise", "schema"]))
    if data.draw(st.booleans()):
        loaded[key] = data.draw(odd)
    else:
        one = loaded["findings"][0]
        inner = data.draw(st.sampled_from([one, one["evidence"]]))
        inner[data.draw(st.sampled_from(sorted(inner)))] = data.draw(odd)
    try:
        takes = read_takes([kept(tmp_path, text=json.dumps(loaded))])
    except BadList:
        return
    choose_exercises(BOOK, takes, TEMPO)


def test_what_was_weak_is_loaded_easy_to_hard(tmp_path: Path) -> None:
    """The built take: left hand 3.5 dB softer, second of its doubles 2.6 dB weaker."""
    chosen = choose_exercises(BOOK, read_takes([kept(tmp_path)]), TEMPO, count=2)
    assert {each.need for each in chosen.weak} == {Need("hand", "L"), Need("second_notes", "L")}
    assert [print_exercise(each.entry.exercise) for each in chosen.chosen] == [
        "1/16: RRLL RRLL",
        "1/16: RLLL RLLL",
    ]
    assert chosen.chosen[0].reason == (
        "doubles with the left hand, to hear their second notes, which were weak in the take"
    )
    assert chosen.chosen[1].reason == "the left hand has more to do than the other; it was softer in the take"
    written = json.loads(chosen.json)
    assert (written["by"], written["takes"]) == ("weaknesses", 1)
    assert "Not weighed: the tempo" in written["not_weighed"]
    assert written["chosen"][0] == {
        "exercise": "1/16: RRLL RRLL", "title": "Doubles", "section": "", "reason": chosen.chosen[0].reason,
    }  # fmt: skip
    assert [e.title for e in parse_book(chosen.book).entries] == ["Doubles", ""]


def of(*findings: Finding) -> HeardTakes:
    heard = read_takes([])
    exercise = a_heard_take().exercise
    assert exercise is not None
    from evenhand.planning.choosing import TakeFindings

    return replace(heard, takes=(TakeFindings("take.json", exercise, findings),))


def test_where_nothing_stands_out_it_says_so_and_chooses_by_coverage() -> None:
    even = in_words("even", "Even to the ear.", None, "Keep this.")
    chosen = choose_exercises(BOOK, of(even), TEMPO, count=2)
    assert chosen.notes == (Remark("chosen by coverage"),)
    assert json.loads(chosen.json)["by"] == "coverage"
    assert len(chosen.chosen) == 2
    assert chosen.chosen[0].reason.endswith("hand changes of four notes that those before don't have")


def test_by_coverage_each_says_what_it_adds_to_those_before() -> None:
    """By hand: quick RRRLL holds most (5) and is chosen first; but the easier two before it hold its five."""
    book = parse_book("1/32: RRRLL\n1/16: RRLL\n1/16: RRRL\n1/16: RLLR\n")
    chosen = choose_exercises(book, of(), TEMPO, count=3)
    assert [(print_exercise(each.entry.exercise), each.reason) for each in chosen.chosen] == [
        ("1/16: RRLL", "4 hand changes of four notes that those before don't have"),
        ("1/16: RRRL", "4 hand changes of four notes that those before don't have"),
        ("1/32: RRRL L", "its hand changes of four notes are all in those before"),
    ]


def test_a_file_too_large_to_be_a_take_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("evenhand.acts.takes.document.LARGEST_BYTES", 2**20)
    with pytest.raises(BadList, match="got more than 1 MB"):
        read_takes([kept(tmp_path, text=" " * (2**20 + 1))])


def test_what_the_book_cannot_load_is_said() -> None:
    flat = in_words(
        "flam_flat", "Flat.", Evidence("graces.L.gap_ms", 8.0, "ms", 20, positions=(1,)), "Lower."
    )
    chosen = choose_exercises(BOOK, of(flat), TEMPO, count=2)
    assert tuple(all_remarks(chosen.notes)) == (
        "No exercise of the book works on what was weak; chosen by coverage.",
        "The book has nothing for flams or drags to the left hand more than the rest.",
    )


def test_what_no_sticking_mends_and_what_was_left_out_is_said() -> None:
    tiring = in_words("tiring", "The take tires.", Evidence("level", 1.0, "dB", 9), "Stop, rest.")
    soft = in_words("weak_hand", "Softer.", Evidence("balance.level_db", 3.0, "dB", 40, positions=(1,)), "L.")
    heard = replace(of(tiring, soft), blind=("b.json",))
    chosen = choose_exercises(BOOK, heard, TEMPO, count=9)
    assert tuple(all_remarks(chosen.notes)) == (
        "b.json was heard without an exercise: nothing is known of its hands.",
        "In take.json: The take tires. Stop, rest.",
        f"Only {len(chosen.chosen)} exercises of the book work on what was weak.",
    )
