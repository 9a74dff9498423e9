"""Sum the scores of many takes into the rows of the table. None where there is nothing to sum."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np

from benchmarks.figures import FIGURES
from benchmarks.judging import WINDOWS_MS, OwnScore, Score

Row = dict[str, float | None]


def share(pairs: Iterable[tuple[int, int]]) -> float | None:
    """Return found over all, summed over takes."""
    table = np.array(list(pairs), np.float64).reshape(-1, 2)
    found, of = table.sum(axis=0)
    return float(found / of) if of else None


def quantile(values: Iterable[float], at: float) -> float | None:
    """Return a quantile of the absolute values."""
    table = np.abs(np.array(list(values), np.float64))
    return float(np.quantile(table, at)) if len(table) else None


def f1(scores: Sequence[Score], window: int) -> float | None:
    """Return F1 over all blows of all takes."""
    both = sum(score.n_true + score.n_heard for score in scores)
    return 2 * sum(score.matched[window] for score in scores) / both if both else None


def times_real_time(seconds: Sequence[float], cpu_s: Sequence[float]) -> float | None:
    """Return seconds of sound heard in a second of one core."""
    return float(sum(seconds) / sum(cpu_s)) if sum(cpu_s) > 0 else None


def summed(scores: Sequence[Score], seconds: Sequence[float]) -> Row:
    """Sum one method's scores."""
    errors = [e for score in scores for e in score.errors_ms]
    spreads = [e for score in scores for e in score.spread_errors_ms]
    biases = [score.bias_ms for score in scores if score.bias_ms is not None]
    row: Row = {f"F1 within {ms} ms": f1(scores, i) for i, ms in enumerate(WINDOWS_MS)}
    row |= {
        "timing error, median ms": quantile(errors, 0.5),
        "timing error, p95 ms": quantile(errors, 0.95),
        "soft against loud, median ms": quantile(biases, 0.5),
        "soft against loud, worst ms": quantile(biases, 1.0),
        "graces found": share(score.graces for score in scores),
        "strokes found at 18/s and more": share(score.fast for score in scores),
        "clicks heard as hits": float(sum(score.on_clicks[0] for score in scores)),
        "  of clicks that sound alone": float(sum(score.on_clicks[1] for score in scores)),
        "hand's spread, same hits, median ms": quantile(spreads, 0.5),
        "hand's spread, same hits, p90 ms": quantile(spreads, 0.9),
        "constant taken off, median ms": quantile([s.constant_ms for s in scores], 0.5),
        "x real time, one core": times_real_time(seconds, [score.cpu_s for score in scores]),
    }
    own = [score.own for score in scores if score.own is not None]
    return row | (summed_own(own, seconds) if own else {})


def summed_own(own: Sequence[OwnScore], seconds: Sequence[float]) -> Row:
    """Sum what only Evenhand says."""
    levels = [e for score in own for e in score.level_errors_db]
    wrong = [score for score in own if score.aligned_wrong or score.lost]
    row: Row = {
        "x real time, file to figures": times_real_time(seconds, [score.whole_cpu_s for score in own]),
        "takes": float(len(own)),
        "takes aligned wrong or lost": float(len(wrong)),
        "  of these only the repetition": float(sum(score.only_repetition for score in wrong)),
        "  of these said so": float(sum(score.said_ambiguous or score.said_unlike for score in wrong)),
        "takes said to be ambiguous": float(sum(score.said_ambiguous for score in own)),
        "takes said to be unlike": float(sum(score.said_unlike for score in own)),
        "hits given the wrong hand": share(score.hands_wrong for score in own),
        "graces found and named": share(score.named_graces for score in own),
        "level error, mean dB": float(np.mean(np.abs(levels))) if levels else None,
        "level error, p95 dB": quantile(levels, 0.95),
    }
    parts: dict[str, Callable[[OwnScore], tuple[int, int, int]]] = {
        "missed notes": lambda s: s.missed,
        "extra hits": lambda s: s.extra,
        "clicks": lambda s: s.clicks,
    }
    for name, part in parts.items():
        row[f"{name}, precision"] = share((part(s)[0], part(s)[1]) for s in own)
        row[f"{name}, recall"] = share((part(s)[0], part(s)[2]) for s in own)
    for name in FIGURES:
        errors = [score.figure_errors[name] for score in own if name in score.figure_errors]
        row[f"figure: {name}, median"] = quantile(errors, 0.5)
        row[f"figure: {name}, p90"] = quantile(errors, 0.9)
    return row
