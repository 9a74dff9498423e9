"""A player's lift scale is fitted from two takes, kept, and read back."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from evenhand.acts.takes.lifting import fit_lifting, lifting_text, read_lifting
from evenhand.errors import BadDocument, WrongOptions
from evenhand.measuring.seen import SeenTake
from evenhand.watching.values import LiftParts
from tests.unit.report.test_watched import a_seen_take

FREE, LIFTED = LiftParts(0.66, 0.95, 0.98), LiftParts(0.43, 0.05, 0.3)


def a_take_of(parts: LiftParts, n: int = 20) -> SeenTake:
    take = a_seen_take()
    strokes = tuple(replace(stroke, parts=parts) for stroke in take.watched.strokes[:n])
    return replace(take, watched=replace(take.watched, strokes=strokes))


def test_it_is_kept_and_read_back(tmp_path: Path) -> None:
    scale = fit_lifting(a_take_of(FREE), a_take_of(LIFTED))
    path = tmp_path / "own.json"
    path.write_text(lifting_text(scale), "utf-8")
    assert read_lifting(path).at_free == pytest.approx(scale.at_free)
    assert read_lifting(path).middle == pytest.approx(scale.middle, abs=1e-4)


def test_what_cannot_be_fitted_is_refused_with_the_reason() -> None:
    with pytest.raises(WrongOptions, match="got 5 free and 20 lifted strokes whose rise could be seen"):
        fit_lifting(a_take_of(FREE, 5), a_take_of(LIFTED))
    with pytest.raises(WrongOptions, match="of which 50 % can be told apart"):
        fit_lifting(a_take_of(FREE), a_take_of(FREE))


@pytest.mark.parametrize("text", ["{}", "[]", "no json", '{"schema": "urn:evenhand:lifting-1", "scale": {}}'])
def test_another_file_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "own.json"
    path.write_text(text, "utf-8")
    with pytest.raises(BadDocument, match=r"must be a JSON file written by evenhand lifting"):
        read_lifting(path)
