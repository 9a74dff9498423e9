"""The report: one page that says what was heard in a take, shows it, and lists every figure.

The page needs no network and no script. It is HTML with inline SVG; two layouts of the
folded picture, one engraved wide and one narrow, are shown by the width of the screen.
On a student's stand the same is a part of a page: in a student's words, the picture for a phone, and the
figures behind a fold.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from evenhand.errors import CannotEngrave
from evenhand.measuring.values import Finding, HeardTake, Measure
from evenhand.music.engraving.engrave import engrave
from evenhand.music.engraving.engraved import EngravedExercise
from evenhand.report.plots.markup import el, esc, prose
from evenhand.report.plots.shell import facts_line, fold, page, page_head, prose_lines, section
from evenhand.report.take.layout import interval_of
from evenhand.report.take.picture import NOT_SEEN, figures_of_notes, folded_figure, simple_figure
from evenhand.report.take.small import blind_figure, time_line
from evenhand.report.take.start_to_end import start_to_end
from evenhand.report.take.table import figures_table, findings_list, remedy_line
from evenhand.report.words.figures import PLAYING_CAUTION, count, duration, plain
from evenhand.report.words.findings import finding_words, remedy_words
from evenhand.report.words.remarks import all_remarks, doubts_of
from evenhand.report.words.take import blind_sentence, said_to_student, top_sentence
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


def cautions(take: HeardTake, more: Sequence[str] = ()) -> str:
    """Return what to be careful with: in this take's figures, and for body and ears."""
    items = [el("li", prose(words)) for words in (*doubts_of(take), *more)]
    return el("ul", *items, el("li", prose(PLAYING_CAUTION)), class_="cautions")


def method(take: HeardTake, more: Mapping[str, str] = MappingProxyType({})) -> str:
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
    terms |= more
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
        parts.append(count(facts.channels, "channel"))
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
STAND_WIDTH_PX, STAND_ROW_S = 340.0, 4.0  # of the hits along time, on a phone's stand


@dataclass(frozen=True, slots=True)
class Seen:
    """What a video adds to a report: a section, each note's height in cm, cautions, methods."""

    inside: str
    heights: Mapping[int, Measure]
    cautions: Sequence[str]
    method: Mapping[str, str]


HEARD_ONLY = Seen("", NOT_SEEN, (), MappingProxyType({}))


def report_page(
    heard_take: HeardTake,
    engraved_wide: EngravedExercise | None,
    engraved_narrow: EngravedExercise | None,
    seen: Seen = HEARD_ONLY,
) -> str:
    """Return the report of a take as one self-contained HTML page.

    The engravings are of the take's exercise, the wide one for a desk
    (``WIDE_ENGRAVING_PX``), the narrow for a phone (``NARROW_ENGRAVING_PX``), with ids of
    their own; where one is missing, plain heads and letters stand in for it.
    """
    take = heard_take
    picture = ""
    if take.exercise is not None:
        picture = folded_figure(take, engraved_wide, engraved_narrow, seen.heights)
    return page(
        f"{take.name}: what was heard",
        _head(take),
        blind_figure(take) if take.exercise is None else picture + start_to_end(take),
        section("What was seen", seen.inside, "seen"),
        section("What was heard", findings_list(take) if _more_than_said(take) else "", "heard"),
        section("Take care", cautions(take, seen.cautions), "care"),
        section("The figures", figures_table(take.measures) if take.measures else "", "figures"),
        section("How it was measured", method(take, seen.method), "method"),
    )


def _head(take: HeardTake) -> str:
    lines = []
    if take.exercise_text:
        lines.append(el("p", el("span", esc(_short(take.exercise_text)), class_="sticking"), class_="facts"))
    lines.append(facts_line(facts_of(take)))
    if take.heard.unlike is not None and take.findings and take.findings[0].remark != take.heard.unlike:
        lines.append(el("p", prose(finding_words(take.findings[0], take.exercise)), class_="notice"))
    return page_head(take.name, top_sentence(take), *lines)


def facts_of(take: HeardTake) -> list[str]:
    """Say in a few words what was asked for, and how much there is."""
    repetitions = {hit.repetition for hit in take.heard.hits if hit.repetition is not None}
    facts = [f"asked for at {take.tempo}"] if take.tempo is not None else []
    if take.heard.tempo_bpm is not None:
        facts.append(f"played at {take.heard.tempo_bpm:.1f}")
    if repetitions:
        facts.append(count(len(repetitions), "repetition"))
    return [*facts, f"{duration(take.input.seconds)} recorded"]


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


def report_text(take: HeardTake, seen: Seen = HEARD_ONLY) -> str:
    """Return the report as one self-contained HTML page."""
    return report_page(
        take, _engraved(take, WIDE_ENGRAVING_PX, "w"), _engraved(take, NARROW_ENGRAVING_PX, "n"), seen
    )


def _engraved(take: HeardTake, width_px: int, id_prefix: str) -> EngravedExercise | None:
    """Engrave the take's exercise; the page does without where there is none, or it cannot be drawn."""
    if take.exercise is None or take.tempo is None:
        return None
    try:
        return engrave(take.exercise, width=width_px, tempo=take.tempo, id_prefix=id_prefix)
    except CannotEngrave:
        return None


def stand_result(take: HeardTake, narrow: EngravedExercise | None, *, practise: bool = True) -> str:
    """Return what was heard in a take: words, picture, what else there is; then its figures, folded.

    ``practise``: say what to practise for it, too.
    """
    sentence = top_sentence(take)
    said_first = bool(take.findings) and finding_words(take.findings[0], take.exercise) == sentence
    shown = [_student_finding(finding, take, practise=practise) for finding in take.findings]
    top = _listed(shown[:1]) if said_first else el("p", prose(sentence), class_="said")
    rest = _listed(shown[1:] if said_first else shown)
    picture = _student_blind(take) if take.exercise is None else simple_figure(take, narrow)
    return el(
        "div",
        el("div", top, class_="top"),
        picture,
        rest,
        _student_figures(take, practise=practise),
        class_="heard",
    )


def _listed(items: list[str]) -> str:
    return el("ol", *items, class_="findings") if items else ""


def _student_finding(finding: Finding, take: HeardTake, *, practise: bool) -> str:
    """Say a finding to the student, and what to practise."""
    said = el("p", prose(said_to_student(finding, take.exercise)), class_="said")
    return el("li", said, remedy_line(finding, take.exercise) if practise else "")


def _student_figures(take: HeardTake, *, practise: bool) -> str:
    """Fold away what a teacher reads: each finding's figure, range and count, and each note's."""
    warnings = prose_lines(all_remarks(take.heard.warnings), "facts")
    inside = findings_list(take, practise=practise) + warnings + figures_of_notes(take)
    return fold("The figures", inside, class_="in-figures") if inside else ""


def _student_blind(take: HeardTake) -> str:
    """Draw the hits along time, where no exercise was given."""
    drawn = time_line(
        take.heard,
        key="stand-time",
        width=STAND_WIDTH_PX,
        seconds_a_row=STAND_ROW_S,
        words=blind_sentence(take),
    )
    return el("figure", el("div", drawn, class_="layout phone"))
