"""The simulated take as a whole: what the scene says is in the samples, and the truth says so."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from evenhand.errors import WrongUse
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.instruments import Room, Scene
from evenhand.synthesis.player import SimulatedTake, simulate
from evenhand.synthesis.playing import Player

FOUR = parse_exercise("1/8: RLRR")
TEMPO = Tempo.parse("1/8=240")
QUIET = Scene(lead_in_s=0.3, tail_s=0.4)


def take(
    scene: Scene = QUIET, player: Player | None = None, seed: int = 1, repetitions: int = 4
) -> SimulatedTake:
    return simulate(FOUR, TEMPO, repetitions, player=player or Player(), scene=scene, seed=seed)


def rms(x: NDArray[np.floating]) -> float:
    return float(np.sqrt(np.mean(np.asarray(x, np.float64) ** 2)))


def test_a_take_is_one_channel_of_float32_with_every_note_in_its_truth() -> None:
    simulated = take()
    assert simulated.samples.dtype == np.float32
    assert simulated.samples.ndim == 1
    assert [(hit.repetition, hit.position) for hit in simulated.truth.hits] == [
        (repetition, position) for repetition in (1, 2, 3, 4) for position in range(4)
    ]
    assert "".join(hit.hand for hit in simulated.truth.hits) == "RLRR" * 4
    assert simulated.truth.tempo_bpm == pytest.approx(240)


def test_the_peak_stands_where_the_scene_wants_it() -> None:
    assert np.max(np.abs(take(replace(QUIET, peak_db=-9.0)).samples)) == pytest.approx(10 ** (-9 / 20))


def test_noise_stands_below_the_loud_strokes_by_the_ratio_asked() -> None:
    """Measured: the lead-in is noise alone; the loud strokes' first 50 ms are the clean take's."""
    noisy, clean = (
        take(replace(QUIET, noise_snr_db=20.0, noise_colour="white", lead_in_s=2.0, count_in="none")),
        take(replace(QUIET, lead_in_s=2.0, count_in="none")),
    )
    hits = sorted(clean.truth.hits, key=lambda hit: -hit.level_db)[:4]
    first = [round(hit.time_s * 48000) for hit in hits]
    loud = rms(np.concatenate([clean.samples[i : i + 2400] for i in first]))
    scale = 10 ** ((noisy.truth.hits[0].level_db - clean.truth.hits[0].level_db) / 20)
    assert 20 * np.log10(loud * scale / rms(noisy.samples[:90000])) == pytest.approx(20, abs=1.2)


def test_a_click_stands_at_its_level_and_its_period() -> None:
    scene = replace(QUIET, click_db=-8.0)
    with_click, without = take(scene), take()
    assert np.diff(with_click.truth.clicks_s) == pytest.approx(0.25, abs=1e-7)
    assert with_click.truth.clicks_s[0] == pytest.approx(0.3, abs=2e-6)
    assert len(with_click.truth.clicks_s) == 20
    count_in = round(1.2 * 48000)
    click_peak = np.max(np.abs(with_click.samples[:count_in]))
    first = [round(hit.time_s * 48000) for hit in without.truth.hits]
    strokes = np.mean([np.max(np.abs(without.samples[i : i + 2000])) for i in first])
    gain = 10 ** ((with_click.truth.hits[0].level_db - without.truth.hits[0].level_db) / 20)
    assert 20 * np.log10(click_peak / (strokes * gain)) == pytest.approx(-8, abs=0.5)


def test_a_count_in_click_ends_before_the_playing() -> None:
    truth = take(replace(QUIET, click_db=-8.0, click_through=False)).truth
    assert len(truth.clicks_s) == 4
    assert truth.clicks_s[-1] + 0.25 == pytest.approx(truth.hits[0].time_s, abs=0.02)


def test_the_first_click_of_a_bar_may_sound_higher() -> None:
    plain, accented = (take(replace(QUIET, click_db=0.0, click_accent=accent)) for accent in (False, True))
    first = slice(round(0.3 * 48000), round(0.32 * 48000))
    hz = [float(np.argmax(np.abs(np.fft.rfft(sound.samples[first], 48000)))) for sound in (plain, accented)]
    assert hz == pytest.approx([1000, 1500], abs=40)


def test_sticks_count_in_and_are_no_hits() -> None:
    truth = take(replace(QUIET, count_in="sticks", count_in_beats=4)).truth
    assert len(truth.count_in_s) == 4
    assert len(truth.hits) == 16
    assert truth.count_in_s[-1] < truth.hits[0].time_s - 0.2


def test_without_a_click_in_the_room_there_are_no_clicks_in_the_truth() -> None:
    assert take(QUIET).truth.clicks_s == ()


def test_talk_comes_before_the_playing() -> None:
    simulated = take(replace(QUIET, talking=True, count_in="none"))
    first = round(simulated.truth.hits[0].time_s * 48000)
    assert rms(simulated.samples[: first - 4800]) > 0.003
    assert simulated.truth.hits[0].time_s > 2.5


def test_clipping_cuts_at_full_scale() -> None:
    simulated = take(replace(QUIET, clip_db=9.0))
    assert np.max(np.abs(simulated.samples)) == 1.0
    assert np.count_nonzero(np.abs(simulated.samples) == 1.0) > 20


def test_dc_is_added() -> None:
    assert np.median(take(replace(QUIET, dc=0.1)).samples) == pytest.approx(0.1, abs=0.002)


def test_truth_levels_follow_the_gain_that_the_recorder_rode() -> None:
    """An accent ducks the gain of what follows: a tap's distance to it is no longer the player's."""
    exercise = parse_exercise("1/8: >R L L L L L L L")
    player = Player(accent_db=20, level_sd_db=0)
    flat = simulate(exercise, TEMPO, 3, player=player, scene=QUIET)
    ridden = simulate(exercise, TEMPO, 3, player=player, scene=replace(QUIET, agc=True))
    drop = [t.truth.hits[7].level_db - t.truth.hits[0].level_db for t in (flat, ridden)]
    assert drop[0] == pytest.approx(-20, abs=1e-6)
    assert drop[1] > drop[0] + 2


def test_missed_extra_and_buzz_are_told() -> None:
    player = Player(miss_rate=0.3, extra_rate=0.3)
    truth = take(player=player, seed=4, repetitions=10).truth
    assert len(truth.hits) + len(truth.missed) == 40
    assert truth.extras
    buzz = simulate(parse_exercise("1/4: R~L"), Tempo.parse("1/4=90"), 2).truth
    assert len(buzz.hits) == 4
    assert len(buzz.bounces_s) >= 8


def test_the_truth_tells_the_drift() -> None:
    """Six beats a minute each minute, from 240: after 4 s of playing 240.4, on the mean 240.2."""
    truth = take(player=Player(drift_bpm_per_min=6, follow_click=False, timekeeper_sd_ms=0)).truth
    assert truth.drift_bpm_per_min == pytest.approx(6, abs=1e-6)
    assert truth.tempo_bpm == pytest.approx(240.2, abs=0.03)
    one = simulate(parse_exercise("1/8: R"), TEMPO, 1).truth
    assert one.drift_bpm_per_min == 0


def test_the_json_names_things_as_a_heard_take_does() -> None:
    told = json.loads(take(replace(QUIET, click_db=-6.0), Player(miss_rate=0.3), seed=2).truth.to_json())
    assert set(told["hits"][0]) == {"time_s", "level_db", "hand", "repetition", "position", "grace"}
    assert set(told["missed"][0]) == {"repetition", "position", "grace"}
    assert set(told) >= {"hits", "missed", "extra", "clicks", "tempo_bpm", "drift_bpm_per_min"}
    assert set(told["clicks"][0]) == {"time_s"}


def test_a_room_and_a_ringing_drum_work_together_at_a_low_rate() -> None:
    scene = Scene(rate_hz=8000, instrument="ringing_snare", room=Room(), noise_snr_db=15, agc=True)
    assert np.all(np.isfinite(take(scene).samples))


def test_a_take_beyond_an_hour_is_refused() -> None:
    with pytest.raises(WrongUse, match="the take would last"):
        simulate(FOUR, Tempo.parse("1/8=5"), 100)
