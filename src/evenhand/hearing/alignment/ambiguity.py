"""Say so where a take fits two alignments, or does not fit the exercise at all.

Conventions: costs in nats as in ``follow``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from evenhand.arrays import Bools, robust_sd
from evenhand.hearing.alignment.costs import CostModel
from evenhand.hearing.alignment.follow import Alignment, align
from evenhand.hearing.alignment.score import Score
from evenhand.music.exercise import Tempo
from evenhand.take import Heard, Remark

FROM_HABIT = Remark("hands from habit")
NOTHING_LIKE_IT = Remark("no note found")

_LEAST_MARGIN = 2.0  # nats: odds of about seven to one
_HABIT = 6.0  # nats by which beginning at the top is the likelier from habit alone
_FIRST_HITS, _ENOUGH_HITS = 32, 200  # if so many hits do not tell, more will not
_MOST_UNMATCHED = 0.45  # notes missed or hardly heard, and strokes besides, of all notes
_FAR_OFF, _FEW_UNMATCHED = 0.25, 0.08  # where the tempo is far off, too, less is enough
_LEAST_NOTES = 2
_HARDLY = 0.3  # confidence below which a note is as good as unmatched here
_MOST_SPREAD = 0.18  # robust spread of timing, as a share of the shortest interval
_FORBIDDEN = 1e5
_OTHER_HANDS = 0.2  # share of the hits that would change hands
_TEMPO_OFF = 0.18


@dataclass(frozen=True, slots=True)
class Ambiguity:
    """What cannot be told of the beginning: an ambiguity to be said first, or a mere warning."""

    ambiguity: Remark | None = None
    warnings: tuple[Remark, ...] = ()


def beginning_ambiguity(score: Score, costs: CostModel, path: Alignment, *, clicked: bool) -> Ambiguity:
    """Say so where another beginning explains the take about as well.

    The take is followed once more with the note it was taken to begin with forbidden;
    its first hits alone where these tell already. Where a click was heard (``clicked``),
    beginning with it is more than habit.
    """
    if len(score) < 2 or len(path.candidates) == 0:
        return Ambiguity()
    other, margin = _rival(score, costs, path, _FIRST_HITS)
    if other is not None and margin <= _LEAST_MARGIN and len(path.candidates) > _FIRST_HITS:
        other, margin = _rival(score, costs, path, _ENOUGH_HITS)
    if other is None or margin > _HABIT:
        return Ambiguity()
    if margin > _LEAST_MARGIN:
        at_top = int(path.notes[0]) % len(score) == 0
        return Ambiguity(warnings=(FROM_HABIT,) if at_top and not clicked else ())
    first = int(path.candidates[0])
    note = score.place_of(int(path.notes[0]))[1] + 1
    instead = score.place_of(int(other.notes[0]))[1] + 1
    at_s, other_s = float(costs.times_s[first]), float(costs.times_s[int(other.candidates[0])])
    facts = {"note": note, "at_s": at_s, "other_note": instead, "other_at_s": other_s}
    return Ambiguity(Remark("two alignments", facts))


def _rival(score: Score, costs: CostModel, path: Alignment, hits: int) -> tuple[Alignment | None, float]:
    """Find another way through the first hits that is about as cheap and gives them to other hands.

    Returns it, and what it costs more.
    """
    first, begun = int(path.candidates[0]), int(path.notes[0]) % len(score)
    last = len(costs.times_s)
    own: Alignment | None = path
    part = costs
    if len(path.candidates) > hits:
        last = int(path.candidates[hits - 1]) + 1
        part = costs.only(slice(last))
        own = align(score, part)
    barred = part.start_cost.copy()
    near = np.abs(part.times_s - costs.times_s[first]) < 0.03
    barred[near, begun] += _FORBIDDEN
    barred[~near] += _FORBIDDEN * _continues(score, part, begun, first)[~near]
    other = align(score, replace(part, start_cost=barred))
    if own is None or other is None or other.cost - own.cost > _HABIT:
        return None, np.inf
    return (other if _other_hands(score, own, other) else None), other.cost - own.cost


def _other_hands(score: Score, own: Alignment, other: Alignment) -> bool:
    """Tell whether the two ways give many of the same hits to different hands."""
    right = np.array([score.exercise.notes[i].hand == "R" for i in score.positions])
    _, mine, theirs = np.intersect1d(own.candidates, other.candidates, return_indices=True)
    if len(mine) == 0:
        return False
    differ = right[own.notes[mine] % len(score)] != right[other.notes[theirs] % len(score)]
    return float(differ.mean()) > _OTHER_HANDS


def _continues(score: Score, part: CostModel, begun: int, first: int) -> Bools:
    """Mark beginnings elsewhere that are the same alignment with its first notes left out."""
    whole_s = score.tempo.whole_note_s
    notes_on = score.starts[None, :] - score.starts[begun]
    due = part.times_s[first] + (notes_on % score.length) * whole_s
    off = np.abs(part.times_s[:, None] - due) / whole_s
    near = np.minimum(off % score.length, score.length - off % score.length)
    return np.asarray(near < 0.45 * score.shortest)


def exercise_mismatch(score: Score, heard: Heard) -> Remark | None:
    """Return a remark where the take does not sound like the exercise."""
    notes = [hit for hit in heard.hits if not hit.grace]
    missed = sum(not note.grace for note in heard.missed)
    asked = len(notes) + missed
    if len(notes) < _LEAST_NOTES:
        return NOTHING_LIKE_IT
    faint = sum(hit.confidence < _HARDLY for hit in notes)
    tempo_off = abs((heard.tempo_bpm or score.tempo.bpm) / score.tempo.bpm - 1)
    most = _MOST_UNMATCHED if tempo_off < _FAR_OFF else _FEW_UNMATCHED
    between = sum(hit.reason == "between" for hit in heard.extra)
    if missed + between + faint > most * asked:
        return Remark("notes unmatched", {"missed": missed, "asked": asked, "between": between})
    off = [hit.deviation_ms for hit in notes if hit.deviation_ms is not None]
    spread_ms = robust_sd(np.array(off)) if off else 0.0
    if len(off) >= 8 and spread_ms > 1e3 * _MOST_SPREAD * score.shortest * score.tempo.whole_note_s:
        return Remark("hits off the notes", {"spread_ms": spread_ms, "n": len(off)})
    return None


def other_tempos(tempo: Tempo) -> tuple[Tempo, ...]:
    """Return the tempos a wrong note value would mean: half and double."""
    return tuple(Tempo(tempo.beat, bpm) for bpm in (tempo.bpm / 2, tempo.bpm * 2) if 5.0 <= bpm <= 1000.0)


def other_note_value(asked: Tempo, fits: Tempo) -> Remark:
    """Return the warning that a take is heard at half or double the tempo given."""
    return Remark("another note value", {"asked": str(asked), "fits": str(fits)})


def tempo_warning(tempo: Tempo, heard: Heard) -> tuple[Remark, ...]:
    """Return a warning where the take is far from the tempo asked for."""
    if heard.tempo_bpm is None or abs(heard.tempo_bpm / tempo.bpm - 1) < _TEMPO_OFF:
        return ()
    for ratio in (0.5, 2.0):
        if abs(heard.tempo_bpm / tempo.bpm / ratio - 1) < 0.15:
            return (other_note_value(tempo, Tempo(tempo.beat, tempo.bpm * ratio)),)
    way = "faster" if heard.tempo_bpm > tempo.bpm else "slower"
    by_percent = 100 * abs(heard.tempo_bpm / tempo.bpm - 1)
    return (Remark("another tempo", {"by_percent": by_percent, "way": way, "asked": str(tempo)}),)
