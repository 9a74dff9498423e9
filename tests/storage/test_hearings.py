"""Versions of what was heard stand beside the one that is shown, and a student never waits for them."""

from __future__ import annotations

import pytest
from sqlalchemy import text

from evenhand.acts.takes.document import ear_in
from evenhand.errors import NotFound, WrongOptions
from evenhand.studio.desk import asked_of
from evenhand.studio.store.database import downgrade, upgrade
from evenhand.studio.store.queue import MOST_TRIES, STALE
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import HeardVersion, StudioTake
from tests.places import Place
from tests.storage.test_queue import some_takes
from tests.studios import a_new_take

OLD, NEW = '{"schema": "urn:evenhand:listen-2", "ear": {"version": 2}}', '{"ear": {"version": 3}}'


def heard_takes(place: Place, studio: Studio, n: int) -> list[StudioTake]:
    """Let takes be heard by ear 2."""
    found = some_takes(place, studio, n)
    for take in found:
        studio.queue.took_heard(take.id, OLD, 12.0)
    return found


def the_other(studio: Studio, take: StudioTake) -> HeardVersion:
    (found,) = studio.hearings.of_takes([take.id], with_heard=True)
    return found


def test_what_is_asked_for_is_heard_beside_and_what_is_shown_stays(place: Place) -> None:
    studio = place.create()
    (take,) = heard_takes(place, studio, 1)
    shown = studio.takes.get(take.id)
    assert studio.hearings.ask([take.id], 3) == 1
    assert studio.hearings.counts(3) == {"waiting": 1, "hearing": 0, "heard": 0, "failed": 0}
    assert studio.hearings.left_s(3) == 12.0
    assert studio.queue.claim("w") == shown
    assert studio.queue.still_hearing(take.id, "w", 0.5)
    assert studio.queue.took_heard(take.id, NEW, 12.5, worker="w")
    other = the_other(studio, take)
    assert (other.status, other.heard, other.seconds, other.ear) == ("heard", NEW, 12.5, 3)
    assert studio.takes.get(take.id) == shown
    assert studio.hearings.finished(3, place.clock.at) == [(take.id, place.clock.at, 12.0)]
    assert studio.queue.claim("w") is None


def test_nothing_is_heard_twice_by_one_ear(place: Place) -> None:
    """Asked again, by two at once or after it was heard, there is nothing new."""
    studio = place.create()
    takes = [take.id for take in heard_takes(place, studio, 3)]
    assert studio.hearings.ask(takes[:2], 3) == 2
    assert place.open().hearings.ask(takes, 3) == 1
    claimed = [studio.queue.claim(f"w{k}") for k in range(4)]
    assert sorted(each.id for each in claimed if each is not None) == sorted(takes)
    for k, each in enumerate(claimed[:3]):
        assert each is not None
        assert studio.queue.took_heard(each.id, NEW, 1.0, worker=f"w{k}")
        assert not studio.queue.took_heard(each.id, OLD, 1.0, worker=f"w{k}")
    assert studio.hearings.ask(takes, 3) == 0
    assert studio.hearings.ask(takes, 4) == 3


def test_a_take_that_waits_is_claimed_before_all_that_is_heard_beside(place: Place) -> None:
    studio = place.create()
    first, second = heard_takes(place, studio, 2)
    studio.hearings.ask([first.id, second.id], 3)
    place.clock.move(hours=1)
    late, _ = studio.takes.receive(a_new_take(first.student_id, "late"), b"late sound")
    claimed = [studio.queue.claim(f"w{k}") for k in range(3)]
    assert next(each.id for each in claimed if each is not None) == late.id
    assert {each.id for each in claimed if each is not None} == {late.id, first.id, second.id}


def test_a_worker_that_dies_loses_its_claim_and_nothing_else(place: Place) -> None:
    studio = place.create()
    (take,) = heard_takes(place, studio, 1)
    studio.hearings.ask([take.id], 3)
    assert studio.queue.claim("dead") is not None
    assert studio.queue.claim("other") is None
    place.clock.move(seconds=STALE.total_seconds() + 1)
    assert studio.queue.claim("other") is not None
    assert not studio.queue.took_heard(take.id, OLD, 1.0, worker="dead")
    assert studio.queue.give_back("other") == 1
    for k in range(MOST_TRIES - 1):
        assert studio.queue.claim(f"w{k}") is not None
        assert studio.queue.give_back(f"w{k}", blamed=True) == 1
    assert studio.queue.claim("last") is None
    other = the_other(studio, take)
    assert other.status == "failed"
    assert "broke off" in (other.reason or "")
    assert studio.takes.get(take.id).status == "heard"


