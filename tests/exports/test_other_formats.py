"""Parquet and workbooks: the CSV's values read back by the libraries of these formats, text never a formula."""

from __future__ import annotations

import csv
import io
import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import jsonschema
import openpyxl
import pyarrow.parquet as pq
import pytest
import tomlkit
from click.testing import CliRunner

from irspot.cli.main import main
from irspot.columns import RESULT_COLUMNS
from irspot.errors import LibraryMissing, UsageError
from irspot.exports.other_formats import parquet_bytes, xlsx_bytes
from irspot.exports.schemas import TABLES
from irspot.results import Reading, Row, RunLabel
from irspot.workflow.run import StudyResult, run_study
from tests.tiny import write_tiny

HOSTILE = '=HYPERLINK("http://x","y")'


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> StudyResult:
    study = write_tiny(tmp_path_factory.mktemp("formats") / "s")
    board = study.parent / "boards" / "w1.toml"
    document = tomlkit.parse(board.read_text())
    document["zone"][0]["name"] = HOSTILE
    board.write_text(tomlkit.dumps(document))
    with ThreadPoolExecutor(1) as pool:
        return run_study(study, study.parent.parent / "out", pool, pictures=False, also=("parquet", "xlsx"))


@pytest.fixture(scope="module")
def rows(result: StudyResult) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO((result.folder / "results.csv").read_text(encoding="utf-8"))))


def test_parquet_holds_the_values_of_the_csv_with_their_types(result: StudyResult, rows: list[dict[str, str]]) -> None:
    table = pq.read_table(result.folder / "results.parquet")
    assert table.column_names == [column.name for column in RESULT_COLUMNS]
    read = table.to_pylist()
    assert len(read) == len(rows)
    for ours, theirs in zip(read, rows, strict=True):
        for column in RESULT_COLUMNS:
            value, cell = ours[column.name], theirs[column.name]
            if column.kind == "list":
                assert ";".join(value) == cell
            elif column.kind in ("number", "integer"):
                assert (value is None) == (cell == ""), column.name
                assert value is None or float(cell) == value
            else:
                assert value == (HOSTILE if HOSTILE in cell else cell)
    assert table.schema.field("max_degc").metadata[b"unit"] == b"degC"


def test_a_workbook_holds_the_same_and_no_formula(result: StudyResult, rows: list[dict[str, str]]) -> None:
    book = openpyxl.load_workbook(result.folder / "results.xlsx")
    sheet = book["table"]
    head = [cell.value for cell in sheet[1]]
    assert head[[column.name for column in RESULT_COLUMNS].index("max_degc")] == "max_degc [degC]"
    assert sheet.freeze_panes == "A2"
    assert sheet.max_row == len(rows) + 1
    kinds = {cell.data_type for row in sheet.iter_rows(min_row=2) for cell in row}
    assert "f" not in kinds
    names = {column.name: number for number, column in enumerate(RESULT_COLUMNS, start=1)}
    for number, row in enumerate(rows, start=2):
        value = sheet.cell(number, names["max_degc"]).value
        assert (value is None) == (row["max_degc"] == "")
        assert value is None or value == float(row["max_degc"])
    assert any(sheet.cell(number, names["zone_name"]).value == HOSTILE for number in range(2, len(rows) + 2))
    assert book["columns"].cell(2, 1).value == RESULT_COLUMNS[0].name


def test_they_are_listed_and_the_same_when_made_again(result: StudyResult) -> None:
    document = json.loads((result.folder / "results.json").read_text())
    assert {"results.parquet", "results.xlsx"} <= set(document["outputs"])
    rows, columns = result.rows, RESULT_COLUMNS
    assert parquet_bytes(rows, columns) == (result.folder / "results.parquet").read_bytes()
    assert xlsx_bytes(rows, columns) == xlsx_bytes(rows, columns) == (result.folder / "results.xlsx").read_bytes()


def test_what_cannot_be_measured_is_null() -> None:
    row = Row(RunLabel("r", "b", "l", "front"), Reading("f", "", "z", "", "", "retake", ("not-placed",)))
    (read,) = pq.read_table(io.BytesIO(parquet_bytes([row], RESULT_COLUMNS))).to_pylist()
    assert read["max_degc"] is None
    assert read["flags"] == ["not-placed"]
    sheet = openpyxl.load_workbook(io.BytesIO(xlsx_bytes([row], RESULT_COLUMNS)))["table"]
    assert sheet.cell(2, [column.name for column in RESULT_COLUMNS].index("max_degc") + 1).value is None


def test_another_format_and_a_missing_library_are_told_before_the_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = write_tiny(tmp_path / "s")
    with pytest.raises(UsageError, match="no format"):
        run_study(study, tmp_path / "out", also=("ods",))
    monkeypatch.setitem(__import__("sys").modules, "openpyxl", None)
    with pytest.raises(LibraryMissing) as missing:
        run_study(study, tmp_path / "out", also=("xlsx",))
    assert "pip install 'irspot[tables]'" in str(missing.value)
    assert not (tmp_path / "out").exists()


def test_results_keep_to_the_schema_that_is_printed(result: StudyResult) -> None:
    printed = CliRunner().invoke(main, ["schema", "results"])
    schema = json.loads(printed.stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    document = json.loads((result.folder / "results.json").read_text())
    jsonschema.validate(document, schema)
    del document["rows"][0]["max_degc"]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(document, schema)


def test_the_data_dictionary_names_every_column_with_its_unit() -> None:
    printed = CliRunner().invoke(main, ["schema", "columns"])
    lines = list(csv.DictReader(io.StringIO(printed.stdout)))
    assert len(lines) == sum(map(len, TABLES.values()))
    (peak,) = [line for line in lines if (line["table"], line["column"]) == ("results.csv", "max_degc")]
    assert (peak["unit"], peak["type"], peak["decimals"]) == ("degC", "number", "3")
