"""The report: one page that says what was heard in a take, shows it, and lists every figure.

The page needs no network and no script. It is HTML with inline SVG; two layouts of the
folded picture, one engraved wide and one narrow, are shown by the width of the screen.

How a take was measured: clock, definitions, the recording's facts, warnings, version.

Write the report of a heard take: the music is engraved, the page is built around it.
"""

from __future__ import annotations

from evenhand.errors import CannotEngrave
from evenhand.measuring.values import HeardTake
from evenhand.music.engraving.engrave import engrave
from evenhand.music.engraving.engraved import EngravedExercise
from evenhand.report.plots.marks import interval_of
from evenhand.report.plots.markup import el, esc, prose
from evenhand.report.plots.shell import STYLE, face_rules
from evenhand.report.take.picture import folded_figure
from evenhand.report.take.small import blind_words, hits_table, time_line
from evenhand.report.take.start_to_end import start_to_end
from evenhand.report.take.table import figures_table, findings_list
from evenhand.report.words.figures import PLAYING_CAUTION, count, plain
from evenhand.report.words.findings import finding_words, remedy_words
from evenhand.report.words.remarks import doubts_of
from evenhand.report.words.take import top_sentence
from evenhand.report.words.times import duration
from evenhand.take import InputFacts

TIME = "Where its sound starts: the crossing of 1 % of its peak above 200 Hz."
LEVEL = (
    "The RMS of its first 10 ms above 200 Hz, in dB against full scale, "
    "with noise and the tails of earlier hits taken out."
)
LEVEL_FROM_MIDI = "From the note's velocity: 40 log10(velocity / 127), in dB."
SPREAD = (
    "The standard deviation (n − 1). Grace notes and extra hits stay out of the hands' figures; "
    "where notes are accented, the hands' levels are of the unaccented."
)
INTERVAL = (
    "Where the player's own value lies, as far as this many hits can tell. Where it spans "
    "the edge of what an ear can tell, the page says: can't tell yet."
)
AUDIBLE = (
    "A note out of place by more than 6 ms or 2.5 % of the interval, whichever is more "
    "(Friberg & Sundberg 1995); here the interval is about {} ms. A level by more than about 1 dB."
)
NOTES = "Count from 1 in the exercise, rests too. Doubles: the share is 0.5 where both intervals are equal."


def cautions(take: HeardTake) -> str:
    """Return what to be careful with: in this take's figures, and for body and ears."""
    items = [el("li", prose(words)) for words in doubts_of(take)]
    return el("ul", *items, el("li", prose(PLAYING_CAUTION)), class_="cautions")


def method(take: HeardTake) -> str:
    """Return the definitions and facts behind the figures, as a list of terms."""
    terms = {
        "Recording": _recording(take.input),
        "Clock": _clock(take),
        "A hit's time": TIME,
        "A hit's level": LEVEL_FROM_MIDI if take.input.format == "midi" else LEVEL,
    }
    if take.exercise is not None:
        audible = AUDIBLE.format(plain(interval_of(take), 0))
        terms |= {"Spread": SPREAD, "95 % range": INTERVAL, "Audible": audible, "Notes": NOTES}
    terms["Heard by"] = f"Evenhand {take.version}"
    return el(
        "dl",
        *(el("dt", esc(term)) + el("dd", prose(words)) for term, words in terms.items()),
        class_="method",
    )


def _recording(facts: InputFacts) -> str:
    parts = [facts.format, duration(facts.seconds)]
    if facts.rate_hz:
        parts.append(f"{facts.rate_hz:,} Hz".replace(",", " "))
    if facts.channels:
        parts.append("1 channel" if facts.channels == 1 else f"{facts.channels} channels")
    if facts.channel_used:
        parts.append(f"heard: {facts.channel_used}")
    return ", ".join(parts)


def _clock(take: HeardTake) -> str:
    clicks = len(take.heard.clicks_s)
    heard = f" {clicks} clicks were heard." if clicks else ""
    if take.heard.clock == "click":
        return f"The click that sounds through the playing.{heard}"
    if take.heard.clock == "smooth":
        return (
            "No click through the playing: the take's own smooth tempo, a straight line through the "
            "neighbouring notes of both hands, separately between stops. So means of timing only compare "
            f"the hands with each other.{heard}"
        )
    return f"None: heard without an exercise, nothing is early or late.{heard}"


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


def report_text(take: HeardTake) -> str:
    """Return the report as one self-contained HTML page."""
    return report_page(
        take, _engraved(take, WIDE_ENGRAVING_PX, "w"), _engraved(take, NARROW_ENGRAVING_PX, "n")
    )


def _engraved(take: HeardTake, width_px: int, id_prefix: str) -> EngravedExercise | None:
    """Engrave the take's exercise; the page does without where there is none, or it cannot be drawn."""
    if take.exercise is None or take.tempo is None:
        return None
    try:
        return engrave(take.exercise, width=width_px, tempo=take.tempo, id_prefix=id_prefix)
    except CannotEngrave:
        return None
