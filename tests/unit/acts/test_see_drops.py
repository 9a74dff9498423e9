"""A film of dropped sticks: heard as any, and watched; heights and times told apart."""

from __future__ import annotations

from itertools import chain, pairwise
from pathlib import Path

import numpy as np
import pytest

from evenhand.acts.takes.dropped import drops_request, see_drops, seen_too
from evenhand.acts.takes.tests import bounce_json, hear_bounce
from evenhand.errors import NothingSeen, WrongOptions
from evenhand.media.film.reader import FilmReader
from evenhand.media.open_take import open_take
from evenhand.progress.bounce.restitution import G_CM_PER_S2, HeardBounce
from evenhand.report.plots.tests import bounce_page
from tests.films import BLUE, PAD_TOP, PX_PER_CM, Shown, a_film, bar, sound_of, still
from tests.unit.progress.drops import falling

KEPT, FROM_CM = 0.8, (24.0, 18.0)
HITS_S = [falling(cm, KEPT, 9, 1.5 + 2.5 * i).tolist() for i, cm in enumerate(FROM_CM)]
ALL_S = sorted(chain(*HITS_S))


def height_cm(time_s: float) -> float:
    """Say how high the stick is: held up, falling freely, bouncing, lying."""
    for cm, hits_s in zip(FROM_CM, HITS_S, strict=True):
        falls_s = float(np.sqrt(2 * cm / G_CM_PER_S2))
        if hits_s[0] - 1.2 < time_s <= hits_s[0] - falls_s:
            return cm
        if hits_s[0] - falls_s < time_s <= hits_s[0]:
            return cm - float(G_CM_PER_S2 * (time_s - hits_s[0] + falls_s) ** 2 / 2)
        for start_s, end_s in pairwise(hits_s):
            if start_s < time_s <= end_s:
                return float(G_CM_PER_S2 * (time_s - start_s) * (end_s - time_s) / 2)
    return 0.0


def one_stick(time_s: float) -> Shown:
    picture = still()
    bar(picture, 255, PAD_TOP + 6 - PX_PER_CM * height_cm(time_s), BLUE)
    return picture


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("films") / "drops.mp4"
    return a_film(path, one_stick, seconds=6.0, hits_s=ALL_S)


@pytest.fixture(scope="module")
def heard(film: Path) -> HeardBounce:
    return hear_bounce(film, opens=open_take)


def test_each_drop_has_its_height_and_both_ways_agree(film: Path, heard: HeardBounce) -> None:
    seen = see_drops(film, heard, drops_request("auto", pad_cm=30.0), films=FilmReader())
    assert len(seen.drops) == 2
    for drop, cm in zip(seen.drops, FROM_CM, strict=True):
        assert drop.seen is not None
        assert drop.seen.drop_height_cm.value == pytest.approx(1.11 * cm, abs=1.5)  # as in test_watch_take
        assert drop.seen.restitution.value == pytest.approx(KEPT, abs=0.03)
        assert drop.seen.agrees == "agree"
    written = bounce_json(seen)["drops"][0]["seen"]
    assert set(written) == {"drop_height_cm", "heights_cm", "restitution", "agrees"}
    assert "dropped from, seen" in bounce_page(seen)
    assert "dropped from, seen" not in bounce_page(heard)


def test_without_tape_it_is_heard_and_says_so_unless_the_tape_was_named(
    tmp_path: Path, heard: HeardBounce
) -> None:
    plain = a_film(tmp_path / "film.mp4", lambda _time_s: still(), fps=30.0, seconds=6.0, hits_s=ALL_S)
    found = seen_too(plain, heard, drops_request(), films=FilmReader())
    assert found.drops == heard.drops
    assert "its pictures were not watched: film.mp4: no coloured tape moves in it" in found.warnings[-1]
    with pytest.raises(NothingSeen, match="no blue tape"):
        seen_too(plain, heard, drops_request("R=blue"), films=FilmReader())


def test_a_sound_is_no_film(tmp_path: Path, heard: HeardBounce) -> None:
    assert sound_of(ALL_S, 6.0).size
    assert seen_too(tmp_path / "drops.wav", heard, drops_request(), films=FilmReader()) is heard


def test_what_was_typed_wrong_is_named() -> None:
    with pytest.raises(WrongOptions, match="a colour for each hand"):
        drops_request("mauve")
    with pytest.raises(WrongOptions, match="10 to 60 cm"):
        drops_request(pad_cm=300)
