"""``evenhand simulate``: an invented player recorded; ``evenhand demo``: one heard, from start to end."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.acts.takes.request import TakeRequest
from evenhand.cli.listen import report_of
from evenhand.cli.options import ExerciseOption, SeedOption, TempoOption, finite, hearing
from evenhand.cli.results import check_places, give, make_folder
from evenhand.errors import WrongOptions

if TYPE_CHECKING:
    from evenhand.acts.takes.simulate import Wanted
    from evenhand.measuring.values import HeardTake
    from evenhand.synthesis.instruments import Scene
    from evenhand.synthesis.player import SimulatedTake
    from evenhand.synthesis.voice import SampleBank


Instrument = Literal["pad", "snare", "ringing_snare"]

RepetitionsOption = Annotated[
    int, typer.Option("--repetitions", metavar="N", min=1, help="Repetitions of the exercise.")
]
OutOption = Annotated[Path, typer.Option("--out", metavar="FILE.wav", help="Where the recording goes.")]
FaultOption = Annotated[
    list[str] | None,
    typer.Option(
        "--fault", metavar="FAULT", help="What is off, such as late-hand=L:9; may be given more than once."
    ),
]
InstrumentOption = Annotated[Instrument, typer.Option("--instrument", help="What is played on.")]
NoiseOption = Annotated[
    float | None,
    typer.Option(
        "--noise-db",
        metavar="DB",
        min=-20,
        max=120,
        callback=finite,
        help="Noise, this many dB under the hits; none if not given.",
    ),
]
ClickLevelOption = Annotated[
    float | None,
    typer.Option(
        "--click-level",
        metavar="DB",
        min=-60,
        max=60,
        callback=finite,
        help="A click in the recording, this many dB over the hits.",
    ),
]
RoomOption = Annotated[bool, typer.Option("--room", help="Play in a room that rings.")]
SamplesOption = Annotated[
    Path | None,
    typer.Option(
        "--samples",
        metavar="FOLDER",
        exists=True,
        file_okay=False,
        help="Recorded hits of one drum, in place of the instrument.",
    ),
]
SamplesNamedOption = Annotated[
    str, typer.Option("--samples-named", metavar="PATTERN", help="Which of the folder's files, as '*snare*'.")
]
TruthOption = Annotated[
    Path | None,
    typer.Option("--truth", metavar="FILE", allow_dash=True, help="Write what was really played, as JSON."),
]


def simulate(
    out: OutOption,
    exercise: ExerciseOption = None,
    tempo: TempoOption = None,
    repetitions: RepetitionsOption = 16,
    seed: SeedOption = 0,
    fault: FaultOption = None,
    instrument: InstrumentOption = "pad",
    noise_db: NoiseOption = None,
    click_level: ClickLevelOption = None,
    room: RoomOption = False,  # noqa: FBT002 - a switch
    samples: SamplesOption = None,
    samples_named: SamplesNamedOption = "*",
    truth: TruthOption = None,
) -> None:
    """Record an invented player with chosen faults.

    What was really played comes as JSON, where --truth says. An unknown fault lists those that
    there are; docs/simulated-player.md explains them.
    """
    asked = TakeRequest.read(exercise, tempo)
    if out.suffix.lower() != ".wav":
        raise WrongOptions(got=str(out), must_be="a name that ends in .wav")
    check_places(out, truth)
    from evenhand.acts.takes.simulate import Wanted

    scene, bank = _scene(instrument, noise_db, click_level, room=room), _bank(samples, samples_named)
    _record(Wanted(asked, repetitions, fault or [], seed), scene, bank, out, truth)


def _scene(instrument: Instrument, noise_db: float | None, click_level: float | None, *, room: bool) -> Scene:
    """Set the scene."""
    from evenhand.synthesis.instruments import Room, Scene

    return Scene(
        instrument=instrument,
        noise_snr_db=noise_db,
        click_db=click_level,
        room=Room() if room else None,
    )


def _bank(samples: Path | None, names: str) -> SampleBank | None:
    """Load recorded strokes."""
    if samples is None:
        return None
    from evenhand.media.write import load_layers
    from evenhand.synthesis.voice import SampleBank

    return SampleBank(tuple((layer.samples, layer.rate_hz) for layer in load_layers(samples, names)))


def _record(
    wanted: Wanted, scene: Scene, bank: SampleBank | None, out: Path, truth: Path | None
) -> SimulatedTake:
    """Play, and write the recording and the truth."""
    from evenhand.acts.takes.simulate import simulate_take
    from evenhand.media.write import write_wav

    take = simulate_take(wanted, scene, bank)
    write_wav(out, take.samples, take.rate_hz)
    give((truth, lambda: take.truth.to_json() + "\n"))
    return take


EXERCISE, TEMPO, REPETITIONS, SEED = "4/4 1/8: RLRR LRLL", "1/4=84", 16, 11
FAULTS = ("late-hand=L:11", "weak-hand=L:3.5", "weak-second=2.5")
STORY = f"""
Ines Okoro, an invented student, plays {EXERCISE} at {TEMPO}, {REPETITIONS} repetitions, on a snare
drum in a small room, with a click on headphones. Put in on purpose: her left hand comes 11 ms late and
3.5 dB weak, and the second of two strokes by one hand 2.5 dB weaker than the first.
"""

DemoOutOption = Annotated[Path, typer.Option("--out", metavar="DIR", help="Where the results go.")]


def demo(out: DemoOutOption = Path("demo-out")) -> None:
    """Hear an invented student's take, and write its report."""
    make_folder(out)
    typer.echo(STORY)
    take = _demo_record(out)
    _say(out, take, _hear(out))


def _demo_record(out: Path) -> SimulatedTake:
    """Record the invented student."""
    from evenhand.acts.takes.simulate import Wanted
    from evenhand.synthesis.instruments import Room, Scene

    scene = Scene(instrument="snare", noise_snr_db=40.0, room=Room())
    wanted = Wanted(TakeRequest.read(EXERCISE, TEMPO), REPETITIONS, FAULTS, SEED)
    return _record(wanted, scene, None, out / "take.wav", out / "truth.json")


def _hear(out: Path) -> HeardTake:
    """Hear the recording as any other, from its file, knowing nothing of the truth; write what was heard."""
    with hearing(out / "take.wav") as progress:
        from evenhand.acts.takes.document import json_text
        from evenhand.acts.takes.hear import hear_take
        from evenhand.media.open_take import open_take

        asked = TakeRequest.read(EXERCISE, TEMPO)
        heard = hear_take(out / "take.wav", asked, opens=open_take, progress=progress)
    give((out / "heard.json", lambda: json_text(heard)), (out / "report.html", lambda: report_of(heard)))
    return heard


def _say(out: Path, take: SimulatedTake, heard: HeardTake) -> None:
    """Say what was heard, and where everything lies."""
    from evenhand.cli.tables.take import say

    say(heard, report=out / "report.html")
    played, found = len(take.truth.hits), len(heard.heard.hits)
    typer.echo(
        f"  Played {played} notes, heard {found}. In {out}: take.wav, truth.json, heard.json, report.html"
    )
