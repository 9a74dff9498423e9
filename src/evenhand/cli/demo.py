"""``evenhand demo``: an invented student's take, audible from start to end."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.files import make_folder, write_text
from evenhand.cli.progress import shown

if TYPE_CHECKING:  # these bring numpy, which the help need not wait for
    from evenhand.domain.heard_take import HeardTake
    from evenhand.sound.player import SimulatedTake

EXERCISE, TEMPO, REPETITIONS, SEED = "4/4 1/8: RLRR LRLL", "1/4=84", 16, 11
FAULTS = ("late-hand=L:11", "weak-hand=L:3.5", "weak-second=2.5")
STORY = f"""
Ines Okoro, an invented student, plays {EXERCISE} at {TEMPO}, {REPETITIONS} repetitions, on a snare
drum in a small room, with a click on headphones. Put in on purpose: her left hand comes 11 ms late and
3.5 dB weak, and the second of two strokes by one hand 2.5 dB weaker than the first.
"""

OutOption = Annotated[Path, typer.Option("--out", metavar="DIR", help="Where the results go.")]


def demo(out: OutOption = Path("demo-out")) -> None:
    """Hear an invented student's take, and write its report."""
    make_folder(out)
    typer.echo(STORY)
    take = _record(out)
    heard = _hear(out)
    _write(out, heard)
    _say(out, take, heard)


def _record(out: Path) -> SimulatedTake:
    """Record the invented student."""
    from evenhand.application.asked import Asked
    from evenhand.application.simulate_take import Wanted, simulate_take
    from evenhand.media.write import write_wav
    from evenhand.sound.player import Room, Scene

    scene = Scene(instrument="snare", noise_snr_db=40.0, room=Room())
    take = simulate_take(Wanted(Asked.read(EXERCISE, TEMPO), REPETITIONS, FAULTS, SEED), scene)
    write_wav(out / "take.wav", take.samples, take.rate_hz)
    write_text(out / "truth.json", take.truth.to_json() + "\n")
    return take


def _hear(out: Path) -> HeardTake:
    """Hear the recording as any other: from its file, knowing nothing of the truth."""
    from evenhand.application.asked import Asked
    from evenhand.application.hear_take import hear_take
    from evenhand.media.open_take import open_take

    with shown("hearing take.wav") as progress:
        return hear_take(out / "take.wav", Asked.read(EXERCISE, TEMPO), opens=open_take, progress=progress)


def _write(out: Path, heard: HeardTake) -> None:
    """Write the figures and the report."""
    from evenhand.application.as_json import json_text
    from evenhand.application.write_report import report_text

    write_text(out / "heard.json", json_text(heard))
    write_text(out / "report.html", report_text(heard))


def _say(out: Path, take: SimulatedTake, heard: HeardTake) -> None:
    """Say what was heard, and where everything lies."""
    from evenhand.cli.summary import say

    say(heard, report=out / "report.html")
    played, found = len(take.truth.hits), len(heard.heard.hits)
    typer.echo(
        f"  Played {played} notes, heard {found}. In {out}: take.wav, truth.json, heard.json, report.html"
    )
