"""What was heard, on the student's stand: the first finding, the folded picture, then the rest.

It is a part of a page, drawn for a phone; its style sheet is the stand's.
"""

from __future__ import annotations

from dataclasses import replace

from evenhand.domain.engraved import EngravedExercise
from evenhand.domain.heard_take import HeardTake
from evenhand.pages.blind import time_line
from evenhand.pages.findings import findings_list
from evenhand.pages.markup import el, prose
from evenhand.pages.picture import folded_figure
from evenhand.pages.words import blind_sentence, top_sentence

BLIND_WIDTH_PX, BLIND_ROW_S = 340.0, 4.0


def stand_result(take: HeardTake, narrow: EngravedExercise | None) -> str:
    """Return what was heard in a take: words, picture, findings."""
    sentence = top_sentence(take)
    said_first = bool(take.findings) and take.findings[0].text == sentence
    if said_first:
        top = findings_list(replace(take, findings=take.findings[:1]))
    else:
        top = el("p", prose(sentence), class_="said")
    rest = findings_list(replace(take, findings=take.findings[1:])) if said_first else findings_list(take)
    picture = _blind(take) if take.exercise is None else folded_figure(take, None, narrow)
    warnings = "".join(el("p", prose(warning), class_="facts") for warning in take.heard.warnings)
    return el("div", el("div", top, class_="top"), picture, rest, warnings, class_="heard")


def _blind(take: HeardTake) -> str:
    """Draw the hits along time, where no exercise was given."""
    drawn = time_line(
        take.heard,
        key="stand-time",
        width=BLIND_WIDTH_PX,
        seconds_a_row=BLIND_ROW_S,
        words=blind_sentence(take),
    )
    return el("figure", drawn)
