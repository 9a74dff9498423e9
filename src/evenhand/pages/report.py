"""The report: one page that says what was heard in a take, shows it, and lists every figure.

The page needs no network and no script. It is HTML with inline SVG; two layouts of the
folded picture, one engraved wide and one narrow, are shown by the width of the screen.
"""

from __future__ import annotations

from evenhand.domain.engraved import EngravedExercise
from evenhand.domain.heard_take import HeardTake
from evenhand.pages.blind import blind_words, hits_table, time_line
from evenhand.pages.face import face_rules
from evenhand.pages.figures import count, duration
from evenhand.pages.findings import findings_list
from evenhand.pages.markup import el, esc, prose
from evenhand.pages.method import cautions, method
from evenhand.pages.picture import folded_figure
from evenhand.pages.start_to_end import start_to_end
from evenhand.pages.style import STYLE
from evenhand.pages.table import figures_table
from evenhand.pages.words import top_sentence
from evenhand.pages.words_findings import finding_words, remedy_words

WIDE_ENGRAVING_PX = 1000
NARROW_ENGRAVING_PX = 340
LONGEST_TEXT = 320


def report_page(
    heard_take: HeardTake,
    engraved_wide: EngravedExercise | None,
    engraved_narrow: EngravedExercise | None,
) -> str:
    """Return the report of a take as one self-contained HTML page.

    The engravings are of the take's exercise, the wide one for a desk
    (``WIDE_ENGRAVING_PX``), the narrow for a phone (``NARROW_ENGRAVING_PX``), with ids of
    their own; where one is missing, plain heads and letters stand in for it.
    """
    body = [_head(heard_take), *_sections(heard_take, engraved_wide, engraved_narrow)]
    return "<!doctype html>\n" + el(
        "html",
        el(
            "head",
            el("meta", charset="utf-8"),
            el("meta", name="viewport", content="width=device-width, initial-scale=1"),
            el("title", esc(f"{heard_take.name}: what was heard")),
            el("style", face_rules() + STYLE),
        ),
        "\n",
        el("body", el("main", *(part + "\n" for part in body if part))),
        lang="en",
    )


def _sections(take: HeardTake, wide: EngravedExercise | None, narrow: EngravedExercise | None) -> list[str]:
    if take.exercise is None:
        middle = [_blind(take)]
    else:
        middle = [
            folded_figure(take, wide, narrow),
            start_to_end(take),
        ]
    return [
        *middle,
        _section("What was heard", findings_list(take), "heard") if _more_than_said(take) else "",
        _section("Take care", cautions(take), "care"),
        _section("The figures", figures_table(take.measures), "figures") if take.measures else "",
        _section("How it was measured", method(take), "method"),
    ]


def _head(take: HeardTake) -> str:
    parts = [el("p", esc(take.name), class_="name"), el("h1", prose(top_sentence(take)))]
    if take.exercise_text:
        parts.append(el("p", el("span", esc(_short(take.exercise_text)), class_="sticking"), class_="facts"))
    parts.append(el("p", " · ".join(prose(fact) for fact in _facts(take)), class_="facts"))
    if take.heard.unlike is not None and take.findings and take.findings[0].remark != take.heard.unlike:
        parts.append(el("p", prose(finding_words(take.findings[0], take.exercise)), class_="notice"))
    return el("header", *parts)


def _facts(take: HeardTake) -> list[str]:
    repetitions = {hit.repetition for hit in take.heard.hits if hit.repetition is not None}
    facts = []
    if take.tempo is not None:
        facts.append(f"asked for at {take.tempo}")
    if take.heard.tempo_bpm is not None:
        facts.append(f"played at {take.heard.tempo_bpm:.1f}")
    if repetitions:
        facts.append(count(len(repetitions), "repetition"))
    facts.append(f"{duration(take.input.seconds)} recorded")
    return facts


def _short(text: str) -> str:
    """Return an exercise's text, cut where the music says it better."""
    return text if len(text) <= LONGEST_TEXT else f"{text[:LONGEST_TEXT].rstrip()} …"


def _more_than_said(take: HeardTake) -> bool:
    """Tell whether the findings hold more than the sentence on top."""
    if len(take.findings) != 1:
        return bool(take.findings)
    only = take.findings[0]
    if remedy_words(only, take.exercise) or only.evidence is not None:
        return True
    return finding_words(only, take.exercise) != top_sentence(take)


def _section(title: str, inside: str, key: str) -> str:
    if not inside:
        return ""
    return el(
        "section", el("h2", esc(title), id=f"h-{key}"), inside, class_=f"of-{key}", aria_labelledby=f"h-{key}"
    )


def _blind(take: HeardTake) -> str:
    """Return the page's middle where no exercise was given: the hits along time."""
    words = blind_words(take.heard)
    said = " ".join(words)
    layouts = [
        el(
            "div",
            time_line(take.heard, key=f"{key}-time", width=width, seconds_a_row=seconds, words=said),
            class_=f"layout {key}",
        )
        for key, width, seconds in (("desk", 1000.0, 10.0), ("phone", 340.0, 4.0))
    ]
    caption = (
        "Each upright stick is a hit, along the time of the recording; the taller, the louder. "
        "No exercise was given, so hands are not told apart and nothing is early or late."
    )
    if take.heard.clicks_s:
        caption += " The small marks under the line are clicks."
    return el(
        "figure",
        *layouts,
        el("figcaption", el("p", prose(caption)), el("p", prose(said))),
    ) + el(
        "details",
        el("summary", "Every hit in figures"),
        el("div", hits_table(take.heard), class_="scroll", tabindex=0, role="region", aria_label="Every hit"),
        class_="tables",
    )
