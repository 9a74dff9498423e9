"""The scripts of the stand agree with the rooms that they repeat, and with the catalogue of words."""

from __future__ import annotations

import re
from pathlib import Path

from evenhand.music.exercise import click_step_bpm
from evenhand.report.plots.marks import LEAN, SHORTEST, TICK_PX, WEIGHTS
from evenhand.synthesis import click as click_voice
from evenhand.watching.tapes import HUES_DEG, LARGEST_SHARE, NEAR_DEG
from evenhand.web.assets import STATIC

SCRIPTS = [path for path in STATIC.glob("*.js") if path.name != "htmx.min.js"]
MOST_LINES = 320


def text_of(name: str) -> str:
    return (STATIC / name).read_text(encoding="utf-8")


def test_the_pages_click_is_the_one_that_the_ear_knows() -> None:
    script = text_of("click.js")
    for kind in ("first", "beat"):
        low, high = click_voice.TONES_HZ[kind]
        assert f"{kind}: [{low:g}, {high:g}]" in script
    assert f"SHARES = [{click_voice.SHARES[0]:g}, {click_voice.SHARES[1]:g}]" in script
    assert f"RISE_S = {click_voice.RISE_S:g}, DECAY_S = {click_voice.DECAY_S:g}" in script
    assert f"SECONDS = {click_voice.SECONDS:g}, FADE_SHARE = {click_voice.FADE_SHARE:g}" in script


def test_live_sticks_lean_as_the_reports_do() -> None:
    script = text_of("stand-sticks.js")
    assert f"LEAN = ({round(LEAN * 180 / 3.141592653589793)} * Math.PI) / 180" in script
    assert f"SHORTEST = {SHORTEST}, WEIGHTS = {WEIGHTS}" in script
    assert f"TICK_PX = {TICK_PX}" in script


def test_the_preview_looks_for_the_tapes_that_are_watched() -> None:
    script = text_of("stand-set-up.js")
    hues = ", ".join(f"{name}: {hue:g}" for name, hue in HUES_DEG.items())
    assert f"HUES_DEG = {{ {hues} }}" in script
    assert f"NEAR_DEG = {NEAR_DEG:g}" in script
    assert f"MOST_SHARE = {LARGEST_SHARE:g}" in script


def test_tempo_turns_in_the_steps_of_a_click() -> None:
    found = re.search(r"bpm < (\d+) \? (\d) : bpm < (\d+) \? (\d) : (\d)", text_of("stand-settings.js"))
    assert found
    low, one, high, two, four = (int(each) for each in found.groups())
    for bpm in (low - 1, low, high - 1, high):
        told = one if bpm < low else two if bpm < high else four
        assert told == click_step_bpm(bpm)


def test_every_text_that_a_script_says_is_there() -> None:
    said: set[str] = set()
    for path in SCRIPTS:
        if path.name.startswith("stand") or path.name in {"recorder.js", "latency.js", "live.js"}:
            said |= set(re.findall(r'\bsay\(\s*"(\w+)"', path.read_text(encoding="utf-8")))
            said |= set(re.findall(r'\b(?:status|trouble|told)\("(\w+)"', path.read_text(encoding="utf-8")))
            said |= set(re.findall(r'"(mic_\w+)"', path.read_text(encoding="utf-8")))
        if path.name.startswith("stand"):
            script = path.read_text(encoding="utf-8")
            said |= set(re.findall(r'"((?:hears|told|start_|stop_)\w*)"', script))
    said.discard("mic_")
    assert len(said) > 30
    assert said <= set(re.findall(r"^  (\w+):", text_of("stand-words.js"), re.MULTILINE))


def test_scripts_stay_short_and_hold_nothing_from_elsewhere() -> None:
    for path in SCRIPTS:
        script = path.read_text(encoding="utf-8")
        assert len(script.splitlines()) <= MOST_LINES, path.name
        assert not re.findall(r"https?://(?!www\.w3\.org/2000/svg)", script), path.name
        assert not re.search(r"\beval\(|new Function\(", script), path.name


def test_templates_hold_no_script_of_their_own() -> None:
    for path in (Path(STATIC).parent / "templates").glob("stand*.html"):
        page = path.read_text(encoding="utf-8")
        bare = re.sub(r"<script[^>]*>\{\{ whole\[", "", page)  # a bundle, put in for who comes first
        assert not re.search(r"<script(?![^>]*\bsrc=)", bare), path.name
        assert not re.search(r"\son\w+=", page), path.name
