"""The stand's page lays the same clicks as the command line."""

from __future__ import annotations

import base64

import pytest
from playwright.sync_api import Browser

from evenhand.music.bars import clicks_along
from evenhand.music.click_pattern import ClickPattern
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.studio.stand.music import stand_music
from evenhand.web.assets import STATIC
from evenhand.web.views.widget import CLICK_PATTERNS

BEATS = 160
ASK = """async ([url, text, bars, counted, beat, beats]) => {
  const { clicksOf } = await import(url);
  const at = clicksOf(text, { bars, counted, beat });
  return [...Array(beats).keys()].flatMap((k) => at(k).map((c) => [k + c.after, c.kind, c.gain]));
}"""


@pytest.mark.parametrize(
    ("text", "tempo"),
    [
        ("4/4 1/8: RLRR LRLL", "1/4=100"),
        ("3/4 1/8: RLRLRL", "1/4=100"),
        ("6/8 1/8: RLRLRL", "3/8=60"),
        ("1/16: RLRRL", "1/4=80"),  # across the bars: no accent
        ("2+2+3/8 1/8: RL RL RLR", "1/8=200"),
        ("4/4 1/8: RLRR LRLL | 3/4 RLRLRL | 7/8 RLRLRLR", "1/4=100"),
        ("4/4 pickup 1/8: RL | RLRR LRLL |", "1/4=100"),
        ("2/4 pickup 1/8: R | RLRL | RLR", "1/4=100"),
    ],
)
def test_page_and_command_line_agree(browser: Browser, text: str, tempo: str) -> None:
    """Every pattern that the stand offers, and swing, groups and clicks between, over many bars."""
    script = base64.b64encode((STATIC / "click-pattern.js").read_bytes()).decode()
    url = f"data:text/javascript;base64,{script}"
    exercise, at = parse_exercise(text), Tempo.parse(tempo)
    facts = stand_music(text, at, None).facts
    offered = [f"{each}:77" if each.startswith("drawn=") else each for each in CLICK_PATTERNS]
    more = [
        "plain",
        "between=3",
        "between=2 swing=2/3 plain",
        "offbeats swing=3/5 silent=3:1",
        "bar/4 fade=2:20",
    ]
    groups = ["3+3+2/8 drawn=1/2:123456"] if exercise.length == 1 else []
    page = browser.new_page()
    for pattern in (*offered, *more, *groups):
        for counted in (True, False):
            bars = facts["counted"] if counted else []
            found = page.evaluate(ASK, [url, pattern, facts["bars"], bars, float(at.beat), BEATS])
            which = ClickPattern.parse(pattern)
            heard = clicks_along(exercise, at, which, BEATS * at.beat, counted=counted)
            due = [[float(p.at / at.beat), p.kind, 10 ** (p.level_db / 20)] for p in heard]
            assert [kind for _, kind, _ in found] == [kind for _, kind, _ in due], pattern
            assert [place for place, _, _ in found] == pytest.approx([place for place, _, _ in due]), pattern
            assert [gain for *_, gain in found] == pytest.approx([gain for *_, gain in due]), pattern
    page.close()
