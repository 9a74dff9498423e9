"""How deep the laws are searched is set in one place."""

from __future__ import annotations

import re

from hypothesis import settings

from tests import depth
from tests.architecture.house import TESTS, named

OWN = re.compile(r"max_examples|\bsettings\(|hypothesis import .*\bsettings\b")
ALLOWED = {"tests/depth.py", "tests/architecture/test_depth.py"}


def test_no_law_sets_its_own_number_of_examples() -> None:
    laws = [path for path in TESTS if "hypothesis" in (text := path.read_text("utf-8")) and OWN.search(text)]
    assert {named(path) for path in laws} - ALLOWED == set()


def test_a_law_takes_its_share_of_the_profile() -> None:
    whole = settings().max_examples
    assert whole == depth.EXAMPLES[depth.LAWS]
    assert depth.share(0.25).max_examples == whole / 4
    assert depth.share(0.25).deadline is None
    assert depth.share(0.001).max_examples == 1
