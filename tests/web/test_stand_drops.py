"""Drops on the stand: recorded by grip and heard, compared, and the first stage judged from them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from evenhand.acts.weeks.document import plan_to_json
from evenhand.acts.weeks.stages import advise_student
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.studio.students import heard_takes, history_of
from evenhand.studio.work.pool import hear_waiting_once
from evenhand.synthesis.drops import Drop, record_drops
from evenhand.synthesis.instruments import Scene
from evenhand.web.pages import now
from tests.web.stands import JSON, Stand, a_stand, assign, practice_of, wav_of, yesterday

BOTH, TEMPO = "1/2: R- L-", "1/4=60"


@pytest.fixture
def stand(tmp_path: Path) -> Iterator[Stand]:
    """Let a student in who is to drop the stick, six times from hand to hand."""
    with a_stand(tmp_path, stage="rebound") as found:
        item = PracticeItem(
            parse_exercise(BOTH), Tempo.parse(TEMPO), 3, 24.0, title="Drops from hand to hand"
        )
        assign(found, yesterday(), plan=plan_to_json(PracticePlan((PracticeDay((item,)),) * 3)))
        yield found


@cache
def six_drops(kept: float, seed: int) -> bytes:
    """Drop a stick six times; the next comes as soon as it lies still, whatever the written time is."""
    take = record_drops([Drop(12.0, kept)] * 6, Scene(noise_snr_db=45.0), seed)
    return wav_of(take.samples, take.rate_hz)


def send_drops(stand: Stand, kept: float, number: int, grip: str) -> str:
    fields = {"exercise": BOTH, "tempo": TEMPO, "click": "off", "source": "microphone", "grip": grip}
    answer = stand.send(six_drops(kept, number), key=f"0123456789abcdef{number:04}", **fields)
    assert answer.status_code == 202, answer.text
    hear_waiting_once(stand.studio)
    return str(answer.json()["id"])


def test_an_item_of_drops_shows_how_to_hold_and_has_no_music(stand: Stand) -> None:
    page = stand.client.get("/stand/practice/1").text
    facts = practice_of(page)
    assert (facts["drops"], facts["lines"]) == ("RL", [{"width": 340.0, "notes": []}])
    assert "6 drops, about 24\N{NO-BREAK SPACE}s." in page
    for said in ("The right hand lets it fall", "The left hand lets it fall", "do not throw it"):
        assert said in page
    assert (
        re.findall(r'<button type="button" class="second">([^<]*)</button>', page)[0]
        == "thumb and first finger"
    )
    assert "drops" not in practice_of(stand.client.get("/stand/practice/0?exercise=1/8:+RLRL").text)


def test_without_consent_drops_have_nothing_to_start_and_a_way_on(tmp_path: Path) -> None:
    with a_stand(tmp_path, stage="rebound", minor=True) as stand:
        items = [
            PracticeItem(parse_exercise(text), Tempo.parse(TEMPO), 3, 24.0) for text in (BOTH, "1/4: RLRL")
        ]
        assign(stand, yesterday(), plan=plan_to_json(PracticePlan((PracticeDay(tuple(items)),) * 3)))
        drops, strokes = (stand.client.get(f"/stand/practice/{number}").text for number in (1, 2))
    assert (" data-clickless>" in drops, " data-clickless>" in strokes) == (True, False)
    assert re.search(r'<button id="go"[^>]* hidden>', drops)
    assert not re.search(r'<button id="go"[^>]* hidden>', strokes)
    assert re.search(r'<a id="onward"[^>]*">Next</a>', drops)
    assert "You can drop the stick and count its bounces already." in drops
    assert "The click works already." in strokes
    assert "The click works already." not in drops


def test_two_grips_are_compared_and_the_first_stage_is_judged_from_them(stand: Stand) -> None:
    send_drops(stand, 0.82, 1, "Fingertips, loose")
    last = send_drops(stand, 0.70, 2, "whole hand")
    said = stand.client.get(f"/stand/takes/{last}/result").text
    assert "6 drops, 6 left to bounce out by themselves." in said
    for hand in ("Right", "Left"):
        assert f"{hand} hand: it bounces longest with Fingertips loose." in said
    assert "3 of 3 drops free" in said
    assert "Drop the stick from the same height each time" in said
    page = stand.client.get("/stand/practice/1").text
    assert '<button type="button" class="second">whole hand</button>' in page
    at = now().astimezone()
    history = history_of(heard_takes(stand.studio, stand.student, at), stand.student, at)
    assert [drop.label for drop in history.bounces[1].drops] == ["whole hand, R", "whole hand, L"] * 3
    advice = advise_student(history, COMMON_PATH, "rebound", since=None)
    assert advice is not None
    verdicts = {each.condition.measure: each.verdict for each in advice.advice.judged}
    assert verdicts == {"free_drops": "met", "bounces": "met"}
    shown = stand.as_teacher().get(f"/students/{stand.student.id}/progress").text
    assert "Right hand: it bounces longest with Fingertips loose." in shown


def test_another_students_drops_are_in_no_comparison(stand: Stand) -> None:
    sister = stand.as_another(stand.studio.students.add("Una Marsh"))
    send_drops(sister, 0.82, 3, "fingertips")
    own = send_drops(stand, 0.70, 4, "whole hand")
    assert "fingertips" not in stand.client.get(f"/stand/takes/{own}/result").text
    assert "fingertips" not in stand.client.get("/stand/practice/1").text
    assert sister.client.get(f"/stand/takes/{own}/result", headers=JSON).status_code == 404
