"""The stand's page lays the same clicks as the command line."""

from __future__ import annotations

import base64
from fractions import Fraction

import pytest
from playwright.sync_api import Browser

from evenhand.music.click_pattern import ClickPattern
from evenhand.web.assets import STATIC
from evenhand.web.views.widget import CLICK_PATTERNS

BARS = 40
ASK = """async ([url, text, bar, beat, accented, bars]) => {
  const { clicksOf } = await import(url);
  const at = clicksOf(text, { bar, beat, accented });
  return [...Array(bars * bar).keys()].flatMap((k) => at(k).map((c) => [k + c.after, c.kind, c.gain]));
}"""


@pytest.mark.parametrize(
    ("bar", "beat"), [(4, Fraction(1, 4)), (3, Fraction(1, 4)), (2, Fraction(3, 8)), (7, Fraction(1, 8))]
)
def test_page_and_command_line_agree(browser: Browser, bar: int, beat: Fraction) -> None:
    """Every pattern that the stand offers, and swing, groups and clicks between, over forty bars."""
    script = base64.b64encode((STATIC / "click-pattern.js").read_bytes()).decode()
    url = f"data:text/javascript;base64,{script}"
    offered = [f"{text}:77" if text.startswith("drawn=") else text for text in CLICK_PATTERNS]
    more = [
        "plain",
        "between=3",
        "between=2 swing=2/3 plain",
        "offbeats swing=3/5 silent=3:1",
        "bar/4 fade=2:20",
    ]
    groups = ["3+3+2/8 drawn=1/2:123456"] if bar * beat == 1 else []
    page = browser.new_page()
    for text in (*offered, *more, *groups):
        for accented in (True, False):
            found = page.evaluate(ASK, [url, text, bar, float(beat), accented, BARS])
            places = ClickPattern.parse(text).places(bar * beat, beat, BARS, accented=accented)
            due = [[float(p.at / beat), p.kind, 10 ** (p.level_db / 20)] for p in places]
            assert [kind for _, kind, _ in found] == [kind for _, kind, _ in due], text
            assert [at for at, _, _ in found] == pytest.approx([at for at, _, _ in due]), text
            assert [gain for *_, gain in found] == pytest.approx([gain for *_, gain in due]), text
    page.close()
