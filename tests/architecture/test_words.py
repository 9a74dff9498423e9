"""The repository speaks only of itself, names no registry, and grades nobody."""

from __future__ import annotations

import ast
import re
from functools import cache
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


# Sentences that a native reader stumbled over, and what stands for one thing in more than one word.
STUMBLED = re.compile(
    r"kept up beside;|not tried yet, from the slow end|strokes in the week after|tell it from none"
    r"|\(to an ear\)|an ear tells from|thrown ever so hard|not to be heard|no written stroke"
    r"|[Pp]ut (a|this) hit right|one and the same|Leave on this device|\} is in\"|would look changed"
    r"|no take shows it|stage .* is played with the same stroke|flights hardly",
)
OTHER_WORDS: tuple[tuple[str, str], ...] = (
    (r"\btimes? through\b", "repetition"),
    (r"\bblows?\b", "hit; stroke of what a hand does; note of what is written"),
    (r"\b95 % (confidence )?intervals?\b", "range"),
    (r"\b(?-i:n) = ", "from"),
    (r"\b(few|no|many) strokes (were heard|to judge)", "hits"),
    (r"\bnotes? (got|gets|get|is|was|were) lost\b|\blost notes?\b", "missed"),
    (r"\bover (its )?taps\b|\btaps' level", "unaccented"),
    (r"\bloudness\b", "level"),
    (r"\b(doctor|physician)s?\b", "clinician"),
)
OF_FILES = {
    "docs/architecture.md",
    "docs/click.md",
    "docs/dependencies.md",
    "docs/glossary.md",
    "src/evenhand/cli/tracks.py",
}


@cache
def shown_in(path: Path) -> tuple[tuple[int, str], ...]:
    """Return what people read of a file, with its lines: prose without code, strings that are sentences."""
    text = path.read_text("utf-8")
    if path.suffix != ".py":
        without_code = re.sub(
            r"```.*?```|`[^`]*`", lambda found: "\n" * found[0].count("\n"), text, flags=re.DOTALL
        )
        return tuple(enumerate(without_code.splitlines(), start=1))
    tree = ast.parse(text)
    documented = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    skipped = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, documented) and node.body and isinstance(node.body[0], ast.Expr)
    }
    return tuple(
        (node.lineno, node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in skipped
        if " " in node.value
    )


def read_by_people() -> list[Path]:
    web = (ROOT / "src" / "evenhand").rglob("*")
    others = [path for path in web if path.suffix in {".html", ".typ"}]
    return [*SOURCES, *others, *DOCS, ROOT / "README.md"]


def test_no_sentence_stands_that_readers_stumbled_over() -> None:
    assert [
        f"{named(path)}:{line}: {found[0]}"
        for path in read_by_people()
        for line, said in shown_in(path)
        if (found := STUMBLED.search(said))
    ] == []


@pytest.mark.parametrize(("other", "word"), OTHER_WORDS, ids=[word for _, word in OTHER_WORDS])
def test_one_thing_has_one_word(other: str, word: str) -> None:
    """What people read says ``word``, never ``other``; loudness is only what a whole file has."""
    assert word
    allowed = OF_FILES if word == "level" else {"docs/glossary.md"}
    assert [
        f"{named(path)}:{line}: {said.strip()[:80]}"
        for path in read_by_people()
        if named(path) not in allowed
        for line, said in shown_in(path)
        if re.search(other, said, re.IGNORECASE)
    ] == []


def test_each_word_of_the_glossary_stands_once_and_has_one_meaning() -> None:
    rows = re.findall(
        r"^\| ([^|]+) \| ([^|]+) \|", (ROOT / "docs" / "glossary.md").read_text("utf-8"), re.MULTILINE
    )
    words = [word for cell, _ in rows[2:] for word in cell.split(", ")]
    assert {"tap", "interval", "stroke", "hit", "repetition", "range"} <= set(words)
    assert [word for word in set(words) if words.count(word) > 1] == []
    assert [cell for cell, meaning in rows[2:] if re.search(r"\balso\b|; in sentences", meaning)] == []


def test_the_hands_inks_mean_hands_and_nothing_else() -> None:
    """In style sheets the two inks stand only where a hand's class is named; on paper only in the music."""
    styles = [
        *(ROOT / "src" / "evenhand" / "web" / "static").glob("*.css"),
        *(ROOT / "src" / "evenhand" / "report" / "style").glob("*.css"),
    ]
    rules = [rule for path in styles for rule in re.findall(r"[^{}\n]*\{+[^{}]*\}+", path.read_text("utf-8"))]
    assert [
        r for r in rules if re.search(r"var\(--(right|left)\)", r) and not re.search(r"\.[rl]\b", r)
    ] == []
    papers = (ROOT / "src" / "evenhand" / "report").glob("*.typ")
    assert [path.name for path in papers if re.search(r"(right|left)-ink", path.read_text("utf-8"))] == []
