"""The row of buttons that writes an exercise for who does not want to type: its signs as a table.

Conventions: what a button does is its row here; ``static/writer.js`` knows the kinds and nothing else. A
``sign`` is written at the place of writing; a ``value`` as well, in the place of one that holds no note yet;
a ``meter`` goes to the front. A ``mark`` is set on the note before that place, or taken off it: ``part`` says
which part of the note it is (docs/exercise-text.md), ``text`` what stands there. Graces are by the other
hand, as many as ``text`` is long. An ``act`` is done with the whole line.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

SignKind = Literal["sign", "value", "meter", "mark", "act"]
NotePart = Literal["", "accent", "graces", "brackets", "sound", "tail"]


@dataclass(frozen=True, slots=True)
class SignButton:
    """One button: what stands on it, what it is called for who listens, and what it does."""

    label: str
    called: str
    text: str
    kind: SignKind = "sign"
    part: NotePart = ""


@dataclass(frozen=True, slots=True)
class SignGroup:
    """Buttons that stand together; those that are seldom needed are folded."""

    name: str
    buttons: tuple[SignButton, ...]
    folded: bool = False


SIGNS: tuple[SignGroup, ...] = (
    SignGroup(
        "Notes",
        (
            SignButton("R", "right hand", "R"),
            SignButton("L", "left hand", "L"),
            SignButton("rest", "a rest", "-"),
            SignButton("|", "a bar line", " | "),
        ),
    ),
    SignGroup(
        "On the last note",
        (
            SignButton(">", "accent", ">", "mark", "accent"),
            SignButton("flam", "flam", "g", "mark", "graces"),
            SignButton("drag", "drag", "gg", "mark", "graces"),
            SignButton("buzz", "buzz", "~", "mark", "tail"),
            SignButton("ghost", "ghost note", "()", "mark", "brackets"),
        ),
    ),
    SignGroup(
        "Note value",
        (
            SignButton("1/4", "quarters", "1/4", "value"),
            SignButton("1/8", "eighths", "1/8", "value"),
            SignButton("1/8 triplets", "eighth triplets", "1/12", "value"),
            SignButton("1/16", "sixteenths", "1/16", "value"),
            SignButton("1/16 triplets", "sixteenth triplets", "1/24", "value"),
            SignButton("1/32", "thirty-seconds", "1/32", "value"),
        ),
    ),
    SignGroup(
        "The line",
        (
            SignButton("again", "write it again", "again", "act"),
            SignButton("other hand", "write it again with the hands swapped", "swapped", "act"),
            SignButton("back", "take the last sign away", "back", "act"),
            SignButton("undo", "undo the last press", "undo", "act"),
        ),
    ),
    SignGroup(
        "More signs",
        (
            SignButton("both", "both hands at once", "B"),
            SignButton("hold", "hold the note before", "_"),
            SignButton("^", "strong accent", "^", "mark", "accent"),
            SignButton("roll", "slashed roll", "///", "mark", "tail"),
            SignButton("cross-stick", "cross-stick", "x", "mark", "sound"),
            SignButton("rim", "on the rim", "o", "mark", "sound"),
            SignButton("p", "soft from here", " p "),
            SignButton("f", "loud from here", " f "),
            SignButton("cresc", "louder from here", " cresc "),
            SignButton("dim", "softer from here", " dim "),
            SignButton("1/2", "halves", "1/2", "value"),
            SignButton("dotted 1/8", "dotted eighths", "3/16", "value"),
            SignButton("3/4", "three-four meter", "3/4", "meter"),
            SignButton("4/4", "four-four meter", "4/4", "meter"),
            SignButton("6/8", "six-eight meter", "6/8", "meter"),
        ),
        folded=True,
    ),
)
