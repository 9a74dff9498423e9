"""The repository speaks only of itself, names no registry, and grades nobody."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.architecture.house import DOCS, ROOT, SOURCES, kept, named

HERE = Path(__file__)
TEXT = {".py", ".md", ".toml", ".txt", ".json", ".yml", ".yaml", ".cfg", ".sh", ".css", ".html", ""}
ADDRESSES = re.compile(
    r"(pypi|pythonhosted|anaconda|conda-forge)\.(org|io|com)|registry\.|/simple\b", re.IGNORECASE
)
MACHINE_PATHS = re.compile(r"(?<![\w.])/(work|tmp|home|root|opt|Users)/|/usr/share/")
DRUM_PROGRAM = re.compile(r"\bhydrogen\b", re.IGNORECASE)  # prose says "drum-kit recordings"
NOT_OF_US = re.compile(
    r"\b(chatbot|language model|LLM|prompt engineer\w*|AI[- ](written|generated|assistant))\b"
)
BESIDE_US = re.compile(r"shared/data|[\"']shared[\"'] /")
UNNAMED = re.compile(r"\b(answer page|press reports?|public listings?|encyclopaedia's page)\b", re.IGNORECASE)
GRADES = re.compile(
    r"\b(leaderboard|badge|streak|high[- ]score|gold star|percent correct)s?\b", re.IGNORECASE
)


def texts() -> list[Path]:
    return [path for path in kept() if path.suffix in TEXT and path != HERE]


@pytest.mark.parametrize(
    ("forbidden", "where"),
    [
        pytest.param(ADDRESSES, texts(), id="a registry's address"),
        pytest.param(MACHINE_PATHS, texts(), id="a path of one machine"),
        pytest.param(DRUM_PROGRAM, [path for path in texts() if path.suffix == ".md"], id="a drum program"),
        pytest.param(
            BESIDE_US, [path for path in texts() if path.suffix == ".py"], id="a folder beside the repository"
        ),
        pytest.param(UNNAMED, texts(), id="a source without its name"),
        pytest.param(NOT_OF_US, texts(), id="how it was made"),
        pytest.param(GRADES, [*SOURCES, *DOCS, ROOT / "README.md"], id="grades"),
        pytest.param(re.compile(r"https?://"), [ROOT / "constraints.txt"], id="an address among the pins"),
        pytest.param(
            re.compile(r"https?://"), [ROOT / "constraints-dev.txt"], id="an address among the pins of dev"
        ),
    ],
)
def test_is_not_in_the_repository(forbidden: re.Pattern[str], where: list[Path]) -> None:
    found = [
        f"{named(path)}:{number}: {line.strip()[:80]}"
        for path in where
        for number, line in enumerate(path.read_text("utf-8", errors="replace").splitlines(), start=1)
        if forbidden.search(line)
    ]
    assert not found


def test_every_word_of_the_measures_is_in_the_glossary() -> None:
    glossary = (ROOT / "docs" / "glossary.md").read_text("utf-8")
    for word in (
        "asynchrony",
        "deviation",
        "balance",
        "short share",
        "timekeeper",
        "drift",
        "extra",
        "missed",
        "stretch",
    ):
        assert f"\n| {word} |" in glossary
