"""Named faults for an invented player: ``late-hand=L:9`` and its like, one row each.

Sizes are in the fault's own unit: ms, dB, beats a minute per minute, a share, percent.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from evenhand.errors import WrongUse
from evenhand.music.exercise import Hand
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
    if hand == "R":
        return "R", _size(size)
    if hand == "L":
        return "L", _size(size)
    raise ValueError(text)


def _more(old: Mapping[Hand, float], text: str, sign: float) -> Mapping[Hand, float]:
    hand, size = _hand_and_size(text)
    return {**old, hand: old[hand] + sign * size}


def _weak_hand(player: Player, text: str) -> Player:
    return replace(player, level_db=_more(player.level_db, text, -1.0))


def _soft_first(player: Player, text: str) -> Player:
    return replace(player, first_db=-_size(text))


def _late_hand(player: Player, text: str) -> Player:
    return replace(player, late_ms=_more(player.late_ms, text, 1.0))


def _early_hand(player: Player, text: str) -> Player:
    return replace(player, late_ms=_more(player.late_ms, text, -1.0))


def _wandering_hand(player: Player, text: str) -> Player:
    hand, sd_ms = _hand_and_size(text)
    return replace(player, hand_sd_ms={**player.hand_sd_ms, hand: sd_ms})


def _weak_second(player: Player, text: str) -> Player:
    return replace(player, second_db=-_size(text))


def _crushed_second(player: Player, text: str) -> Player:
    return replace(player, second_late_ms=-_size(text))


def _late_second(player: Player, text: str) -> Player:
    return replace(player, second_late_ms=_size(text))


def _rough_level(player: Player, text: str) -> Player:
    return replace(player, level_sd_db=_size(text))


def _flat_accents(player: Player, text: str) -> Player:
    return replace(player, accent_db=_size(text))


def _hurrying(player: Player, text: str) -> Player:
    return replace(player, drift_bpm_per_min=_size(text), follow_click=False)


def _dragging(player: Player, text: str) -> Player:
    return replace(player, drift_bpm_per_min=-_size(text), follow_click=False)


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


def _missed(player: Player, text: str) -> Player:
    return replace(player, miss_rate=_share(text))


def _extra(player: Player, text: str) -> Player:
    return replace(player, extra_rate=_share(text))


def _flam_gap(player: Player, text: str) -> Player:
    return replace(player, grace_gap_ms=_size(text))


def _stop(player: Player, text: str) -> Player:
    repetition, position, pause_s = text.split(":")
    stop = (int(repetition), int(position), _size(pause_s))
    return replace(player, stops=(*player.stops, stop))


def _begins_at(player: Player, text: str) -> Player:
    return replace(player, start_position=int(text))


_HAND_DB, _HAND_MS = "a hand and dB", "a hand and ms"

FAULTS: Mapping[str, Fault] = {
    "weak-hand": Fault("one hand is softer", _HAND_DB, "L:4", _weak_hand),
    "late-hand": Fault("one hand comes late", _HAND_MS, "L:9", _late_hand),
    "early-hand": Fault("one hand comes early", _HAND_MS, "R:9", _early_hand),
    "wandering-hand": Fault("one hand's times spread (standard deviation)", _HAND_MS, "L:9", _wandering_hand),
    "weak-second": Fault("the second note of doubles is softer", "dB, 0 or more", "4", _weak_second),
    "crushed-second": Fault("the second note of doubles comes early", "ms, 0 or more", "15", _crushed_second),
    "late-second": Fault("the second note of doubles comes late", "ms, 0 or more", "15", _late_second),
    "soft-first": Fault("the first repetition is softer", "dB, 0 or more", "8", _soft_first),
    "rough-level": Fault("levels spread (standard deviation)", "dB, 0 or more", "2.5", _rough_level),
    "flat-accents": Fault("accents stand out by only so much", "dB, 0 or more", "2", _flat_accents),
    "hurrying": Fault("gets faster, click or not", "beats a minute, per minute", "6", _hurrying),
    "dragging": Fault("gets slower, click or not", "beats a minute, per minute", "6", _dragging),
    "off-tempo": Fault("plays at another tempo than asked", "percent from -50 to 100", "8", _off_tempo),
    "tiring": Fault("spread grows by this factor and as many dB are lost", "1 or more", "2.5", _tiring),
    "missed": Fault("leaves out this share of notes", "a share from 0 to 1", "0.03", _missed),
    "extra": Fault("adds stray hits after this share of notes", "a share from 0 to 1", "0.03", _extra),
    "flam-gap": Fault("graces come this far ahead", "ms, 0 or more", "55", _flam_gap),
    "stop": Fault(
        "breaks off before a note, waits, begins again",
        "repetition:position:pause in seconds",
        "2:2:1.5",
        _stop,
    ),
    "begins-at": Fault("begins in the middle", "a position from 0", "2", _begins_at),
}
