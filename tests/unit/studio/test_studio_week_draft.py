"""A week's form comes back as it was typed."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from evenhand.studio.weeks.day import HEAD, draft_text, read_draft
from evenhand.studio.weeks.typed import TypedRow, TypedWeek

# a form's fields come stripped; a day's rows stand together
words = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=20).map(str.strip)
rows = st.builds(
    TypedRow, st.just(1), words, words, st.sampled_from(["72", "fast", ""]), words, words, words, words
)


@given(st.fixed_dictionaries(dict.fromkeys(HEAD, words)), st.lists(rows, max_size=5))
def test_what_was_typed_is_read_back_as_it_was(head: dict[str, str], typed: list[TypedRow]) -> None:
    week = TypedWeek(tuple(typed), 3)
    assert read_draft(draft_text(head, week)) == (head, week)
    assert read_draft(draft_text(head, None)) == (head, None)


def test_another_text_is_none() -> None:
    for text in ("", "[]", "{}", '{"head": []}', '{"head": {}, "days": 1, "rows": [{"day": 1}]}', "1"):
        assert read_draft(text) is None, text
