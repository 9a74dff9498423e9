"""A take is heard once: by one worker, or, when that one dies, by the next."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest

from evenhand.studio.store.queue import GAVE_UP, MOST_TRIES, STALE
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import StudioTake, Urgency
from tests.places import Place
from tests.studios import a_new_take

HEARD = '{"hits": []}'
FLAC = b"fLaC" + bytes(60)


def some_takes(place: Place, studio: Studio, n: int) -> list[StudioTake]:
    """Let takes come in, a minute between."""
    ida = studio.students.add("Ida Quill")
    found = []
    for number in range(n):
        found.append(studio.takes.receive(a_new_take(ida.id, f"key-{number}"), b"sound %d" % number)[0])
        place.clock.move(minutes=1)
    return found


def test_the_take_that_waited_longest_is_claimed_first(place: Place) -> None:
    studio = place.create()
    first, second = some_takes(place, studio, 2)
    claimed = studio.queue.claim("a")
    assert claimed == replace(first, status="hearing", tried=1)
    assert studio.takes.find(first.id) == claimed
    other = studio.queue.claim("b")
    assert other is not None
    assert other.id == second.id
    assert studio.queue.claim("c") is None
    assert studio.queue.counts() == {"waiting": 0, "hearing": 2, "heard": 0, "failed": 0}


def test_workers_that_claim_at_once_never_get_the_same_take(place: Place) -> None:
    studio = place.create()
    takes = some_takes(place, studio, 24)
    others = [place.open() for _ in range(4)]
    start = threading.Barrier(len(others))

    def claim_all(n: int) -> list[str]:
        start.wait()
        claimed = []
        while (take := others[n].queue.claim(f"worker-{n}")) is not None:
            claimed.append(take.id)
        return claimed

    with ThreadPoolExecutor(len(others)) as pool:
        claimed = [take_id for each in pool.map(claim_all, range(len(others))) for take_id in each]
    assert sorted(claimed) == sorted(take.id for take in takes)


def test_what_was_heard_is_kept_with_the_flac_in_one_step(place: Place) -> None:
    studio = place.create()
    (take,) = some_takes(place, studio, 1)
    studio.queue.claim("a")
    assert studio.queue.took_heard(take.id, HEARD, 3.5, worker="a", flac=FLAC)
    found = studio.takes.find(take.id)
    assert found is not None
    assert (found.status, found.heard, found.seconds, found.progress) == ("heard", HEARD, 3.5, 1.0)
    assert studio.takes.recording(found).read_bytes() == FLAC
    assert [Path(key).suffix for key in studio.data.recordings.kept_keys()] == [".flac"]


def test_a_take_is_not_heard_twice(place: Place) -> None:
    """A worker that was thought dead comes back late: what it has to say is not wanted any more."""
    studio = place.create()
    (take,) = some_takes(place, studio, 1)
    studio.queue.claim("slow")
    place.clock.move(seconds=STALE.total_seconds() + 1)
    assert studio.queue.claim("next") is not None
    assert not studio.queue.still_hearing(take.id, "slow", 0.5)
    assert not studio.queue.took_heard(take.id, '{"late": 1}', 1.0, worker="slow", flac=FLAC)
    assert not studio.queue.took_failed(take.id, "late", worker="slow")
    assert studio.queue.took_heard(take.id, HEARD, 3.5, worker="next")
    assert not studio.queue.took_heard(take.id, '{"twice": 1}', 1.0, worker="next")
    assert not studio.queue.took_heard(take.id, '{"twice": 1}', 1.0)
    found = studio.takes.find(take.id)
    assert found is not None
    assert (found.heard, found.recording, found.tried) == (HEARD, take.recording, 2)
    assert len(list(studio.data.recordings.kept_keys())) == 1


def test_a_claim_stands_as_long_as_its_worker_says_so(place: Place) -> None:
    studio = place.create()
    (take,) = some_takes(place, studio, 1)
    studio.queue.claim("a")
    for share in (0.2, 0.4, 0.6):
        place.clock.move(seconds=STALE.total_seconds() - 1)
        assert studio.queue.still_hearing(take.id, "a", share)
        assert studio.queue.claim("b") is None
    assert studio.takes.all()[0].progress == 0.6
    place.clock.move(seconds=STALE.total_seconds() + 1)
    assert studio.queue.claim("b") is not None


def test_a_take_that_is_given_back_waits_again(place: Place) -> None:
    studio = place.create()
    some_takes(place, studio, 2)
    studio.queue.claim("a")
    studio.queue.claim("b")
    assert studio.queue.give_back("a") == 1
    assert [(take.status, take.tried) for take in studio.takes.all()] == [("hearing", 1), ("waiting", 0)]
    assert studio.queue.give_back("b", blamed=True) == 1
    assert [(take.status, take.tried) for take in studio.takes.all()] == [("waiting", 1), ("waiting", 0)]
    assert studio.queue.give_back("a") == 0


def test_a_take_that_breaks_its_worker_three_times_is_given_up(place: Place) -> None:
    """And the take behind it is heard: one bad recording stops nobody."""
    studio = place.create()
    bad, good = some_takes(place, studio, 2)
    for _ in range(MOST_TRIES):
        place.clock.move(seconds=10)
        claimed = studio.queue.claim("a")
        assert claimed is not None
        assert claimed.id == bad.id
        studio.queue.give_back("a", blamed=True)
    place.clock.move(minutes=1)
    after = studio.queue.claim("a")
    assert after is not None
    assert after.id == good.id
    found = studio.takes.find(bad.id)
    assert found is not None
    assert (found.status, found.reason, found.set_aside_at) == ("failed", GAVE_UP, place.clock())
    assert studio.takes.change(bad.id, status="waiting").tried == 0
    again = replace(found, status="hearing", reason=None, tried=1, set_aside_at=None)
    assert studio.queue.claim("b") == again


def test_a_take_that_cannot_be_heard_says_why_and_keeps_its_recording(place: Place) -> None:
    studio = place.create()
    (take,) = some_takes(place, studio, 1)
    studio.queue.claim("a")
    assert studio.queue.took_failed(take.id, "nothing sounds", worker="a")
    found = studio.takes.find(take.id)
    at = place.clock()
    assert found == replace(take, status="failed", reason="nothing sounds", tried=1, set_aside_at=at)
    assert studio.takes.recording(found).read_bytes() == b"sound 0"
    assert studio.queue.claim("a") is None


def test_what_broke_off_is_tried_again_after_2_and_after_8_seconds(place: Place) -> None:
    """And keeps its turn: what came after it is not heard before it, once it is due."""
    studio = place.create()
    first, _ = some_takes(place, studio, 2)
    for wait_s in (2, 8):
        assert claimed_id(studio, "a") == first.id
        studio.queue.give_back("a", blamed=True)
        place.clock.move(seconds=wait_s - 1)
        assert claimed_id(studio, "b") != first.id
        studio.queue.give_back("b")
        place.clock.move(seconds=1)
    assert claimed_id(studio, "a") == first.id


def claimed_id(studio: Studio, worker: str) -> str | None:
    """Claim a take, and name it."""
    take = studio.queue.claim(worker)
    return None if take is None else take.id


def test_who_cannot_wait_comes_first(place: Place) -> None:
    """A live lesson, then a student, then a batch; among equals the one that came first."""
    studio = place.create()
    ida = studio.students.add("Ida Quill")
    came: list[tuple[str, Urgency]] = []
    for urgency in ("batch", "student", "lesson", "batch", "student", "lesson"):
        new = a_new_take(ida.id, f"key-{len(came)}", urgency=urgency)
        came.append((studio.takes.receive(new, b"sound")[0].id, urgency))
        place.clock.move(seconds=1)
    rank = ["lesson", "student", "batch"]
    expected = [take_id for take_id, urgency in sorted(came, key=lambda each: rank.index(each[1]))]
    assert [claimed_id(studio, f"w{n}") for n in range(7)] == [*expected, None]


def test_a_take_can_become_urgent_while_it_waits(place: Place) -> None:
    studio = place.create()
    _, late = some_takes(place, studio, 2)
    asked = {"exercise": late.exercise, "tempo": late.tempo, "click": late.click}
    studio.queue.hear_again(late.id, **asked, urgency="lesson")
    assert claimed_id(studio, "a") == late.id


def test_trouble_that_may_pass_is_tried_three_times_and_then_set_aside(place: Place) -> None:
    studio = place.create()
    (take,) = some_takes(place, studio, 1)
    for tried in (1, 2, 3):
        assert claimed_id(studio, "a") == take.id
        assert studio.queue.took_failed(take.id, "no memory", worker="a", again=True)
        assert studio.takes.get(take.id).status == ("waiting" if tried < MOST_TRIES else "failed")
        place.clock.move(seconds=10)
    (aside,) = studio.queue.set_aside()
    assert (aside.reason, aside.tried) == ("no memory", 3)
    assert studio.queue.leave([take.id]) == 1
    assert (studio.queue.set_aside(), studio.takes.get(take.id).status) == ([], "failed")


@pytest.mark.parametrize("gone", ["deleted", "erased"])
def test_what_is_heard_of_a_take_that_is_gone_is_let_go(place: Place, gone: str) -> None:
    studio = place.create()
    (take,) = some_takes(place, studio, 1)
    studio.queue.claim("a")
    if gone == "deleted":
        studio.takes.delete(take.id)
    else:
        studio.students.erase(take.student_id)
    assert not studio.queue.took_heard(take.id, HEARD, 3.5, worker="a", flac=FLAC)
    assert (studio.takes.all(), list(studio.data.recordings.kept_keys())) == ([], [])


def test_a_take_sent_to_be_heard_again_during_its_hearing_is_heard_anew(place: Place) -> None:
    """The exercise was mistaken: what the worker says is about the wrong one."""
    studio = place.create()
    (take,) = some_takes(place, studio, 1)
    studio.queue.claim("a")
    studio.takes.change(take.id, exercise="1/8: RL", status="waiting")
    assert not studio.queue.took_heard(take.id, '{"old": 1}', 1.0, worker="a")
    claimed = studio.queue.claim("a")
    assert claimed is not None
    assert claimed.exercise == "1/8: RL"
