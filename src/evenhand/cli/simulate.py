"""``evenhand simulate``: record an invented player."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.application.asked import Asked
from evenhand.cli.files import check_places, write_text
from evenhand.cli.options import ExerciseOption, TempoOption, finite
from evenhand.errors import WrongOptions

if TYPE_CHECKING:  # these bring numpy, which the help need not wait for
    from evenhand.sound.player import SampleBank, Scene

Instrument = Literal["pad", "snare", "ringing_snare"]

RepetitionsOption = Annotated[
    int, typer.Option("--repetitions", metavar="N", min=1, help="Repetitions of the exercise.")
]
SeedOption = Annotated[
    int, typer.Option("--seed", metavar="N", min=0, help="The same seed gives the same take, bit for bit.")
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
    asked = Asked.read(exercise, tempo)
    if out.suffix.lower() != ".wav":
        raise WrongOptions(got=str(out), must_be="a name that ends in .wav")
    check_places(out, truth)
    scene = _scene(instrument, noise_db, click_level, room=room)
    _record(
        asked,
        scene,
        _bank(samples, samples_named),
        out,
        truth,
        repetitions=repetitions,
        seed=seed,
        faults=fault or [],
    )


def _scene(instrument: Instrument, noise_db: float | None, click_level: float | None, *, room: bool) -> Scene:
    """Set the scene."""
    from evenhand.sound.player import Room, Scene

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
    from evenhand.media.samples import load_layers
    from evenhand.sound.player import SampleBank

    return SampleBank(tuple((layer.samples, layer.rate_hz) for layer in load_layers(samples, names)))


def _record(
    asked: Asked,
    scene: Scene,
    bank: SampleBank | None,
    out: Path,
    truth: Path | None,
    *,
    repetitions: int,
    seed: int,
    faults: list[str],
) -> None:
    """Play, and write the recording and the truth."""
    from evenhand.application.simulate_take import Wanted, simulate_take
    from evenhand.media.write import write_wav

    take = simulate_take(Wanted(asked, repetitions, faults, seed), scene, bank)
    write_wav(out, take.samples, take.rate_hz)
    if truth is not None:
        write_text(truth, take.truth.to_json() + "\n")
