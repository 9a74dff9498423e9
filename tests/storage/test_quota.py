"""So much is kept for a student, so much for the studio: what is beyond is refused, and leaves nothing."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest

from evenhand.errors import StudioFull
from evenhand.studio.store.data import Quota
from evenhand.studio.store.studio import Studio
from tests.full_studio import recordings_of
from tests.places import Place
from tests.studios import a_new_take

KB = 1000


def test_a_students_share_is_theirs_alone(studio: Studio) -> None:
    studio.data.quota = Quota(student_bytes=10 * KB, studio_bytes=100 * KB)
    ida, una = studio.students.add("Ida Quill"), studio.students.add("Una Marsh")
    studio.takes.receive(a_new_take(ida.id, "a"), b"a" * 6 * KB)
    with pytest.raises(StudioFull, match="this student's recordings"):
        studio.takes.receive(a_new_take(ida.id, "b"), b"b" * 6 * KB)
    assert len(recordings_of(studio)) == 1
    studio.takes.receive(a_new_take(ida.id, "c"), b"c" * 4 * KB)
    studio.takes.receive(a_new_take(una.id, "a"), b"d" * 6 * KB)


def test_the_studio_has_a_bound_too_and_deleting_makes_room(studio: Studio) -> None:
    studio.data.quota = Quota(student_bytes=100 * KB, studio_bytes=10 * KB)
    ida, una = studio.students.add("Ida Quill"), studio.students.add("Una Marsh")
    take, _ = studio.takes.receive(a_new_take(ida.id, "a"), b"a" * 6 * KB)
    with pytest.raises(StudioFull, match="the studio's recordings"):
        studio.takes.receive(a_new_take(una.id, "b"), b"b" * 6 * KB)
    studio.takes.delete(take.id)
    studio.takes.receive(a_new_take(una.id, "b"), b"b" * 6 * KB)


def test_a_take_sent_again_is_known_even_when_all_is_full(studio: Studio) -> None:
    ida = studio.students.add("Ida Quill")
    first, _ = studio.takes.receive(a_new_take(ida.id, "a"), b"a" * 6 * KB)
    studio.data.quota = Quota(student_bytes=1, studio_bytes=1)
    again, new = studio.takes.receive(a_new_take(ida.id, "a"), b"a" * 6 * KB)
    assert (again.id, new) == (first.id, False)


def test_what_comes_at_once_does_not_pass_together(studio: Studio) -> None:
    studio.data.quota = Quota(student_bytes=10 * KB, studio_bytes=100 * KB)
    ida = studio.students.add("Ida Quill")

    def send(number: int) -> bool:
        try:
            studio.takes.receive(a_new_take(ida.id, f"key {number}"), bytes([number]) * 4 * KB)
        except StudioFull:
            return False
        return True

    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(send, range(8))) == 2


def test_processes_that_share_a_studio_share_its_bound(place: Place) -> None:
    """One has counted before the other adds: what it counted is not all any more."""
    if place.is_sqlite:
        pytest.skip("a SQLite is served by one process")
    first, second = place.create(), place.open()
    for each in (first, second):
        each.data.quota = Quota(student_bytes=100 * KB, studio_bytes=10 * KB)
    ida = first.students.add("Ida Quill")
    first.takes.receive(a_new_take(ida.id, "a"), b"a" * 4 * KB)
    second.takes.receive(a_new_take(ida.id, "b"), b"b" * 4 * KB)
    with pytest.raises(StudioFull, match="the studio's recordings"):
        first.takes.receive(a_new_take(ida.id, "c"), b"c" * 4 * KB)
    second.takes.delete(second.takes.all(ida.id)[0].id)
    first.takes.receive(a_new_take(ida.id, "c"), b"c" * 4 * KB)


def test_what_was_counted_can_be_counted_anew(studio: Studio) -> None:
    studio.data.quota = Quota(student_bytes=100 * KB, studio_bytes=10 * KB)
    ida = studio.students.add("Ida Quill")
    studio.takes.receive(a_new_take(ida.id, "a"), b"a" * 6 * KB)
    studio.data.count_anew()
    with pytest.raises(StudioFull, match="the studio's recordings"):
        studio.takes.receive(a_new_take(ida.id, "b"), b"b" * 6 * KB)
