"""What a comparison says, and its table."""

from __future__ import annotations

import csv
import io

from irspot.columns import COMPARE_COLUMNS
from irspot.compare.standing import Standing
from irspot.exports.json_results import table_json
from irspot.exports.tables import compare_csv

# The file format's own order.
FORMAT = [
    "load",
    "role",
    "rank",
    "tie_group",
    "board",
    "batch",
    "zone",
    "value_degc",
    "rise_k",
    "U_k",
    "normalised_degc",
    "limit_degc",
    "margin_k",
    "outcome",
    "comparable",
    "reasons",
    "price",
    "currency",
    "on_frontier",
]


def test_the_table_begins_as_the_format_says() -> None:
    assert [column.name for column in COMPARE_COLUMNS][: len(FORMAT)] == FORMAT
    assert COMPARE_COLUMNS[len(FORMAT)].name == "run"


def test_what_is_not_known_is_empty_in_csv_and_null_in_json() -> None:
    row = Standing("stock", "vrm", "front", "k7", "k7", comparable="no", reasons=("throttled", "clock 4.6 GHz"))
    (written,) = csv.DictReader(io.StringIO(compare_csv([row]).decode()))
    assert (written["rank"], written["rise_k"], written["on_frontier"]) == ("", "", "")
    assert (written["board"], written["reasons"]) == ("k7", "throttled;clock 4.6 GHz")
    (value,) = table_json([row], COMPARE_COLUMNS)
    assert (value["rank"], value["rise_k"]) == (None, None)


def test_lower_bounds_are_written_as_at_least() -> None:
    row = Standing(
        "stock", "vrm", "front", "k7", "k7", ranked_rise_k=50.0, U_k=2.0, value_degc=71.0, U_value_k=2.0,
        verdict="lower bound",
    )  # fmt: skip
    assert row.rise_headline("K") == "≥ 48.0 K"
    assert row.headline("°C") == "≥ 69.0 °C"
