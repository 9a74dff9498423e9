"""The table across students and years: columns as documented, rows as stored, files as others read them."""

from __future__ import annotations

import csv
import io
import json
import re
import sys
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path
from statistics import median
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from evenhand.acts.takes.document import heard_take_of
from evenhand.cli.studio.safekeeping import table
from evenhand.errors import CannotWrite, WrongOptions
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import TEACHER, Student, Week
from evenhand.studio.whole import table as table_module
from evenhand.studio.whole.rows import COLUMNS, RowsOf
from evenhand.studio.whole.table import csv_table, parquet_table
from tests.architecture.house import ROOT
from tests.desks import LATE, a_heard_take, heard_json
from tests.studios import NOON, a_new_take, a_studio

There = tuple[Studio, Student, Student]
ALL: tuple[RowsOf, ...] = ("hits", "takes", "weeks")
EVEN = ()
ROW = re.compile(r"^\| `(\w+)` \| (.*?) ?\| (.+) \|$", re.MULTILINE)  # a column, its unit, its meaning
OF_A_HAND = re.compile(r"_R(?=_|$)")
app = typer.Typer()
app.command("table")(table)

# The columns, as docs/table.md has them.


def documented() -> dict[str, list[tuple[str, str]]]:
    """Read the page: of each table the columns and their units, measures spread out."""
    page = (ROOT / "docs/table.md").read_text("utf-8")
    parts = dict(part.split("\n", 1) for part in page.split("\n## ")[1:])

    def of(part: str, *ends: str) -> Iterator[tuple[str, str]]:
        _, plain, *measures = parts[part].split("\n| column |")
        yield from ((name, unit) for name, unit, _ in ROW.findall(plain))
        for name, unit, _ in ROW.findall("".join(measures)):
            for hand in ("R", "L") if OF_A_HAND.search(name) else ("",):
                own = OF_A_HAND.sub(f"_{hand}", name)
                yield from [(own, unit), (own + ends[0], ""), *((own + end, unit) for end in ends[1:])]

    who, take = list(of("In each")), list(of("In hits and takes"))
    return {
        "hits": [*who, *take, *of("A hit")],
        "takes": [*who, *take, *of("A take", "_n", "_low", "_high")],
        "weeks": [*who, *of("A week", "_takes", "_least", "_most")],
    }


@pytest.mark.parametrize("rows", ALL)
def test_every_column_is_documented_with_its_unit_and_no_other(rows: RowsOf) -> None:
    page = documented()[rows]
    assert sorted(page) == sorted((column.name, column.unit) for column in COLUMNS[rows])


# What stands in the rows.


def filled(studio: Studio) -> tuple[Student, Student]:
    """Let two students have takes of every kind, over more than a year."""
    nora = studio.students.add('=Nora, "the" Veldt\n♪')
    ives = studio.students.add("Ives Tarrow", archived=True)
    a_heard_take(studio, nora.id, NOON)
    a_heard_take(studio, nora.id, NOON + timedelta(days=1), heard=heard_json(EVEN))
    a_heard_take(studio, nora.id, NOON + timedelta(days=400))
    a_heard_take(studio, nora.id, NOON + timedelta(days=2), heard='{"hits": []}')
    a_heard_take(studio, nora.id, NOON, source="teacher", model=True)
    studio.takes.receive(a_new_take(ives.id, "w", exercise="- R L", facts={"seconds": "9.5"}), b"waits")
    failed, _ = studio.takes.receive(a_new_take(ives.id, "f", recorded_at=NOON + timedelta(days=7)), b"still")
    studio.queue.took_failed(failed.id, "nothing sounds")
    studio.students.teacher()
    a_heard_take(studio, TEACHER, NOON, source="teacher", model=True)
    for starts in (date(2026, 3, 2), date(2026, 3, 16)):
        week = studio.weeks.save(Week("", nora.id, starts, "half", "{}"))
        studio.weeks.send(week.id)
    studio.weeks.save(Week("", nora.id, date(2026, 3, 23), "half", "{}"))  # a draft: nothing was assigned
    return nora, ives


@pytest.fixture(scope="module")
def there(tmp_path_factory: pytest.TempPathFactory) -> Iterator[There]:
    """Give such a studio, to be read only."""
    with a_studio(tmp_path_factory.mktemp("table")) as studio:
        yield studio, *filled(studio)