def test_one_that_cannot_be_heard_says_why_and_what_is_shown_stays(place: Place) -> None:
    studio = place.create()
    (take,) = heard_takes(place, studio, 1)
    studio.hearings.ask([take.id], 3)
    studio.queue.claim("w")
    assert studio.queue.took_failed(take.id, "nothing sounds", worker="w")
    assert (the_other(studio, take).status, the_other(studio, take).reason) == ("failed", "nothing sounds")
    shown = studio.takes.get(take.id)
    assert (shown.status, shown.heard, shown.reason) == ("heard", OLD, None)
    with pytest.raises(NotFound, match="this version"):
        studio.hearings.exchange(take.id, the_other(studio, take).id, ear_in)


def test_versions_are_exchanged_and_exchanged_back(place: Place) -> None:
    """The teacher's corrections go with the version that they were made in; caches know it as another."""
    studio = place.create()
    (take,) = heard_takes(place, studio, 1)
    studio.takes.change(take.id, corrected=True)
    studio.hearings.ask([take.id], 3)
    studio.queue.claim("w")
    studio.queue.took_heard(take.id, NEW, 12.5, worker="w")
    other, before = the_other(studio, take), studio.takes.get(take.id)
    place.clock.move(minutes=1)
    after = studio.hearings.exchange(take.id, other.id, ear_in)
    assert (after.heard, after.seconds, after.corrected) == (NEW, 12.5, False)
    was = the_other(studio, take)
    assert (was.id, was.ear, was.heard, was.corrected) == (other.id, 2, OLD, True)
    assert was.replaced_at == place.clock.at
    assert asked_of(after) != asked_of(before)
    place.clock.move(minutes=1)
    back = studio.hearings.exchange(take.id, other.id, ear_in)
    assert (back.heard, back.seconds, back.corrected) == (OLD, 12.0, True)
    assert the_other(studio, take).ear == 3
    assert len({asked_of(before), asked_of(after), asked_of(back)}) == 3


def test_heard_again_as_something_else_the_other_versions_go(place: Place) -> None:
    """They are of what was asked before; one that waits is not heard meanwhile."""
    studio = place.create()
    (take,) = heard_takes(place, studio, 1)
    studio.hearings.ask([take.id], 3)
    studio.queue.hear_again(take.id, exercise="1/8: RRLL", tempo="1/8=90", click="none")
    claimed = studio.queue.claim("w")
    assert claimed is not None
    assert (claimed.status, claimed.exercise) == ("hearing", "1/8: RRLL")
    assert studio.queue.claim("x") is None
    with pytest.raises(WrongOptions, match="being heard"):
        _exchange_a_heard_one(studio, take)
    assert studio.queue.took_heard(take.id, NEW, 1.0, worker="w")
    assert studio.hearings.of_takes([take.id]) == []
    assert asked_of(studio.takes.get(take.id)) != asked_of(claimed)


def _exchange_a_heard_one(studio: Studio, take: StudioTake) -> None:
    with studio.data.database.writing() as connection:
        connection.execute(text("UPDATE hearings SET status = 'heard', heard = (SELECT heard FROM takes)"))
    studio.hearings.exchange(take.id, the_other(studio, take).id, ear_in)


def test_what_waits_can_be_let_go_and_goes_with_its_take(place: Place) -> None:
    studio = place.create()
    first, second, third = heard_takes(place, studio, 3)
    studio.hearings.ask([first.id, second.id, third.id], 3)
    studio.queue.claim("w")
    assert studio.hearings.take_back(3) == 2
    (held,) = studio.hearings.take_ids()
    studio.takes.delete(held)
    assert studio.hearings.take_ids() == []
    assert not studio.queue.took_heard(held, NEW, 1.0, worker="w")


def test_the_step_that_makes_their_table_is_taken_with_walls_up(place: Place) -> None:
    """A school's takes have their studio in their key by then."""
    studio = place.create()
    (take,) = heard_takes(place, studio, 1)
    for act in (lambda connection: downgrade(connection, "0013"), upgrade):
        with studio.data.database.changing() as connection:
            act(connection)
    assert studio.hearings.ask([take.id], 3) == 1
    studio.students.erase(take.student_id)
    assert studio.hearings.take_ids() == []
