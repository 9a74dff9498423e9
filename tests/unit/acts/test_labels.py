"""A sheet to label strokes on, and labels held against what was seen, worked by hand."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from evenhand.cli.main import run
from evenhand.measuring.labelled import Agreement, LabelledStroke, agreement_of
from evenhand.report.words.watching import labels_words
from tests.films import a_film

FREE, LIFTED = LabelledStroke(1.0, "R", "free", "half"), LabelledStroke(1.0, "R", "lifted", "half")


def called(label: LabelledStroke, rise: Any, n: int) -> Agreement:
    row = [LabelledStroke(1.02, "R", rise, "half")]
    total = Agreement()
    for i in range(n):
        total = total.joined(agreement_of(f"p{i % 3}", [label], row))
    return total


def test_balanced_accuracy_is_the_mean_of_both_shares_with_a_range() -> None:
    """36 of 40 and 20 of 25: (90 + 80) / 2 = 85 %.

    Wilson's ranges of these are 76.95 to 96.04 % and 60.87 to 91.14 % (worked by his formula by hand); half
    the root of the sum of squares of what lies below is 11.58, above 6.34.
    """
    all_of = called(FREE, "free", 36).joined(called(FREE, "lifted", 4)).joined(called(FREE, "unsure", 7))
    all_of = all_of.joined(called(LIFTED, "lifted", 20)).joined(called(LIFTED, "free", 5))
    figure = all_of.balanced
    assert figure.value == pytest.approx(85.0)
    assert figure.n == 65
    assert figure.ci95 == pytest.approx((85 - 11.58, 85 + 6.34), abs=0.05)
    assert all_of.strokes == 72
    assert len(all_of.players) == 3
    assert all_of.same_class.value == 100.0


def test_few_are_too_few_and_it_is_said_what_is_lacking() -> None:
    few = called(FREE, "free", 30).joined(called(LIFTED, "lifted", 19))
    assert few.balanced.value is None
    said = " ".join(labels_words(few))
    assert "too few to judge (49; 40 are needed)" in said
    assert "For a proof: 100 strokes of 3 players or more." in said


def test_a_stroke_far_away_or_of_the_other_hand_is_not_found() -> None:
    seen = [LabelledStroke(1.05, "R", "free"), LabelledStroke(1.0, "L", "free")]
    found = agreement_of("p", [FREE, LabelledStroke(9.0, "L")], seen)
    assert (found.not_found, found.strokes) == (1, 0)


def test_from_a_film_to_a_sheet_to_labels_to_figures(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    film, sheet, seen = a_film(tmp_path / "p1.mp4"), tmp_path / "p1.html", tmp_path / "p1.json"
    asked = ["watch", str(film), "--exercise", "1/8: RL", "--tempo", "1/8=240", "--click", "none"]
    tape = ["--tape", "R=blue,L=green", "--pad-cm", "30"]
    assert run([*asked, *tape, "--label-sheet", str(sheet), "--json", str(seen)]) == 0
    page = sheet.read_text("utf-8")
    assert page.count('<li class="stroke">') == 12
    assert page.count("data:image/jpeg;base64,/9j/") > 100
    found = re.search(r'<script id="given" type="application/json">(.*?)</script>', page)
    assert found is not None
    given = json.loads(found[1])
    assert [row["hand"] for row in given["strokes"]] == ["R", "L"] * 6
    assert "left hand, green tape, at" in page
    assert "lift_index" not in page
    labels = {**given, "player": "p1", "by": "a"}
    for row in labels["strokes"]:
        row |= {"rise": "free", "stroke": "half"}
    (tmp_path / "p1-labels.json").write_text(json.dumps(labels), "utf-8")
    capsys.readouterr()
    assert run(["labels", str(seen), str(tmp_path / "p1-labels.json")]) == 0
    said = capsys.readouterr().out
    assert "12 labelled strokes of 1 player." in said
    assert "too few to judge" in said


@pytest.mark.parametrize(
    ("text", "code", "said"),
    [
        ("{}", 2, "another file"),
        (
            '{"schema": "urn:evenhand:labels-1", "film": "a.mp4", "player": "p", "strokes": []}',
            2,
            "a.mp4 alone",
        ),
        (
            '{"schema": "urn:evenhand:labels-1", "film": 3, "player": "p", "strokes": [{"time_s": "x"}]}',
            2,
            "other",
        ),
    ],
)
def test_files_that_do_not_go_together_are_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, code: int, said: str
) -> None:
    (tmp_path / "x.json").write_text(text, "utf-8")
    assert run(["labels", str(tmp_path / "x.json")]) == code
    err = capsys.readouterr().err
    assert said in err
    assert err.count("\n") == 1
