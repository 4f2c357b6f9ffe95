"""results.csv and its kin: the format's columns in the format's order, nothing a spreadsheet would run."""

from __future__ import annotations

import csv
import io
import json
import math

import hypothesis.strategies as st
import pytest
from hypothesis import given

from irspot.columns import RESULT_COLUMNS
from irspot.exports.cells import defused
from irspot.exports.json_results import dictionary_json, dumps, row_json
from irspot.exports.tables import results_csv, results_tsv
from irspot.results import Reading, Row, RunLabel
from irspot.uncertain import Term

FORMAT = [
    "board",
    "load",
    "side",
    "frame",
    "time",
    "zone",
    "role",
    "max_degc",
    "U_max_k",
    "peak3x3_degc",
    "mean_degc",
    "p95_degc",
    "hot_x_mm",
    "hot_y_mm",
    "hot_x_px",
    "hot_y_px",
    "pixels",
    "across_px",
    "emissivity",
    "reflected_degc",
    "ambient_degc",
    "rise_k",
    "verdict",
    "flags",
]


def a_row(**changes: object) -> Row:
    values: dict[str, object] = {
        "frame": "k7.tiff",
        "time": "2026-03-01T14:23:05Z",
        "zone": "ps-left",
        "role": "power-stage",
        "zone_name": "Power stages",
        "verdict": "lower bound",
        "flags": ("clipped", "emissivity-assumed"),
        "max_degc": 71.83251,
        "U_max_k": 1.94,
        "pixels": 321,
        "budget": (Term("camera limit", 1.15, 1.07, "session", True),),
    } | changes
    return Row(RunLabel("k7-stock-front", "k7", "stock", "front"), Reading(**values))  # type: ignore[arg-type]


def test_columns_stand_in_the_order_of_the_format() -> None:
    names = [column.name for column in RESULT_COLUMNS]
    assert names[: len(FORMAT)] == FORMAT
    assert {"run", "pixel_max_degc", "U_rise_k"} <= set(names[len(FORMAT) :])


def test_csv_reads_back_what_the_reading_says() -> None:
    data = results_csv([a_row()])
    assert b"\r" not in data
    (read,) = csv.DictReader(io.StringIO(data.decode()))
    assert read["max_degc"] == "71.833"
    assert read["pixels"] == "321"
    assert read["flags"] == "clipped;emissivity-assumed"
    assert read["mean_degc"] == "", "not measured is empty"
    assert read["board"] == "k7"


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\t=1", "  =cmd|' /C calc'!A0", "\n=1"])
def test_a_text_that_could_be_a_formula_is_defused_in_every_table(text: str) -> None:
    for table in (results_csv([a_row(zone_name=text)]).decode(), results_tsv([a_row(zone_name=text)])):
        dialect = "\t" if "\t" in table.splitlines()[0] else ","
        (read,) = csv.DictReader(io.StringIO(table), delimiter=dialect)
        assert read["zone_name"].startswith("'")
        assert len(table.splitlines()) == 2


@given(st.text())
def test_no_text_stays_dangerous_or_breaks_a_line(text: str) -> None:
    safe = defused(text)
    assert not safe.lstrip().startswith(("=", "+", "-", "@"))
    assert all(character.isprintable() for character in safe)


def test_numbers_are_the_same_in_csv_and_json() -> None:
    row = a_row()
    (read,) = csv.DictReader(io.StringIO(results_csv([row]).decode()))
    values = row_json(row)
    for column in RESULT_COLUMNS:
        if column.kind == "number":
            assert values[column.name] == (None if read[column.name] == "" else float(read[column.name]))


def test_json_has_null_never_nan() -> None:
    text = dumps(row_json(a_row())).decode()
    assert "NaN" not in text
    assert json.loads(text)["mean_degc"] is None
    with pytest.raises(ValueError, match="not JSON compliant"):
        dumps({"x": math.nan})


def test_json_carries_the_budget_and_its_dominant_term() -> None:
    values = row_json(a_row())
    assert values["dominant_term"] == "camera limit"
    assert values["budget"][0]["u_k"] == pytest.approx(1.15 * 1.07)


def test_the_dictionary_explains_every_column() -> None:
    entries = dictionary_json()
    assert [entry["name"] for entry in entries] == [column.name for column in RESULT_COLUMNS]
    assert all(entry["meaning"].endswith(".") for entry in entries)
    for entry in entries:
        suffix = {"_degc": "degC", "_mm": "mm", "_px": "px", "_k": "K"}
        unit = next((unit for end, unit in suffix.items() if entry["name"].endswith(end)), "")
        assert entry["unit"] == unit