def text_of(studio: Studio, rows: RowsOf, *, names: bool = False, guarded: bool = True) -> str:
    return b"".join(csv_table(studio, rows, names=names, guarded=guarded)).decode()


def rows_of(
    studio: Studio, rows: RowsOf, *, names: bool = False, guarded: bool = True
) -> list[dict[str, str]]:
    text = text_of(studio, rows, names=names, guarded=guarded)
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_a_take_is_a_row_with_each_measure_as_it_is_stored(studio: Studio) -> None:
    nora, ives = filled(studio)
    found = rows_of(studio, "takes")
    mine, others = ([row for row in found if row["student_id"] == each.id] for each in (nora, ives))
    assert len(found) == len(mine) + len(others)
    assert [(row["recorded_at"], row["status"]) for row in mine] == [
        ("2026-03-02T12:00:00Z", "heard"),
        ("2026-03-03T12:00:00Z", "heard"),
        ("2026-03-04T12:00:00Z", "unreadable"),
        ("2027-04-06T12:00:00Z", "heard"),
    ]
    assert (others[0]["status"], others[0]["exercise"]) == ("waiting", "'- R L")
    assert others[1]["status"] == "failed"
    stored = json.loads(heard_json())
    late = stored["hands"]["L"]["timing_mean_ms"]
    ends = [mine[0][f"hands_L_timing_mean_ms{end}"] for end in ("", "_n", "_low", "_high")]
    assert [float(each) for each in ends] == [late["value"], late["n"], *late["ci95"]]
    assert mine[0]["findings"].split() == [each["kind"] for each in stored["findings"]]
    assert [mine[0][each] for each in ("clear", "asked_bpm")] == ["true", "160.0"]
    assert int(mine[0]["hits"]) == len(stored["hits"])
    assert mine[2]["hits"] == mine[2]["tempo_bpm_n"] == ""


def test_a_hit_is_a_row_in_order_of_time(there: There) -> None:
    studio, nora, _ = there
    found = rows_of(studio, "hits")
    stored = heard_take_of(heard_json()).heard
    first = [row for row in found if row["recorded_at"] == "2026-03-02T12:00:00Z"]
    assert {row["student_id"] for row in found} == {nora.id}
    assert len(first) == len(stored.hits) + len(stored.extra)
    assert [int(row["number"]) for row in first] == list(range(1, len(first) + 1))
    assert [float(row["time_s"]) for row in first] == sorted(float(row["time_s"]) for row in first)
    played = [row for row in first if not row["extra"]]
    for row, hit in zip(played, stored.hits, strict=True):
        assert (row["hand"], int(row["position"])) == (hit.hand, hit.position)
        assert (float(row["level_db"]), float(row["deviation_ms"])) == (hit.level_db, hit.deviation_ms)


def test_a_week_counts_its_takes_and_one_without_any_is_there(there: There) -> None:
    studio, nora, ives = there
    found = {(row["student_id"], row["week"]): row for row in rows_of(studio, "weeks")}
    monday, missed, later = ((nora.id, each) for each in ("2026-03-02", "2026-03-16", "2027-04-05"))
    assert sorted(found) == sorted([monday, missed, later, (ives.id, "2026-03-02")])
    first = found[monday]
    assert [first[each] for each in ("takes", "heard", "days")] == ["3", "2", "3"]
    assert (first["assigned"], first["stage"]) == ("true", "half")
    assert [found[missed][each] for each in ("takes", "recorded_s", "assigned")] == ["0", "0.0", "true"]
    assert found[later]["assigned"] == "false"
    assert found[ives.id, "2026-03-02"]["recorded_s"] == "9.5"
    takes = [heard_take_of(heard_json(faults)) for faults in (LATE, EVEN)]
    spreads = [each.measures.hands["L"].timing_sd_ms.value for each in takes if each.measures]
    wanted = median(each for each in spreads if each is not None)
    assert float(first["hands_L_timing_sd_ms"]) == pytest.approx(wanted, abs=1e-4)
    assert first["hands_L_timing_sd_ms_takes"] == "2"


@pytest.mark.parametrize("rows", ALL)
def test_names_are_there_only_where_they_are_asked_for_and_are_no_formula(there: There, rows: RowsOf) -> None:
    studio, nora, _ = there
    without, with_names = text_of(studio, rows), rows_of(studio, rows, names=True)
    assert [each for each in ("Veldt", "Tarrow", "student,") if each in without] == []
    assert {row["student"] for row in with_names if row["student_id"] == nora.id} == {f"'{nora.name}"}
    assert text_of(studio, rows) == without  # ids and order stay


