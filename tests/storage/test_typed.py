"""What is typed into a week's form is there when its page is opened again."""

from __future__ import annotations

import pytest

from evenhand.errors import NotFound, WrongOptions
from evenhand.studio.store.studio import Studio
from tests.places import Place


def test_what_was_typed_last_is_kept_for_each_week_of_each_student(place: Place) -> None:
    studio = place.create()
    ida, una = studio.students.add("Ida Quill"), studio.students.add("Una Marsh")
    studio.weeks.keep_draft(ida.id, "", "{}")
    place.clock.move(minutes=1)
    studio.weeks.keep_draft(ida.id, "w1", '{"words": "slower"}')
    studio.weeks.keep_draft(una.id, "", '{"words": "other"}')
    place.clock.move(minutes=1)
    studio.weeks.keep_draft(ida.id, "", '{"words": "softer"}')
    found = place.open().weeks.drafts(ida.id)
    assert [(draft.of_week, draft.form) for draft in found] == [
        ("", '{"words": "softer"}'),
        ("w1", '{"words": "slower"}'),
    ]
    assert found[0].changed_at == place.clock.at


def test_what_one_page_sent_first_does_not_undo_what_it_sent_later(studio: Studio) -> None:
    """Two answers of one page may come in crossed; of two pages, the one typed into last counts."""
    ida = studio.students.add("Ida Quill")
    assert studio.weeks.keep_draft(ida.id, "", "later", page="a", stamp=2) is not None
    assert studio.weeks.keep_draft(ida.id, "", "earlier", page="a", stamp=1) is None
    assert [draft.form for draft in studio.weeks.drafts(ida.id)] == ["later"]
    studio.weeks.keep_draft(ida.id, "", "of another page", page="b", stamp=1)
    assert [draft.form for draft in studio.weeks.drafts(ida.id)] == ["of another page"]


def test_what_was_dropped_is_not_brought_back_by_what_was_on_its_way(studio: Studio) -> None:
    ida = studio.students.add("Ida Quill")
    studio.weeks.keep_draft(ida.id, "", "typed", page="a", stamp=1)
    studio.weeks.drop_draft(ida.id, "", page="a")
    assert studio.weeks.keep_draft(ida.id, "", "on its way", page="a", stamp=2) is None
    assert studio.weeks.drafts(ida.id) == []
    studio.weeks.keep_draft(ida.id, "", "typed anew", page="b")
    assert [draft.form for draft in studio.weeks.drafts(ida.id)] == ["typed anew"]
    studio.weeks.drop_draft(ida.id, "never typed")


def test_what_was_typed_goes_with_the_student(studio: Studio) -> None:
    ida = studio.students.add("Ida Quill")
    studio.weeks.keep_draft(ida.id, "", "typed")
    studio.students.erase(ida.id)
    assert studio.weeks.drafts(ida.id) == []
    with pytest.raises(NotFound):
        studio.weeks.keep_draft(ida.id, "", "typed")


def test_text_that_no_database_holds_is_refused(studio: Studio) -> None:
    ida = studio.students.add("Ida Quill")
    with pytest.raises(WrongOptions):
        studio.weeks.keep_draft(ida.id, "", "\0")
