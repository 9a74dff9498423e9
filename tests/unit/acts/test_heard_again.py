"""A stored take is read back as it was heard."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest

from evenhand.acts.documents import Json
from evenhand.acts.takes.document import as_json, heard_take_of, json_text
from evenhand.errors import WrongUse
from evenhand.hearing.listen import listen
from evenhand.measuring.measure import measure
from evenhand.measuring.rules.findings import find
from evenhand.measuring.values import Evidence, Finding, FindingKind, HeardTake, Measure
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.report.take.picture import folded_figure
from evenhand.report.take.start_to_end import start_to_end
from evenhand.report.take.table import findings_list
from evenhand.report.words.findings import finding_words
from evenhand.report.words.take import said_to_student, top_sentence
from evenhand.synthesis.instruments import Scene
from evenhand.synthesis.player import simulate
from evenhand.synthesis.playing import Player
from evenhand.take import Heard, Hit, InputFacts
from tests.builders import a_blind_take, a_heard_take


@pytest.mark.parametrize("take", [a_heard_take(), a_blind_take()], ids=["guided", "blind"])
def test_what_is_read_back_is_written_as_the_same_json(take: HeardTake) -> None:
    text = json_text(take)
    assert json_text(heard_take_of(text)) == text
    assert as_json(heard_take_of(text)) == as_json(take)


def a_take_heard(text: str, bpm: str, times: int, player: Player, seed: int = 5) -> HeardTake:
    """Let the simulated player play, and the ear hear it."""
    exercise, tempo = parse_exercise(text), Tempo.parse(bpm)
    played = simulate(exercise, tempo, times, player=player, scene=Scene(), seed=seed)
    heard = listen(played.samples, played.rate_hz, exercise=exercise, tempo=tempo)
    measures = measure(heard, exercise, tempo)
    return HeardTake(
        InputFacts("wav/pcm_s16le", len(played.samples) / played.rate_hz, played.rate_hz, 1),
        exercise,
        text,
        tempo,
        heard,
        measures,
        find(heard, measures, exercise, tempo),
        "take.wav",
        "0.1.0",
    )


@pytest.mark.parametrize(
    ("text", "player"),
    [
        ("1/16: RLRR LRLL", Player()),
        (
            "1/16: RLRR LRLL",
            Player(stops=((3, 5, 1.2), (6, 7, 0.9))),
        ),
        ("1/8: lR rL 1/16: RL >RL", Player(miss_rate=0.05, stops=((4, 1, 0.7),))),
    ],
    ids=["unbroken", "two stops", "graces, misses and a stop"],
)
def test_stretches_and_the_tempo_played_come_back_as_the_ear_told_them(text: str, player: Player) -> None:
    take = a_take_heard(text, "1/4=110", 8, player)
    again = heard_take_of(json_text(take))
    assert [hit.stretch for hit in again.heard.hits] == [hit.stretch for hit in take.heard.hits]
    assert [hit.written for hit in again.heard.hits] == pytest.approx(
        [hit.written for hit in take.heard.hits]
    )
    assert again.heard.tempo_bpm == pytest.approx(take.heard.tempo_bpm, rel=1e-5)  # times are kept to 0.1 us
    assert take.measures is not None
    assert again.measures is not None
    assert again.measures.interval_ms == pytest.approx(take.measures.interval_ms, rel=1e-5)


NUMBER = re.compile(r"\d+\.?\d*")


def assert_drawn_alike(one: str, other: str) -> None:
    """Find the same marks; a coordinate may round to the other tenth, since stored levels are rounded."""
    assert NUMBER.sub("0", one) == NUMBER.sub("0", other)
    values = [[float(each) for each in NUMBER.findall(text)] for text in (one, other)]
    assert values[0] == pytest.approx(values[1], abs=0.101)


def test_the_pages_draw_the_same_from_the_stored_json() -> None:
    take = a_take_heard("1/16: RLRR LRLL", "1/4=110", 6, Player(stops=((3, 5, 1.2),)))
    again = heard_take_of(json_text(take))
    assert top_sentence(again) == top_sentence(take)
    assert findings_list(again) == findings_list(take)
    assert_drawn_alike(folded_figure(again, None, None), folded_figure(take, None, None))
    assert start_to_end(again) == start_to_end(take)


def an_earlier_document(take: HeardTake) -> Json:
    """Write a take as listen-1 had it: without what that left out."""
    found = as_json(take)
    added = ("remarks", "played_bpm", "interval_ms")
    for finding in found["findings"]:
        for key in ("question", "figures", "remark", "practise"):
            del finding[key]
    for hit in found["hits"]:
        del hit["stretch"], hit["written"]
    return {**{key: found[key] for key in found if key not in added}, "schema": "urn:evenhand:listen-1"}


@pytest.mark.parametrize("player", [Player(), Player(stops=((3, 5, 1.2), (6, 7, 0.9)), miss_rate=0.05)])
def test_a_document_of_listen_1_is_read_with_what_it_left_out(player: Player) -> None:
    take = a_take_heard("1/16: RLRR LRLL", "1/4=110", 8, player)
    again = heard_take_of(json.dumps(an_earlier_document(take)))
    assert [hit.stretch for hit in again.heard.hits] == [hit.stretch for hit in take.heard.hits]
    assert [hit.written for hit in again.heard.hits] == [hit.written for hit in take.heard.hits]
    assert again.heard.tempo_bpm == pytest.approx(take.heard.tempo_bpm, rel=1e-3)
    assert take.measures is not None
    assert again.measures is not None
    assert again.measures.interval_ms == pytest.approx(take.measures.interval_ms, rel=1e-5)
    assert [finding_words(each, again.exercise) for each in again.findings] == [
        finding_words(each, take.exercise) for each in take.findings
    ]


@pytest.mark.parametrize(
    ("question", "evidence", "said"),
    [
        ("weak_hand", Evidence("balance.level_db", 1.4, "dB", 80), "your left hand is softer"),
        ("wandering_hand", Evidence("hands.R.timing_sd_ms", 9.0, "ms", 80), "your right hand wanders"),
        ("dragging", Evidence("drift_bpm_per_min", -3.0, "bpm/min", 80), "the tempo drags"),
        (
            "weak_second",
            Evidence("doubles.R.second_minus_first_db", -1.1, "dB", 10),
            "the second note of your right hand's doubles is softer",
        ),
    ],
)
def test_what_a_document_of_listen_1_left_open_is_said_to_the_student(
    question: FindingKind, evidence: Evidence, said: str
) -> None:
    needed = {"repetitions": Measure(30, 8, "repetitions")}
    take = a_heard_take(findings=(Finding("cannot_tell", evidence, question, needed),))
    (again,) = heard_take_of(json.dumps(an_earlier_document(take))).findings
    assert said_to_student(again, take.exercise) == f"Can't tell yet whether {said}."
    assert finding_words(again, take.exercise) == finding_words(take.findings[0], take.exercise)


@pytest.mark.parametrize("take", [a_heard_take(), a_blind_take()], ids=["guided", "blind"])
def test_a_document_of_listen_1_is_written_as_one_of_listen_2(take: HeardTake) -> None:
    written = as_json(heard_take_of(json.dumps(an_earlier_document(take))))
    assert written.keys() == as_json(take).keys()
    assert written["schema"] == "urn:evenhand:listen-2"
    assert written["hands"] == as_json(take)["hands"]


def test_a_stop_at_the_end_of_a_repetition_is_told_by_the_time_alone() -> None:
    """By hand: notes 0.25 s apart; the third repetition begins 1 s later than it was due."""
    notes = [(rep, pos) for rep in range(4) for pos in range(2)]
    hits = tuple(
        Hit(1 + 0.25 * i + (1.0 if rep >= 2 else 0.0), -12.0, 0.9, "RL"[pos], rep + 1, pos, deviation_ms=0.0)  # type: ignore[arg-type] # a letter is a hand
        for i, (rep, pos) in enumerate(notes)
    )
    take = a_heard_take(
        exercise=parse_exercise("1/8: RL"),
        exercise_text="1/8: RL",
        tempo=Tempo.parse("1/8=240"),
        heard=Heard(hits, clock="smooth"),
    )
    again = heard_take_of(json.dumps(an_earlier_document(take)))
    assert [hit.stretch for hit in again.heard.hits] == [0, 0, 0, 0, 1, 1, 1, 1]


def test_what_is_no_heard_take_is_refused_by_name() -> None:
    with pytest.raises(WrongUse, match="heard take's JSON"):
        heard_take_of('{"schema": "urn:evenhand:listen-1"}')
    with pytest.raises(WrongUse, match="schema"):
        heard_take_of('{"schema": "something else"}')
    with pytest.raises(WrongUse, match="heard take's JSON"):
        heard_take_of("no json")
    with pytest.raises(WrongUse, match="heard take's JSON"):
        heard_take_of("[]")


def test_what_a_page_could_not_say_is_refused_when_it_is_read() -> None:
    """A remark without the figures that its sentence needs; a finding about a note that is not there."""
    document = as_json(a_heard_take())
    remarks = {**document["remarks"], "unlike": {"kind": "notes unmatched", "facts": {"missed": 3}}}
    with pytest.raises(WrongUse, match="asked"):
        heard_take_of(json.dumps({**document, "remarks": remarks}))
    finding = {**document["findings"][0], "kind": "flam_flat", "remark": None, "question": None}
    finding["evidence"] = {**finding["evidence"], "measure": "graces.L.gap_ms", "positions": [99]}
    with pytest.raises(WrongUse, match="damaged"):
        heard_take_of(json.dumps({**document, "findings": [finding]}))


def test_a_take_without_hits_is_read_back() -> None:
    take = a_heard_take(heard=Heard((), clock="smooth"), findings=())
    again = heard_take_of(json_text(take))
    assert again.heard.hits == ()
    assert again.heard.tempo_bpm is None
    assert replace(again, measures=None).findings == ()
