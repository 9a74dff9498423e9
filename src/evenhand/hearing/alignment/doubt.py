"""Two readings of one take: the likeliest other that gives the hits to other hands, and how likely each is.

Conventions: costs and margins in nats; weights are probabilities, 0 to 1, of a reading against one other.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from evenhand.arrays import Bools, Floats, Indices
from evenhand.hearing.alignment.costs import CostModel, elsewhere_costs
from evenhand.hearing.alignment.follow import Alignment, align_each, end_costs
from evenhand.hearing.alignment.score import Score
from evenhand.take import Remark

FROM_HABIT = Remark("hands from habit")

_LEAST_WEIGHT = 0.95  # from which one reading is enough
_ODDS_A_NAT, _ODDS_AT_NONE = (
    1.1,
    -1.4,
)  # nats of odds, as often as readings were right (benchmarks.readings 0)
_FIRST_HITS, _ENOUGH_HITS = 32, 200  # if so many hits do not tell, more will not
_FORBIDDEN = 1e5
_AT_S = 0.03
_OTHER_HANDS = 0.2  # share of the hits that would change hands


@dataclass(frozen=True, slots=True)
class NotesRead:
    """Hits taken for notes: shape (n_hits,) each, times in seconds and unrolled note numbers."""

    times_s: Floats
    notes: Indices

    @classmethod
    def of(cls, path: Alignment, times_s: Floats) -> NotesRead:
        """Give a way through the candidates its times: ``times_s`` of shape (n_candidates,), seconds."""
        return cls(times_s[path.candidates], path.notes)


@dataclass(frozen=True, slots=True)
class Rival:
    """Another reading, and by how many nats it is the less likely; how many of these are habit alone."""

    reading: NotesRead
    margin: float
    habit: float = 0.0


@dataclass(frozen=True, slots=True)
class Ambiguity:
    """What cannot be told of the beginning: an ambiguity to be said first, or a mere warning."""

    ambiguity: Remark | None = None
    warnings: tuple[Remark, ...] = ()


def weight(margin: float) -> float:
    """Return how likely a reading is against one that costs so many nats more, 0.5 to 1.

    Small differences say nothing: up to 1.3 nats either was right as often.

    >>> round(weight(0.0), 2)
    0.5
    """
    return float(max(0.5, 1 / (1 + np.exp(-(_ODDS_A_NAT * margin + _ODDS_AT_NONE)))))


def beginning_ambiguity(
    score: Score, costs: CostModel, path: Alignment, counted: Rival | None = None, *, clicked: bool
) -> Ambiguity:
    """Say so where another beginning explains the take about as well, and with what weight.

    The take is followed once more with the note it was taken to begin with forbidden, and all that would give
    the same hands; its first hits alone where these tell already. ``counted`` is the other reading of a row
    that may be a count-in. Where a click was heard (``clicked``), beginning with it is more than habit.
    """
    if len(score) < 2 or len(path.candidates) == 0:
        return Ambiguity()
    own = NotesRead.of(path, costs.times_s)
    rivals = [_rival(score, costs, path)]
    if counted is not None and other_hands(score, own, counted.reading):
        rivals.append(counted)
    rival = min((each for each in rivals if each is not None), key=lambda each: each.margin, default=None)
    if rival is None:
        return Ambiguity()
    likely = weight(rival.margin)
    if likely > _LEAST_WEIGHT:
        from_habit = rival.habit > 0 and weight(rival.margin - rival.habit) < _LEAST_WEIGHT
        return Ambiguity(warnings=(FROM_HABIT,) if from_habit and not clicked else ())
    note, instead = (score.place_of(int(each.notes[0]))[1] + 1 for each in (own, rival.reading))
    at_s, other_s = float(own.times_s[0]), float(rival.reading.times_s[0])
    facts = {"note": note, "at_s": at_s, "weight": likely, "other_note": instead, "other_at_s": other_s}
    return Ambiguity(Remark("two alignments", {**facts, "other_weight": 1 - likely}))


def _rival(score: Score, costs: CostModel, path: Alignment) -> Rival | None:
    """Find the best way that gives the hits to other hands: by the first hits, or more."""
    rival = _rival_among(score, costs, path, _FIRST_HITS)
    if rival is None or weight(rival.margin) > _LEAST_WEIGHT or len(path.candidates) <= _FIRST_HITS:
        return rival
    return _rival_among(score, costs, path, _ENOUGH_HITS)


def _rival_among(score: Score, costs: CostModel, path: Alignment, hits: int) -> Rival | None:
    """Find another way through the first hits that gives them to other hands, and what it costs more."""
    right = _right(score)
    if right.all() or not right.any():
        return None
    first, begun = int(path.candidates[0]), int(path.notes[0]) % len(score)
    part, ends = costs, end_costs(score, path.settings)
    if len(path.candidates) > hits:  # the take ends so many notes on, but for a stop
        part = costs.only(slice(int(path.candidates[hits - 1]) + 1))
        ends = np.roll(ends, int(path.notes[hits - 1] - path.notes[-1])) * (path.stretches[-1] == 0)
    there = np.zeros(part.start_cost.shape, dtype=bool)
    there[first, begun] = True
    barred = _continues(score, part, begun, first)
    barred[np.abs(part.times_s - costs.times_s[first]) < _AT_S] = False
    barred |= there
    same = [by for by in range(len(score)) if (np.roll(right, by) == right).all()]
    barred = np.logical_or.reduce([np.roll(barred, by, axis=1) for by in same])
    bars = (~there, barred)
    readings = [replace(part, start_cost=part.start_cost + _FORBIDDEN * bar) for bar in bars]
    own, other = align_each(score, readings, settings=path.settings, ends=ends)
    mine, theirs = NotesRead.of(own, part.times_s), NotesRead.of(other, part.times_s)
    if not other_hands(score, mine, theirs):
        return None
    elsewhere = elsewhere_costs(score, counted=False)
    habit = float(elsewhere[theirs.notes[0] % len(score)] - elsewhere[mine.notes[0] % len(score)])
    return Rival(theirs, max(0.0, other.cost - own.cost), habit)


def _right(score: Score) -> Bools:
    """Tell which notes are the right hand's, shape (n_notes,)."""
    return np.array([score.exercise.notes[i].hand == "R" for i in score.positions])


def other_hands(score: Score, own: NotesRead, other: NotesRead) -> bool:
    """Tell whether the two ways give many of the same hits to different hands."""
    right = _right(score)
    _, mine, theirs = np.intersect1d(own.times_s, other.times_s, return_indices=True)
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
