"""How a take was measured: clock, definitions, the recording's facts, warnings, version."""

from __future__ import annotations

from evenhand.domain.cautions import PLAYING_CAUTION
from evenhand.domain.heard_take import HeardTake
from evenhand.domain.take import InputFacts
from evenhand.pages.figures import duration, plain
from evenhand.pages.markup import el, esc, prose
from evenhand.pages.scale import interval_of
from evenhand.pages.words_remarks import doubts_of

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
