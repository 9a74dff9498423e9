"""Measure what is seen of sticks, on films of known truth, by the command that people run.

    python -m benchmarks.watching [--films N] [--held-out] [--only TEXT] [--keep FOLDER] [--out FILE]

Rows change one thing of a usual set-up: frame rate, blur, compression, tape, view and more; hard set-ups,
which are to be warned of, stand apart. Films are drawn by the rigid-stick simulator (``benchmarks/filming``).
Odd seeds are for development, even seeds (``--held-out``) are only reported. One core; frames a second are
of the whole command on the processor, its start taken off.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import Any

from benchmarks.filming.shots import Shot, shots
from benchmarks.watch_goals import goals
from benchmarks.watch_runs import Filmed, filmed, run, watch
from benchmarks.watched import KINDS, Score, judge, mean_abs, pair

FAR_CM = 1.5  # a height this far off is listed
Rows = dict[tuple[str, str], Score]
COLUMNS = (
    "found",
    "hand right",
    "taps, cm",
    "halves, cm",
    "fulls, cm",
    "rebound, cm",
    "class right",
    "free/lifted",
    "unsure",
    "mixed free",
    "shift, ms",
    "frames/s",
    "MB",
)
HARD_COLUMNS = ("found", "hand right", "class right", "warned of", "refused")


def read_options() -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(
        prog="python -m benchmarks.watching", description="Measure what is seen of sticks."
    )
    add = parser.add_argument
    add("--films", type=int, default=2, metavar="N", help="films a row")
    add("--first", type=int, default=0, metavar="N", help="which films")
    add("--held-out", action="store_true", help="even seeds: what nothing is tuned on")
    add("--only", default="", metavar="TEXT", help="rows whose group and name contain this")
    add("--keep", type=Path, metavar="FOLDER", help="keep the films there, and use those that are there")
    add("--make", action="store_true", help="make the films and stop")
    add("--wrong", action="store_true", help="list the strokes that were seen wrong")
    add("--out", type=Path, metavar="FILE", help="all figures as JSON")
    add("--markdown", type=Path, metavar="FILE", help="the tables of docs/benchmark.md")
    return parser.parse_args()


def main() -> int:
    """Film, watch, judge, print; return the exit code."""
    asked = read_options()
    every = shots(asked.films, held_out=asked.held_out, first=asked.first)
    chosen = [shot for shot in every if asked.only in f"{shot.group}: {shot.name}"]
    if not chosen:
        print("no row has that name", file=sys.stderr)
        return 2
    with place(asked.keep) as folder:
        if asked.make:
            for shot in progress(chosen):
                filmed(shot.case, folder)
            return 0
        easy, hard = measure(chosen, folder, list_wrong=asked.wrong)
    text = "\n".join(lay(rows) for lay, rows in ((goals, easy), (table, easy), (hard_table, hard)) if rows)
    print(text)
    if asked.markdown:
        asked.markdown.write_text(text, "utf-8")
    if asked.out:
        rows = {f"{group}: {name}": as_json(score) for (group, name), score in {**easy, **hard}.items()}
        asked.out.write_text(json.dumps(rows, indent=1, allow_nan=False), "utf-8")
    return 0


@contextmanager
def place(keep: Path | None) -> Iterator[Path]:
    """Lend a folder for films."""
    if keep is not None:
        keep.mkdir(parents=True, exist_ok=True)
        yield keep
        return
    with tempfile.TemporaryDirectory(prefix="evenhand-films-") as folder:
        yield Path(folder)


def progress(chosen: Sequence[Shot]) -> Iterator[Shot]:
    """Give the films one by one, with a word on a terminal about how far it is."""
    for number, shot in enumerate(chosen, start=1):
        yield shot
        if sys.stderr.isatty():
            end = "\n" if number == len(chosen) else ""
            print(f"\r{number} of {len(chosen)} films", end=end, file=sys.stderr)


def measure(chosen: Sequence[Shot], folder: Path, *, list_wrong: bool) -> tuple[Rows, Rows]:
    """Watch and judge every film; return the rows and those of hard set-ups."""
    easy: Rows = {}
    hard: Rows = {}
    start_s = min(run(["watch", "--help"]).cpu_s for _ in range(2))
    for shot in progress(chosen):
        made = filmed(shot.case, folder)
        ran = watch(shot.case, made.path)
        seen = ran.document()
        score = (
            Score(true=len(made.strokes), refused=[ran.refusal(made.path)])
            if seen is None
            else judge(made.strokes, seen)
        )
        score.memory_mb = ran.memory_mb
        if seen is not None:
            score.frames, score.cpu_s = made.frames, max(ran.cpu_s - start_s, 1e-3)
            _add_shift(score, seen, shot)
        (hard if shot.hard else easy).setdefault((shot.group, shot.name), Score()).add(score)
        if list_wrong:
            print_wrong(shot, made, seen)
    return easy, hard


def _add_shift(score: Score, seen: Mapping[str, Any], shot: Shot) -> None:
    if seen["audio_video_shift_ms"] is not None:
        score.shifts_ms.append(seen["audio_video_shift_ms"] - shot.case.shift_ms)


def cells(score: Score) -> list[str]:
    """Lay out one row: every figure with its count."""
    found = _counted(len(score.hands) / score.true if score.true else None, score.true)
    return [
        found + (f" +{score.made_up}" if score.made_up else ""),
        _share(score.hands),
        *(_error(score.heights[kind]) for kind in KINDS),
        _error(score.rebounds),
        _share(score.classes),
        _counted(*score.balanced),
        _counted(*score.unsure),
        _counted(*score.share_said("mixed", ["free"], ["free", "lifted", "unsure"])),
        _error(score.shifts_ms, digits=0),
        f"{score.frames / score.cpu_s:.0f}" if score.cpu_s else "-",
        f"{score.memory_mb:.0f}" if score.memory_mb else "-",
    ]


def _counted(share: float | None, n: int) -> str:
    if share is None:
        return "-"
    return f"{100 * share:.1f} % ({n})" if 0 < share < 1 else f"{100 * share:.0f} % ({n})"


def _share(right: Sequence[bool]) -> str:
    return _counted(sum(right) / len(right) if right else None, len(right))


def _error(errors: Sequence[float], digits: int = 2) -> str:
    size = mean_abs(errors)
    return "-" if size is None else f"{size:.{digits}f} ({len(errors)})"


def table(rows: Rows) -> str:
    """Lay out the rows as Markdown."""
    return _markdown("film", COLUMNS, {f"{group}: {name}": cells(s) for (group, name), s in rows.items()})


def hard_table(rows: Rows) -> str:
    """Lay out the hard set-ups with what was warned of."""
    laid = {}
    for (_, name), score in rows.items():
        found, hand, *_ = all_cells = cells(score)
        said = (", ".join(sorted(set(score.warnings))) or "-", "; ".join(sorted(set(score.refused))) or "-")
        laid[name] = [found, hand, all_cells[COLUMNS.index("class right")], *said]
    return _markdown("set-up", HARD_COLUMNS, laid)


def _markdown(first: str, columns: Sequence[str], rows: Mapping[str, Sequence[str]]) -> str:
    lines = [f"| {first} | " + " | ".join(columns) + " |", "|---" * (len(columns) + 1) + "|"]
    lines += [f"| {name} | " + " | ".join(row) + " |" for name, row in rows.items()]
    return "\n".join(lines) + "\n"


def print_wrong(shot: Shot, made: Filmed, seen: Mapping[str, Any] | None) -> None:
    """List what was seen wrong in a film."""
    strokes = [] if seen is None else seen["strokes"]
    found = dict(pair([s.time_s for s in made.strokes], [s["time_s"] for s in strokes]))
    print(f"{shot.group}: {shot.name}, seed {shot.case.seed}: {made.path}")
    for i, true in enumerate(made.strokes):
        said = strokes[found[i]] if i in found else None
        wrong = said is None or said["hand"] != true.hand or said["preparation_cm"] is None
        if said is not None and not wrong:
            wrong = abs(said["preparation_cm"] - true.preparation_cm) > FAR_CM
            wrong |= (true.rise, said["rise"]) in {("free", "lifted"), ("lifted", "free"), ("mixed", "free")}
        if wrong:
            keys = ("hand", "preparation_cm", "rebound_cm", "rise", "lift_index")
            told = "not found" if said is None else " ".join(str(said[key]) for key in keys)
            heights = f"{true.preparation_cm:5.1f} {true.rebound_cm:5.1f}"
            print(f"  {true.time_s:6.3f} {true.hand} {heights} {true.rise:6} said: {told}")


def as_json(score: Score) -> dict[str, Any]:
    """Return a row's figures, its lists whole."""
    return asdict(score) | {"rises": {f"{true} called {said}": n for (true, said), n in score.rises.items()}}


if __name__ == "__main__":
    sys.exit(main())
