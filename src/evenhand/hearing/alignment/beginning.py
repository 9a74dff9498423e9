"""Decide where the playing begins: what is counted in, and what is a first time through.

Blows before the playing are rare, and a first time through that is softer than the rest is not. So
everything that may be played is followed as notes; a count-in on the drum is one more reading of the
take, weighed in the same nats, and believed only where it is clearly the better one.

Conventions: times in seconds; costs in nats; arrays over candidates, rising in time.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from evenhand.arrays import MAD_TO_SD, Floats, Indices, median
from evenhand.hearing.alignment.costs import CostModel, cost_model, counts
from evenhand.hearing.alignment.doubt import NotesRead, Rival
from evenhand.hearing.alignment.follow import CLEAR_STRENGTH, SETTINGS, Alignment, align, best_alignment
from evenhand.hearing.alignment.score import Score, smooth_times
from evenhand.hearing.clicks.sound import HeardClick
from evenhand.hearing.onsets.bands import SETTINGS as NOVELTY
from evenhand.hearing.onsets.candidates import Candidates, before_another, echoes, strangeness
from evenhand.music.exercise import Exercise, Note
from evenhand.take import Remark

_SAME_TEMPO = 1.5  # nats: a count-in gives the tempo that is then played at
_LIKELIEST, _OTHERS, _LONG = 2.6, 3.5, 4.3  # nats: that four blows, fewer or eight are counted in
_CLEAR = 1.5  # nats by which a count-in must be the better reading: odds of four to one
_WHOLE_TIMES_CLEAR = 10.0  # the same, where the row is whole times through: more than how it sounds can say
_SURE = 4.0  # nats from which nothing need be said
_DOUBT = 2.0  # nats within which it may be one yet, and that is said
_MOST_SOUND, _WHOLE_TIMES_SOUND = 6.0, 1.8  # nats, at most, for sounding apart from what follows
_LEAST_SPREAD_DB, _ACCENTED_DB = 1.5, 5.0
_FEW_TIMES = 1.2  # a median of few lies nearer to them than the truth does
_OFTEN = 3  # times
_COLOUR_ALIKE_DB = 6.0
_LEAST_LATER, _LEAST_NEAR, _MOST_NEAR = 4, 4, 12  # notes
_ANY_STEP = 1.5  # nats that a step gains by chance
_LATE_NOTES, _LATE_COUNT, _COMES_LATE = 3, 4, 3.5  # notes missed at first, after so many blows; nats
_EVEN, _SLOWEST, _FASTEST = 0.12, 1.19, 0.84  # beats
_LOOKED_AT = 24  # blows
_GRACE_S = 0.090
_CLICKS_S = 0.05
_NEVER = 1e5
_AT_S = 0.002
_FAR_SOFTER_DB = 20.0  # below the take's hits nothing before them is believed to be one
_FEW = 0.15  # of a prefix: notes passed over, or blows besides
_MOST_SPREAD, _TIMES_THE_REST = 0.12, 3.0


@dataclass(frozen=True, slots=True)
class KnownStart:
    """What is known beforehand: whether the counting in was, and when the first note was struck."""

    counted: bool = False
    begins_at_s: float | None = None


@dataclass(frozen=True, slots=True)
class Begun:
    """How a take is read: its way through the exercise, and what was counted in.

    ``counted_s`` are the blows taken for a count-in; ``remark`` is a remark where blows
    taken for notes may be one; ``rival`` is the reading that was weighed against it.
    """

    path: Alignment
    seen: Candidates
    costs: CostModel
    counted_s: Floats
    remark: Remark | None = None
    rival: Rival | None = None


NOTHING: Floats = np.zeros(0)


def begin(score: Score, found: Candidates, click: HeardClick | None, known: KnownStart) -> Begun | None:
    """Find where the playing begins, and the way through the exercise from there."""
    if known.begins_at_s is not None:
        return _from(score, found, click, known.begins_at_s)
    followed = best_alignment(score, found, click)
    if followed is None:
        return None
    path, seen, costs = followed
    path, seen, costs = _first_times(score, found, click, seen, path) or followed
    plain = Begun(path, seen, costs, NOTHING)
    if known.counted:
        return plain
    return _counted_in(score, found, click, plain)


def _from(score: Score, found: Candidates, click: HeardClick | None, begins_at_s: float) -> Begun | None:
    """Follow from the blow that is said to be the first note."""
    if len(found) == 0:
        return None
    first_s = float(found.times_s[np.abs(found.times_s - begins_at_s).argmin()])
    followed = best_alignment(score, found, click, begun=(first_s, 0))
    return None if followed is None else Begun(*followed, NOTHING)


def _first_times(
    score: Score, found: Candidates, click: HeardClick | None, seen: Candidates, path: Alignment
) -> tuple[Alignment, Candidates, CostModel] | None:
    """Find whether what was left out before the playing is playing, too, however unlike the rest it sounds.

    Returns the way where the sound of that is to say nothing; None where there is no such thing.
    """
    begun_s = float(seen.times_s[path.candidates[0]])
    least_db = median(seen.level_db[path.candidates]) - _FAR_SOFTER_DB
    sounds = (seen.strength > NOVELTY.strong) & (seen.level_db > least_db)
    ahead = seen.only(sounds & (seen.times_s < begun_s - _AT_S))
    if len(ahead) == 0:
        return None
    trusted = (float(ahead.times_s[0]) - _AT_S, begun_s - _AT_S)
    followed = best_alignment(score, found, click, trusted)
    if followed is None:
        return None
    other, other_seen, _ = followed
    return followed if _is_played(score, other, other_seen, begun_s) else None


def _is_played(score: Score, path: Alignment, seen: Candidates, until_s: float) -> bool:
    """Tell whether what comes before a moment goes through the exercise as what comes after does."""
    times = seen.times_s[path.candidates]
    early = times < until_s - _AT_S
    n = int(early.sum())
    if n in {0, len(times)}:
        return False
    notes = path.notes[: n + 1]
    passed = int((np.diff(notes) - 1).sum()) if path.stretches[n] == path.stretches[0] else len(score)
    clear = (seen.strength > CLEAR_STRENGTH) & (seen.times_s > times[0] - _AT_S)
    besides = int((clear & (seen.times_s < until_s - _AT_S)).sum()) - n
    if max(passed, besides) > _FEW * n:
        return False
    written = score.written(path.notes)
    off = np.abs(times - smooth_times(times, written, path.notes, path.stretches))
    most_s = min(
        _MOST_SPREAD * score.shortest * score.tempo.whole_note_s,
        _TIMES_THE_REST * median(off[~early]) + 0.004,
    )
    return median(off[early]) < most_s


@dataclass(frozen=True, slots=True)
class _CountIn:
    """Blows a beat apart, and the blow that comes in after them: indices of candidates, and its note."""

    blows: Indices
    first: int
    note: int = 0


def _counted_in(score: Score, found: Candidates, click: HeardClick | None, plain: Begun) -> Begun:
    """Weigh each row of blows that may be a count-in against the reading that takes them for notes."""
    clear = plain.seen.only(plain.seen.strength > CLEAR_STRENGTH)
    rows = list(_rows(clear, score, click))
    if not rows:
        return plain
    left_out = align(score, cost_model(clear, score, click))
    weighed = [each for row in rows if (each := _weigh(score, clear, click, row, left_out)) is not None]
    if not weighed:
        return plain
    best = max(weighed, key=lambda each: each.over_notes)
    row, gain = best.row, best.gain
    first_s, counted = float(clear.times_s[row.first]), clear.times_s[row.blows]
    if (
        abs(first_s - float(plain.seen.times_s[plain.path.candidates[0]])) < _AT_S
        and plain.path.notes[0] == row.note
    ):
        return replace(plain, counted_s=counted)  # it was left out already
    if gain > best.needed:
        followed = best_alignment(score, found, click, begun=(first_s, row.note))
        blows = {"n": len(counted), "at_s": float(counted[0])}
        remark = Remark("maybe notes", blows) if gain < _SURE else None
        rival = Rival(NotesRead.of(best.as_notes, clear.times_s), gain - best.needed)
        return plain if followed is None else Begun(*followed, counted, remark, rival)
    maybe = Remark("maybe a count-in", {"n": len(counted), "at_s": first_s}) if gain > -_DOUBT else None
    after = NotesRead.of(best.after, clear.times_s[row.first :])
    return replace(plain, remark=maybe, rival=Rival(after, best.needed - gain))


def _rows(clear: Candidates, score: Score, click: HeardClick | None) -> Iterator[_CountIn]:
    """Give the rows of blows a beat apart, none a beat before them, and who comes in after them in time.

    Where a click sounds already, it counts in, and nobody else does.
    """
    ahead = before_another(clear) if score.graces.any() else np.zeros(len(clear), dtype=bool)
    alone = (clear.strength > NOVELTY.strong) & ~ahead & ~echoes(clear)
    strong = np.flatnonzero(alone)[: _LOOKED_AT + 1]
    times, beat_s = clear.times_s[strong], score.tempo.beat_s
    bare = np.append(True, np.diff(clear.times_s) > _GRACE_S)[strong]
    for start in range(len(strong) - 2):
        colour = clear.colour[strong[: start + 1]]
        alike = ((colour[:-1] - colour[-1]) ** 2).mean(axis=1) < _COLOUR_ALIKE_DB**2
        before = (times[start] - times[:start][alike]) / beat_s
        clicked = click is not None and click.times_s[0] < times[start + 1] - _CLICKS_S
        if clicked or ((before > _FASTEST) & (before < _SLOWEST)).any():
            continue
        for count in sorted(counts(score)):
            end = start + count
            if end >= len(strong) or (score.graces.any() and not bare[start:end].all()):
                continue
            for note in range(min(_LATE_NOTES, len(score)) if count >= _LATE_COUNT else 1):
                top_s = times[end] - float(score.starts[note]) * score.tempo.whole_note_s
                steps = np.diff(np.append(times[start:end], top_s)) / beat_s
                mean = float(steps.mean())
                if _FASTEST < mean < _SLOWEST and float(np.abs(steps - mean).max()) < _EVEN:
                    yield _CountIn(strong[start:end], int(strong[end]), note)


@dataclass(frozen=True, slots=True)
class _Weighed:
    """A count-in weighed: by how many nats it is better than notes, and than any other reading; both ways.

    ``needed``: by how many nats it must be better, to be believed.
    """

    row: _CountIn
    over_notes: float
    gain: float
    needed: float
    as_notes: Alignment
    after: Alignment


def _weigh(
    score: Score, clear: Candidates, click: HeardClick | None, row: _CountIn, left_out: Alignment | None
) -> _Weighed | None:
    """Weigh a count-in against the reading that takes it for notes.

    Both readings pay for the blows of the row by their times alone, and how they sound is weighed
    apart; but where their sound has them left out at no great cost, that is a third reading, ``left_out``,
    the same for every row.
    """
    trusted = (float(clear.times_s[row.blows[0]]) - _AT_S, float(clear.times_s[row.first]) - _AT_S)
    costs = cost_model(clear, score, click, trusted=trusted)
    as_notes = align(score, costs)
    from_first = costs.only(slice(row.first, None))
    forced = np.full_like(from_first.start_cost, _NEVER)
    forced[0, row.note] = _COMES_LATE if row.note else 0.0
    after = align(score, replace(from_first, start_cost=forced))
    counted = _row_cost(score, clear, row)
    if as_notes is None or left_out is None or after is None or len(after.candidates) < _LEAST_LATER:
        return None
    likely = {4: _LIKELIEST, 8: _LONG}.get(len(row.blows), _OTHERS) - _SAME_TEMPO
    cost = _left_out(costs, row) + counted + likely + after.cost
    where = np.full(len(clear), -1)
    where[as_notes.candidates] = as_notes.notes
    whole = _whole_times(score, row, where)
    gain = as_notes.cost - cost + _sounds_apart(score, clear, row, where, whole=whole)
    needed = _WHOLE_TIMES_CLEAR if whole else _CLEAR
    if left_out.candidates[0] == row.first and left_out.notes[0] == row.note:
        return _Weighed(row, gain, gain, needed, as_notes, after)  # it is the same reading
    least = min(left_out.cost - cost + _MOST_SOUND, gain)
    return _Weighed(row, gain, least, needed, as_notes, after)


def _left_out(costs: CostModel, row: _CountIn) -> float:
    """Return what it costs to leave out what sounds before the row and between its blows, as elsewhere."""
    extra = costs.extra_cost
    between = float(extra[row.blows[0] : row.first].sum() - extra[row.blows].sum())
    return SETTINGS.before * float(extra[: row.blows[0]].sum()) + between


def _row_cost(score: Score, clear: Candidates, row: _CountIn) -> float:
    """Return what the row costs as an even beat, up to the first note."""
    beat = Fraction(score.tempo.beat)
    counting = Score.of(Exercise((Note("R", beat),)), score.tempo)
    late_s = float(score.starts[row.note]) * score.tempo.whole_note_s
    times = np.append(clear.times_s[row.blows], clear.times_s[row.first] - late_s)
    never, nothing = np.full(len(times), _NEVER), np.zeros((len(times), 1))
    followed = align(counting, CostModel(times, never, nothing, nothing))
    return np.inf if followed is None else followed.cost


def _sounds_apart(score: Score, clear: Candidates, row: _CountIn, where: Indices, *, whole: bool) -> float:
    """Return what the sound of the row says for a count-in, in nats: a step in level, another colour.

    Levels are held against the other times the same notes were played. A step at the end of the row is
    held against one at the end of a time through or of another count, and against none (least squares).
    Where the row is a whole number of times through, a soft first time explains the sound as well.
    And counted blows are alike where notes go louder and softer as they are written.
    ``where``: the note that each candidate is, -1 for none; ``whole``: the row is so many times through.
    """
    later = row.first + np.flatnonzero(where[row.first :] >= 0)
    if len(later) < _LEAST_LATER:
        return 0.0
    usual = _usual_db(clear.level_db[later], where[later] % len(score), len(score))
    rest = clear.level_db[later] - usual[where[later] % len(score)]
    notes, levels = where[row.blows], clear.level_db[row.blows]
    expected = np.where(notes >= 0, usual[notes % len(score)], median(clear.level_db[later]))
    about = min(
        median(np.abs(rest)), median(np.abs(np.diff(rest))) / np.sqrt(2)
    )  # the second, where it steps
    spread = max(_LEAST_SPREAD_DB, MAD_TO_SD * _FEW_TIMES * about)
    colour = _MOST_SOUND * float(strangeness(clear)[row.blows].mean())
    first_time = rest[: min(max(_LEAST_NEAR, len(score)), _MOST_NEAR)]
    apart = _step(np.append(levels - expected, first_time), score, len(row.blows), 2 * spread**2)
    most = _WHOLE_TIMES_SOUND if whole else _MOST_SOUND
    return float(np.clip(apart + colour, -_MOST_SOUND, most)) - _as_written(score, levels, expected, spread)


def _step(levels: Floats, score: Score, count: int, scale: float) -> float:
    """Return what a step after so many blows explains beyond chance, less what another step does, in nats."""
    none, here = _squares(levels, 0) / scale, _squares(levels, count) / scale
    others = {*range(len(score), len(levels), len(score)), *counts(score)} - {count}
    other = min((_squares(levels, at) / scale for at in others if at < len(levels)), default=np.inf)
    return max(none - here - _ANY_STEP, 0.0) - max(here - other - _ANY_STEP, 0.0)


def _squares(levels: Floats, at: int) -> float:
    """Return the squares left about one mean before a place and another after it, dB²."""
    return float(sum(part.var() * len(part) for part in (levels[:at], levels[at:]) if len(part)))


def _whole_times(score: Score, row: _CountIn, where: Indices) -> bool:
    """Tell whether the row, as notes, is a whole number of times through."""
    begins, ends = int(where[row.blows[0]]), int(where[row.first])
    return begins >= 0 and ends >= 0 and begins % len(score) == 0 == ends % len(score)


def _as_written(score: Score, levels: Floats, expected: Floats, spread_db: float) -> float:
    """Return what it says for notes that a row goes louder and softer as its notes are written, in nats."""
    if not score.accents.any() or float(np.ptp(expected)) < _ACCENTED_DB:
        return 0.0
    fits = float(levels.var() - (levels - expected).var()) * len(levels) / (4 * spread_db**2)
    return float(np.clip(fits, -_MOST_SOUND, _MOST_SOUND))


def _usual_db(level_db: Floats, index: Indices, notes: int) -> Floats:
    """Return the median level of each note of the exercise; of all, where it was played too seldom."""
    out = np.full(notes, median(level_db))
    for one in np.unique(index):
        if (index == one).sum() >= _OFTEN:
            out[one] = median(level_db[index == one])
    return out
