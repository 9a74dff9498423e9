"""Named faults for an invented player: ``late-hand=L:9`` and its like, one row each.

Sizes are in the fault's own unit: ms, dB, beats a minute per minute, a share, percent.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from evenhand.errors import WrongUse
from evenhand.music.exercise import HANDS, Hand
from evenhand.synthesis.playing import Player

Apply = Callable[[Player, str], Player]


@dataclass(frozen=True)
class Fault:
    """One kind of fault: what it means, how its value is written, what it does to a player.

    ``usual`` is the value taken where only the name is given.
    """

    meaning: str
    form: str
    usual: str
    apply: Apply


def with_faults(player: Player, faults: Iterable[str]) -> Player:
    """Return the player with named faults, such as ``weak-second=4`` or ``stop``.

    >>> with_faults(Player(), ["late-hand=L:9"]).late_ms["L"]
    9.0
    """
    for text in faults:
        name, given, value = text.strip().partition("=")
        fault = FAULTS.get(name)
        if fault is None:
            raise WrongUse(f"fault: got {name!r}; must be one of {', '.join(FAULTS)}.")
        try:
            player = fault.apply(player, value if given else fault.usual)
        except ValueError:
            raise WrongUse(
                f"fault {name}: got {value!r}; must be {fault.form}, such as {name}={fault.usual}."
            ) from None
    return player


def _size(text: str) -> float:
    """Read a size: a finite number of 0 or more."""
    size = float(text)
    if not math.isfinite(size) or size < 0:
        raise ValueError(text)
    return size


def _share(text: str) -> float:
    share = _size(text)
    if share > 1:
        raise ValueError(text)
    return share


def _hand_and_size(text: str) -> tuple[Hand, float]:
    hand, _, size = text.partition(":")
    if hand not in HANDS:
        raise ValueError(text)
    return hand, _size(size)


def _sets(name: str, sign: float = 1.0, read: Callable[[str], float] = _size, **also: object) -> Apply:
    """Make a fault that sets one figure of the player."""
    return lambda player, text: replace(player, **{name: sign * read(text)}, **also)  # type: ignore[arg-type]


def _adds(name: str, sign: float = 1.0) -> Apply:
    """Make a fault that adds to one hand's figure."""

    def more(player: Player, text: str) -> Player:
        hand, size = _hand_and_size(text)
        old = getattr(player, name)
        return replace(player, **{name: {**old, hand: old[hand] + sign * size}})  # type: ignore[arg-type]

    return more


def _wandering_hand(player: Player, text: str) -> Player:
    hand, sd_ms = _hand_and_size(text)
    return replace(player, hand_sd_ms={**player.hand_sd_ms, hand: sd_ms})


def _off_tempo(player: Player, text: str) -> Player:
    percent = float(text)
    if not -50 <= percent <= 100:
        raise ValueError(text)
    return replace(player, tempo_ratio=1 + percent / 100)


def _tiring(player: Player, text: str) -> Player:
    growth = _size(text)
    if growth < 1:
        raise ValueError(text)
    return replace(player, fatigue_spread=growth, fatigue_db=growth)


def _stop(player: Player, text: str) -> Player:
    repetition, position, pause_s = text.split(":")
    stop = (int(repetition), int(position), _size(pause_s))
    return replace(player, stops=(*player.stops, stop))


def _begins_at(player: Player, text: str) -> Player:
    return replace(player, start_position=int(text))


_HAND_DB, _HAND_MS = "a hand and dB", "a hand and ms"
_DB, _MS, _SHARE = "dB, 0 or more", "ms, 0 or more", "a share from 0 to 1"
_CHANGE = "beats a minute, per minute"

FAULTS: Mapping[str, Fault] = {
    "weak-hand": Fault("one hand is softer", _HAND_DB, "L:4", _adds("level_db", -1.0)),
    "late-hand": Fault("one hand comes late", _HAND_MS, "L:9", _adds("late_ms")),
    "early-hand": Fault("one hand comes early", _HAND_MS, "R:9", _adds("late_ms", -1.0)),
    "wandering-hand": Fault("one hand's times spread (standard deviation)", _HAND_MS, "L:9", _wandering_hand),
    "weak-second": Fault("the second note of doubles is softer", _DB, "4", _sets("second_db", -1.0)),
    "crushed-second": Fault(
        "the second note of doubles comes early", _MS, "15", _sets("second_late_ms", -1.0)
    ),
    "late-second": Fault("the second note of doubles comes late", _MS, "15", _sets("second_late_ms")),
    "soft-first": Fault("the first repetition is softer", _DB, "8", _sets("first_db", -1.0)),
    "rough-level": Fault("levels spread (standard deviation)", _DB, "2.5", _sets("level_sd_db")),
    "flat-accents": Fault("accents stand out by only so much", _DB, "2", _sets("accent_db")),
    "hurrying": Fault(
        "gets faster, click or not", _CHANGE, "6", _sets("drift_bpm_per_min", follow_click=False)
    ),
    "dragging": Fault(
        "gets slower, click or not", _CHANGE, "6", _sets("drift_bpm_per_min", -1.0, follow_click=False)
    ),
    "off-tempo": Fault("plays at another tempo than asked", "percent from -50 to 100", "8", _off_tempo),
    "tiring": Fault("spread grows by this factor and as many dB are lost", "1 or more", "2.5", _tiring),
    "missed": Fault("leaves out this share of notes", _SHARE, "0.03", _sets("miss_rate", read=_share)),
    "extra": Fault(
        "adds stray hits after this share of notes", _SHARE, "0.03", _sets("extra_rate", read=_share)
    ),
    "flam-gap": Fault("graces come this far ahead", _MS, "55", _sets("grace_gap_ms")),
    "stop": Fault(
        "breaks off before a note, waits, begins again",
        "repetition:position:pause in seconds",
        "2:2:1.5",
        _stop,
    ),
    "begins-at": Fault("begins in the middle", "a position from 0", "2", _begins_at),
}
