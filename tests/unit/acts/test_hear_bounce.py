"""Hearing drops: from a take to figures, and to JSON in the contract's words."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from evenhand.acts.takes.tests import bounce_json, bounce_text, hear_bounce
from evenhand.errors import NothingHeard, WrongOptions
from evenhand.progress.bounce.restitution import HeardBounce
from evenhand.synthesis.drops import Drop, record_drops
from evenhand.synthesis.instruments import Scene
from evenhand.testing import FakeTakes, midi_take, sound_take
from tests.unit.progress.drops import falling


def a_row_of(*kept: float) -> Any:
    """Give a pad's MIDI of drops from 20 cm, 3 s apart, to flights of 20 ms; levels fall with speed."""
    times, levels = [], []
    for k, share in enumerate(kept):
        blows = falling(20.0, share, 40, 1.0 + 3 * k)
        blows = blows[: 1 + int((np.diff(blows) > 0.02).sum())]
        times += blows.tolist()
        levels += (-10 + 20 * np.log10(share) * np.arange(len(blows))).tolist()
    return midi_take(times, levels)


def hear(take: Any, *labels: str) -> HeardBounce:
    return hear_bounce(Path("drops.mid"), labels, opens=FakeTakes({"drops.mid": take}))


def test_drops_from_a_pad() -> None:
    heard = hear(a_row_of(0.8, 0.6), "open", "tight")
    assert [drop.label for drop in heard.drops] == ["open", "tight"]
    assert [drop.kind for drop in heard.drops] == ["free", "free"]
    assert [drop.bounces for drop in heard.drops] == [14, 6]
    assert [drop.restitution.value for drop in heard.drops] == pytest.approx([0.8, 0.6], abs=1e-3)


def test_the_contracts_words() -> None:
    written = bounce_json(hear(a_row_of(0.7)))
    drop = written["drops"][0]
    assert {"start_s", "bounces", "restitution", "first_height_cm", "hits_s", "kind"} <= set(drop)
    assert {"value", "ci95"} <= set(drop["restitution"])
    assert drop["kind"] in {"free", "damped", "unsure"}
    assert drop["first_height_cm"]["value"] == pytest.approx(20.0, rel=0.01)
    assert bounce_text(hear(a_row_of(0.7))).endswith("}\n")


def test_labels_must_be_one_for_each_drop() -> None:
    with pytest.raises(WrongOptions, match=r"one for each drop heard: 2, beginning at 1\.0, 4\.0 s"):
        hear(a_row_of(0.8, 0.8), "R")


@pytest.mark.parametrize("times", [[], [1.0], [1.0, 1.5, 2.0, 2.5, 3.0, 3.5]])
def test_where_nothing_bounces_it_says_so(times: list[float]) -> None:
    with pytest.raises(NothingHeard, match="no stick in it that bounces on by itself"):
        hear(midi_take(times, [-10.0] * len(times)))


def test_steady_noise_holds_no_drop(rng: np.random.Generator) -> None:
    noise = (0.01 * rng.standard_normal(48_000)).astype(np.float32)
    with pytest.raises(NothingHeard):
        hear(sound_take(noise))


def test_the_recorders_gain_does_not_matter() -> None:
    """The same sound at a tenth of the level: the same figures, by law."""
    take = record_drops([Drop(20, 0.8), Drop(15, 0.7)], Scene(noise_snr_db=45), 2)
    one, two = (
        hear(sound_take(gain * take.samples, take.rate_hz)) for gain in (np.float32(1), np.float32(0.1))
    )
    assert len(one.drops) == len(two.drops) == 2
    for a, b in zip(one.drops, two.drops, strict=True):
        assert a.kind == b.kind
        assert a.restitution.value == pytest.approx(b.restitution.value, abs=2e-3)