def test_little_is_held_at_once_and_what_is_erased_meanwhile_is_left_out(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two takes at a time: the first comes, all is erased, and no more come than were read."""
    monkeypatch.setattr(table_module, "TAKES_AT_ONCE", 2)
    monkeypatch.setattr(table_module, "ROWS_AT_ONCE", 1)
    nora = studio.students.add("Nora Veldt")
    for day in range(5):
        a_heard_take(studio, nora.id, NOON + timedelta(days=day))
    told: list[float] = []
    whole = b"".join(csv_table(studio, "takes", names=False, progress=told.append))
    assert whole.count(b"\r\n") == 1 + 5
    assert told == [0.4, 0.8, 1.0]
    pieces = csv_table(studio, "takes", names=False)
    assert next(pieces).count(b"\r\n") == 2  # the heading, and the first take
    studio.students.erase(nora.id)
    assert len([piece for piece in pieces if piece]) == 1  # what was read already


# Files, as others read them.

KINDS = {"text": "String", "number": "Float64", "count": "Int64", "yes": "Boolean", "day": "Date"}
MOMENT = "Datetime(time_unit='us', time_zone='UTC')"
AS_CSV: dict[str, Callable[[Any], str]] = {
    "number": lambda value: str(float(value)),
    "yes": lambda value: str(value).lower(),
    "moment": lambda value: value.isoformat().replace("+00:00", "Z"),
}


@pytest.mark.parametrize("rows", ALL)
def test_parquet_is_read_by_another_with_types_and_the_same_cells(
    there: There, tmp_path: Path, rows: RowsOf
) -> None:
    """Written by DuckDB, read by Polars; the cells beside those of the CSV, read by Python's own reader."""
    pytest.importorskip("duckdb")
    polars = pytest.importorskip("polars")
    place = tmp_path / "table.parquet"
    parquet_table(there[0], rows, place, names=True)
    read = polars.read_parquet(place)
    wanted = {column.name: KINDS.get(column.holds, MOMENT) for column in COLUMNS[rows]}
    assert {name: str(kind) for name, kind in read.schema.items()} == wanted
    said = {column.name: AS_CSV.get(column.holds, str) for column in COLUMNS[rows]}
    assert [
        {name: "" if value is None else said[name](value) for name, value in row.items()}
        for row in read.to_dicts()
    ] == [
        {
            name: said[name](cell) if cell and said[name] is AS_CSV["number"] else cell
            for name, cell in row.items()
        }
        for row in rows_of(there[0], rows, names=True, guarded=False)
    ]
    assert [each.name for each in tmp_path.iterdir()] == ["table.parquet"]


def test_a_table_is_for_its_owners_eyes_only_in_both_forms(there: There, tmp_path: Path) -> None:
    pytest.importorskip("duckdb")
    for name in ("takes.csv", "takes.parquet"):
        call("takes", "--out", tmp_path / name, "--data", there[0].data.recordings.folder.parent)
    assert [oct(each.stat().st_mode & 0o777) for each in tmp_path.iterdir()] == ["0o600", "0o600"]


def call(*arguments: str | Path) -> str:
    done = CliRunner().invoke(app, [str(each) for each in arguments], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


def test_the_command_writes_a_whole_file_or_none(
    there: There, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    studio, out = there[0], tmp_path / "takes.csv"
    data = studio.data.recordings.folder.parent
    said = call("takes", "--out", out, "--data", data)
    assert said == f"{out}: takes, 0.0 MB, without students' names.\n"
    assert out.read_bytes().decode() == text_of(studio, "takes")
    assert "with students' names" in call("weeks", "--names", "--out", out, "--data", data)
    with pytest.raises(WrongOptions, match=r"ends in \.csv or \.parquet"):
        call("takes", "--out", tmp_path / "takes.xlsx", "--data", data)
    with pytest.raises(CannotWrite, match="no such folder"):
        call("takes", "--out", tmp_path / "none" / "takes.csv", "--data", data)
    monkeypatch.setitem(sys.modules, "duckdb", None)  # as if it were not installed
    with pytest.raises(WrongOptions, match=r"DuckDB.*is not installed.*evenhand\[parquet\]"):
        call("takes", "--out", tmp_path / "takes.parquet", "--data", data)
    assert [each.name for each in tmp_path.iterdir()] == ["takes.csv"]
