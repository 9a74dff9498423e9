"""The page as a whole: it stands alone, it can be read, and it says first what matters first."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from evenhand.measuring.values import HeardTake
from evenhand.report.take.report import report_page
from evenhand.report.words.findings import finding_words
from evenhand.take import Heard
from tests.builders import a_remark
from tests.unit.measuring.takes import BLIND, EVEN, GOOD, LATE, LATE_LEFT, TAKES, Played, take_of
from tests.unit.pages.reading import SVG, Page, drawings

LIMIT_BYTES = 300_000


def page_of(take: HeardTake) -> str:
    """Return a take's page without engraving."""
    return report_page(take, None, None)


@pytest.fixture(params=TAKES, scope="module")
def page(request: pytest.FixtureRequest) -> str:
    return page_of(TAKES[request.param])


def test_a_page_is_html_whose_tags_close_and_whose_ids_are_its_own(page: str) -> None:
    read = Page(page)
    assert len(read.ids) == len(set(read.ids))
    assert set(read.described) <= set(read.ids)


def test_a_page_asks_nothing_of_a_network_and_runs_nothing(page: str) -> None:
    read = Page(page)
    assert read.references == []
    assert not {"script", "link", "iframe", "img", "object"} & set(read.tags)
    assert "url(" not in re.sub(
        r"url\(data:font/woff2;base64,[A-Za-z0-9+/=]+\)", "", page
    )  # the face is inside
    assert "@import" not in page
    assert set(re.findall(r"https?://[^\"' ]+", page)) <= {
        "http://www.w3.org/2000/svg"
    }  # a name, never fetched


def test_every_picture_has_its_words(page: str) -> None:
    for drawing in drawings(page):
        if drawing.attrib.get("aria-hidden") == "true":
            continue
        assert drawing.attrib["role"] == "img"
        for name in ("title", "desc"):
            words = drawing.find(f"{SVG}{name}")
            assert words is not None
            assert len(words.text or "") > 10


def test_the_first_finding_is_the_sentence_on_top() -> None:
    page = page_of(take_of(Played(repetitions=3), LATE_LEFT, EVEN))
    assert _top(page) == finding_words(LATE_LEFT, LATE.exercise)


def test_an_even_take_says_so_and_needs_no_list() -> None:
    page = page_of(GOOD)
    assert _top(page) == finding_words(EVEN, LATE.exercise)
    assert "What was heard" not in page


def test_without_findings_only_a_take_known_to_be_even_is_called_even() -> None:
    assert _top(page_of(replace(GOOD, findings=()))) == "Even to the ear."
    assert _top(page_of(replace(LATE, findings=()))) == "189 hits heard."  # 9 ms between the hands
    assert _top(page_of(replace(GOOD, findings=(), measures=None))) == "Too few hits to judge."


def test_a_take_of_something_else_says_that_first() -> None:
    other = "This does not sound like the exercise: 41 of 64 notes unmatched."
    page = page_of(replace(LATE, heard=replace(LATE.heard, unlike=a_remark(other))))
    assert _top(page) == other
    assert finding_words(LATE_LEFT, LATE.exercise) in Page(page).text


def test_a_blind_take_counts_its_strokes_and_judges_nothing() -> None:
    read = Page(page_of(BLIND))
    assert _top(read.source) == "189 hits in 41 s."  # 12 x 16 written, 3 left out
    assert "nothing is early or late" in read.text
    assert "The figures" not in read.text


@pytest.mark.parametrize("take", [GOOD, BLIND])
def test_a_take_in_which_nothing_was_heard_has_a_page(take: HeardTake) -> None:
    page = page_of(replace(take, heard=Heard(hits=()), measures=None, findings=()))
    assert _top(page) == "No hits were heard."
    Page(page)


def test_names_and_texts_cannot_break_out_of_the_page() -> None:
    evil = "</title><script>alert('x')</script>\x00\udce4.wav"
    heard = replace(
        LATE.heard,
        warnings=(a_remark("<b>loud</b>"),),
        ambiguity=a_remark('"><script>1</script>'),
    )
    take = replace(LATE, name=evil, exercise_text="<i>1/8: R</i>", heard=heard)
    page = page_of(take)
    read = Page(page)
    assert "script" not in read.tags
    assert not {"b", "i"} & set(read.tags)
    assert "</title><script>alert('x')</script>" in read.text
    page.encode("utf-8")


def test_doubts_and_the_care_for_hands_and_ears_are_said() -> None:
    take = replace(
        LATE,
        input=replace(LATE.input, warnings=("Clipped in 12 places.",)),
        heard=replace(
            LATE.heard,
            ambiguity=a_remark("The hands could be the other way round."),
            warnings=(a_remark("Noisy."),),
        ),
    )
    care = Page(page_of(take)).section("care")
    assert "Clipped in 12 places." in care
    assert "The hands could be the other way round." in care
    assert "Noisy." in care
    assert "stop, rest, and see a clinician" in care


def test_sixty_repetitions_of_sixteen_notes_stay_light() -> None:
    page = page_of(take_of(Played(repetitions=60)))
    assert len(page.encode()) < LIMIT_BYTES


def test_how_it_was_measured_names_recording_clock_and_version() -> None:
    method = Page(page_of(LATE)).section("method")
    for fact in ("wav/pcm_s16le", "44 100", "mean of 2", "The click that sounds through", "Evenhand 0.0.0"):
        assert fact.replace(" ", "\N{NO-BREAK SPACE}") in method.replace(" ", "\N{NO-BREAK SPACE}")


def test_without_a_click_means_are_said_to_be_between_the_hands_only() -> None:
    text = Page(page_of(TAKES["tired"])).text
    assert "timing only compares the hands with each other" in text


def test_no_page_grades(page: str) -> None:
    said = Page(page).text.lower()
    for word in ("score", "stars", "points", "streak", "badge", "perfect", "wrong", "accuracy"):
        assert word not in said


def _top(page: str) -> str:
    found = re.search(r"<h1>(.*?)</h1>", page)
    assert found is not None
    return found[1].replace("\N{NO-BREAK SPACE}", " ")
