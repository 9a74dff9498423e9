"""Every remark can be said with the facts that it is made with."""

from __future__ import annotations

import ast
import string
from pathlib import Path
from typing import get_args

import pytest

import evenhand
from evenhand.measuring.values import FindingKind
from evenhand.report.words.findings import OPEN, QUESTIONS, REMEDIES, SAYS
from evenhand.report.words.remarks import REMARKS, THEN, remark_sentences, remark_words
from evenhand.take import Remark, RemarkKind

SOURCES = sorted(Path(evenhand.__file__).parent.rglob("*.py"))
BY_HAND = {"hand", "of_hand"}  # made of ``hand``
WITHOUT_FIGURES = {
    "unlike_exercise",
    "two_alignments",
    "other_sticking",
    "cannot_tell",
}  # a remark stands for them
NEVER_OPEN = {"missed_note", "uneven_above_tempo", "stroke_heights", "uneven_heights", "lifted_stick"}


def made() -> list[tuple[str, set[str] | None]]:
    """Find where remarks are made: their kind, and their facts' names, None where those are not literal."""
    found = []
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            is_remark = isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Remark"
            if not is_remark or not isinstance(node, ast.Call) or not node.args:
                continue
            facts = node.args[1] if len(node.args) > 1 else ast.Dict([], [])
            literal = isinstance(facts, ast.Dict) and all(isinstance(key, ast.Constant) for key in facts.keys)
            names = {str(key.value) for key in facts.keys} if literal else None  # type: ignore[attr-defined]
            found += [
                (str(each.value), names) for each in ast.walk(node.args[0]) if isinstance(each, ast.Constant)
            ]
    return [(kind, names) for kind, names in found if kind in get_args(RemarkKind)]


def named() -> set[str]:
    """Find the kinds that are named where remarks are made, not where they are said or listed."""
    making = [path for path in SOURCES if path.name != "take.py" and "words" not in path.parts]
    nodes = (node for path in making for node in ast.walk(ast.parse(path.read_text("utf-8"))))
    found = {node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)}
    return found | {"written"}


def fields_of(template: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(template) if name}


def test_every_kind_has_its_words_and_is_made_somewhere() -> None:
    kinds = set(get_args(RemarkKind))
    assert set(REMARKS) == kinds
    assert set(THEN) <= kinds
    assert len(kinds - named()) <= 1


@pytest.mark.parametrize(("kind", "names"), [each for each in made() if each[1] is not None])
def test_a_remark_has_the_facts_that_its_words_need(kind: RemarkKind, names: set[str]) -> None:
    given = names | (BY_HAND if "hand" in names else set())
    words = REMARKS[kind]
    needed = fields_of(words) if isinstance(words, str) else set()
    assert needed | fields_of(THEN.get(kind, "")) <= given


def test_every_finding_can_be_said_and_every_question_asked() -> None:
    kinds = set(get_args(FindingKind))
    assert set(REMEDIES) == kinds
    assert set(SAYS) == kinds - WITHOUT_FIGURES
    asked = kinds - WITHOUT_FIGURES - NEVER_OPEN - {"even"}
    assert set(OPEN) == asked
    assert set(QUESTIONS) | {"late_hand", "early_hand", "flam_flat", "flam_wide"} == asked


def test_what_follows_from_a_remark_is_a_sentence_of_its_own() -> None:
    said = remark_sentences(
        Remark("two alignments", {"note": 1, "at_s": 2.0, "other_note": 3, "other_at_s": 4})
    )
    assert [each[-1] for each in said] == [".", "."]
    weighed = {
        "note": 1,
        "at_s": 2.0,
        "other_note": 3,
        "other_at_s": 4.0,
        "weight": 0.72,
        "other_weight": 0.28,
    }
    assert "as taken here (72 % likely), or with note 3 at 4.0 s (28 % likely)." in remark_words(
        Remark("two alignments", weighed)
    )


def test_a_reason_and_a_note_that_are_alike_are_both_said() -> None:
    """A plan says that an exercise goes slower than its stage; the path, how many takes did."""
    assert remark_words(Remark("slower than the stage")).startswith("slower than the stage")
    assert remark_words(Remark("takes slower than the stage", {"n": 2})).startswith("2 takes were slower")
