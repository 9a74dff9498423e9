"""Measure what Evenhand hears, beside other libraries, on the same takes in the same run.

    python -m benchmarks [--smoke] [--takes N] [--samples FOLDER] [--held-out] [--by-case] [--out FILE]

Invented takes with a known truth: on synthesised pads and drums, on recorded drums where a folder of
them is found, and through lossy codecs. One core; times are of the processor, not of the clock on the wall.
At the end the weeks of invented students are planned and judged by a panel of rules (``benchmarks.plans``).
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

from benchmarks.detectors import Detector, absent, detectors
from benchmarks.drums import VARIABLE, Drum, find_drums
from benchmarks.markdown import as_markdown
from benchmarks.microphones import print_agreement
from benchmarks.plans import STUDENTS, Panel, judge, panel_rows, panel_table, print_panel
from benchmarks.printing import as_json, print_by_case, print_table, print_wrong, rows
from benchmarks.running import OURS, Result, run
from benchmarks.takes import Recipe, TakeSet, recipes, smoke_recipes

SMOKE_F1 = 0.9
TITLES: Mapping[TakeSet, str] = {
    "synthetic": "Synthesised pads and drums",
    "drums": "Recorded drums",
    "late drums": "Recorded drums that speak late or are cut in mid-wave (apart)",
    "codecs": "Through lossy codecs",
}
INTERVALS = "How often the 95 % ranges hold the truth: python -m benchmarks.coverage"


def read_options() -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(
        prog="python -m benchmarks", description="Measure what Evenhand hears, beside other libraries."
    )
    add = parser.add_argument
    add("--smoke", action="store_true", help="six easy takes; fails if too little is heard")
    add("--takes", type=int, default=54, metavar="N", help="synthetic takes; other sets in proportion")
    add(
        "--students", type=int, default=STUDENTS, metavar="N", help="invented students whose weeks are judged"
    )
    add("--samples", type=Path, metavar="FOLDER", help=f"recorded drums (or {VARIABLE})")
    add("--seed", type=int, default=0, metavar="N", help="which takes")
    add("--held-out", action="store_true", help="the part that nothing is tuned on")
    add("--only", default="", metavar="TEXT", help="takes whose set and name contain this")
    add("--alone", action="store_true", help="Evenhand only, without the act from the file: quicker")
    add("--by-case", action="store_true", help="a line for each kind of take")
    add("--jobs", type=int, default=1, choices=(1, 2), help="processes")
    add("--out", type=Path, metavar="FILE", help="all figures as JSON")
    add("--markdown", type=Path, metavar="FILE", help="the tables of docs/benchmark.md")
    return parser.parse_args()


def choose(asked: argparse.Namespace) -> tuple[list[Recipe], list[Drum]]:
    """Choose the takes, and say what is left out."""
    for name in () if asked.alone else absent():
        print(f"{name}: not installed, left out")
    if asked.smoke:
        return smoke_recipes(), []
    drums, said = find_drums(asked.samples)
    print(f"recorded drums: {said}")
    chosen = recipes(asked.takes, asked.seed, drums, held_out=asked.held_out)
    return [recipe for recipe in chosen if asked.only in f"{recipe.of} {recipe.name}"], drums


def listen_to_all(
    asked: argparse.Namespace, chosen: Sequence[Recipe], beside: Mapping[str, Detector]
) -> dict[TakeSet, list[Result]]:
    """Run, with a word on a terminal about how far it is."""
    sets: dict[TakeSet, list[Result]] = {name: [] for name in TITLES}
    done = run(chosen, jobs=asked.jobs, beside=beside, whole=not asked.alone)
    for i, result in enumerate(done, start=1):
        sets[result.recipe.of].append(result)
        if sys.stderr.isatty():
            print(f"\r{i} of {len(chosen)} takes", end="\n" if i == len(chosen) else "", file=sys.stderr)
    return {name: results for name, results in sets.items() if results}


def main() -> int:
    """Run, print, and write; return the exit code."""
    asked = read_options()
    chosen, drums = choose(asked)
    if not chosen:
        print("no take has that name", file=sys.stderr)
        return 2
    beside = {} if asked.alone else detectors(quick=asked.smoke)
    sets = listen_to_all(asked, chosen, beside)
    every = [result for results in sets.values() for result in results]
    for name, results in sets.items():
        print_table(TITLES[name], results)
    if asked.by_case:
        print_by_case(every)
    print_agreement(drums, beside)
    print_wrong(every)
    panel = Panel() if asked.smoke or asked.only else judge(asked.students)
    if panel.weeks:
        print("\nWeeks planned for invented students")
        print_panel(panel, asked.students)
    if not asked.smoke:
        print(f"\n{INTERVALS}")
    if asked.out:
        facts = {"part": "held out" if asked.held_out else "tuning", "seed": asked.seed, "smoke": asked.smoke}
        facts |= {"weeks": panel_rows(panel, asked.students)} if panel.weeks else {}
        asked.out.write_text(json.dumps(as_json(sets, facts), indent=1, allow_nan=False), encoding="utf-8")
    if asked.markdown:
        text = as_markdown({TITLES[name]: results for name, results in sets.items()})
        text += f"\n{panel_table(panel, asked.students)}" if panel.weeks else ""
        asked.markdown.write_text(text, encoding="utf-8")
    return passed(every) if asked.smoke else 0


def passed(results: Sequence[Result]) -> int:
    """Return 0 where enough is heard, and 1 where it is not."""
    heard = rows(results)[OURS]["F1 within 10 ms"] or 0.0
    print(f"F1 within 10 ms: {heard:.3f}; at least {SMOKE_F1} is asked")
    return 0 if heard >= SMOKE_F1 else 1


if __name__ == "__main__":
    sys.exit(main())
