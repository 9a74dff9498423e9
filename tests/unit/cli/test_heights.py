"""The commands that calibrate loudness as height, and say what hits were."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from evenhand.cli.student.tests import height_commands
from evenhand.errors import EvenhandError
from evenhand.media.write import write_wav
from tests.unit.acts.test_fit_heights import AIMS, MIXED, struck

GUIDED = ("--exercise", "1/16: RLRL", "--tempo", "1/4=75", "--click", "none")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Record taps, halves, fulls, and a take of all three; and calibrate."""
    place = tmp_path_factory.mktemp("heights")
    for k, (stroke, cm) in enumerate(AIMS.items()):
        write_wav(place / f"{stroke}.wav", struck([cm] * 24, k).samples[:], 48_000)
    write_wav(place / "mixed.wav", struck(MIXED, 7).samples[:], 48_000)
    write_wav(place / "louder.wav", struck(MIXED, 7, gain_db=8.0).samples[:], 48_000)
    ran = calibrate(place, "--picture", str(place / "scale.svg"))
    assert ran.strip().startswith("Twice the height is 3.")
    return place


def heights(*arguments: str) -> str:
    """Run one of the commands; errors of the family come up."""
    app = typer.Typer()
    app.add_typer(height_commands, name="heights")
    done = CliRunner().invoke(app, ["heights", *arguments], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return str(done.stdout)


def calibrate(place: Path, *more: str, stems: Sequence[str] = ("tap", "half", "full")) -> str:
    takes = zip(("--tap", "--half", "--full"), stems, strict=True)
    named = [word for option, stem in takes for word in (option, str(place / f"{stem}.wav"))]
    return heights("calibrate", *named, "--out", str(place / "heights.json"), *GUIDED, *more)


def test_the_calibration_and_its_picture_are_written(folder: Path) -> None:
    written = json.loads((folder / "heights.json").read_text("utf-8"))
    assert set(written["scales"]) == {"R", "L", "both"}
    assert (folder / "scale.svg").read_text("utf-8").startswith("<svg")


def test_what_hits_were_as_json(folder: Path) -> None:
    out = heights(
        "say",
        str(folder / "mixed.wav"),
        "--calibration",
        str(folder / "heights.json"),
        *GUIDED,
        "--json",
        "-",
    )
    hits = json.loads(out)["hits"]
    assert len(hits) == len(MIXED)
    assert all(0.3 < hit["probability"] <= 1 for hit in hits)


def test_what_hits_were_in_plain_words(folder: Path) -> None:
    picture = folder / "said.svg"
    named = (str(folder / "mixed.wav"), "--calibration", str(folder / "heights.json"))
    out = heights("say", *named, *GUIDED, "--picture", str(picture))
    assert f"{len(MIXED)} hits: most likely" in out
    assert picture.read_text("utf-8").startswith("<svg")


def test_a_changed_set_up_is_an_answer_and_no_error(folder: Path) -> None:
    out = heights("say", str(folder / "louder.wav"), "--calibration", str(folder / "heights.json"), *GUIDED)
    assert "calibrate again" in out.replace("\n", " ")


@pytest.mark.parametrize(
    ("more", "message"),
    [
        (("--tap-cm", "30"), "must be taps lower than halves"),
        (("--picture", "no/such/place.svg"), "there is no such folder"),
    ],
)
def test_wrong_use_is_refused(folder: Path, more: tuple[str, ...], message: str) -> None:
    with pytest.raises(EvenhandError, match=message):
        calibrate(folder, *more)


def test_a_file_that_is_no_calibration_is_refused(folder: Path) -> None:
    with pytest.raises(EvenhandError, match="bytes that are not text"):
        heights("say", str(folder / "mixed.wav"), "--calibration", str(folder / "tap.wav"))
