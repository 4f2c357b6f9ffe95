"""Junctions behind cases, and limits held against like quantities only."""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from uncertainties import ufloat

from irspot.board import Board, Junction, Limit, Zone
from irspot.measurement import measure_zones
from irspot.measurement.quantities import junction_degc, u_over_top_k, with_quantities
from irspot.results import Reading
from irspot.shapes import rectangle

from .scenes import BOARD, CONDITIONS, frame_of, ramp, straight_placement

with (Path(__file__).parents[1] / "reference" / "jedec_rows.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))
"""Rows by the JESD51 definitions and one published example, recomputed; sources in the file."""


def inputs_of(row: dict[str, str]) -> dict[str, list[float]]:
    """Name → the numbers behind it."""
    parts = (part.split("=") for part in row["inputs"].split(" (")[0].split(";"))
    return {name.strip(): [float(n) for n in re.findall(r"[\d.]+", text)] for name, text in parts}


@pytest.mark.parametrize("row", [row for row in ROWS if row["equation"] == "TJ = TT + Psi_JT*P"], ids=str)
def test_junctions_of_the_published_rows(row: dict[str, str]) -> None:
    given = inputs_of(row)
    found = junction_degc(given["TT"][0], given["Psi_JT"][0], given["P"][0])
    assert found == pytest.approx(float(row["result"]), abs=1e-4)


def test_another_resistance_in_its_place_misleads_by_as_much_as_published() -> None:
    (row,) = (row for row in ROWS if "misuse" in row["equation"])
    given = inputs_of(row)
    (right,) = (row for row in ROWS if row["case"].startswith("published"))
    assert junction_degc(given["TT"][0], given["theta_JC(top)"][0], given["P"][0]) == pytest.approx(145.597)
    assert float(row["result"]) - float(right["result"]) > 47.0


def test_its_uncertainty_as_the_published_row_and_a_reference_library() -> None:
    (row,) = (row for row in ROWS if row["equation"].startswith("u(TJ)"))
    (top, u_top), (psi, u_psi), (power, u_power) = inputs_of(row).values()
    u_k = np.hypot(u_top, u_over_top_k(psi, u_psi, power, u_power))
    assert u_k == pytest.approx(float(row["result"]), abs=1e-6)
    assert u_k == pytest.approx((ufloat(top, u_top) + ufloat(psi, u_psi) * ufloat(power, u_power)).s, rel=1e-12)


# --- readings -------------------------------------------------------------------------------------------------------

READING = Reading("f", "", "z", "", "z", "usable", ("time-unknown",), max_degc=96.0, U_max_k=3.0)
CASE = Zone("z", rectangle(8, 50, 30, 32), measures="case")
PART = Junction(0.8, 0.16, 3.0, 0.3)


def test_a_junction_has_the_uncertainty_of_its_own() -> None:
    reading = with_quantities(READING, replace(CASE, junction=PART))
    assert reading.junction_degc == pytest.approx(98.4)
    assert reading.U_junction_k == pytest.approx(np.hypot(3.0, 2 * u_over_top_k(0.8, 0.16, 3.0, 0.3)))
    assert (reading.max_degc, reading.U_max_k, reading.flags) == (96.0, 3.0, ("time-unknown",))


def test_an_assumed_uncertainty_is_flagged() -> None:
    reading = with_quantities(READING, replace(CASE, junction=replace(PART, u_assumed=True)))
    assert "junction-u-assumed" in reading.flags


@pytest.mark.parametrize(
    ("measures", "junction", "kind", "margin_k"),
    [
        ("other", None, "surface", 9.0),
        ("case", None, "surface", 9.0),
        ("case", None, "case", 9.0),
        ("heatsink", None, "case", None),
        ("board", None, "board", 9.0),
        ("board", None, "case", None),
        ("case", None, "board", None),
        ("case", None, "junction", None),
        ("case", PART, "junction", 6.6),
        ("case", PART, "case", 9.0),
    ],
)
def test_limits_are_held_against_like_quantities_only(measures, junction, kind, margin_k) -> None:
    zone = replace(CASE, measures=measures, junction=junction, limit=Limit(105.0, kind))
    reading = with_quantities(READING, zone)
    assert (reading.limit_degc, reading.limit_kind) == (105.0, kind)
    assert ("limit-not-comparable" in reading.flags) == (margin_k is None)
    assert reading.verdict == "usable"
    if margin_k is None:
        assert np.isnan(reading.margin_k)
        assert np.isnan(reading.U_margin_k)
    else:
        assert reading.margin_k == pytest.approx(margin_k)
        assert reading.U_margin_k == (reading.U_junction_k if kind == "junction" else reading.U_max_k)


def test_a_reading_to_be_retaken_gives_neither() -> None:
    zone = replace(CASE, junction=PART, limit=Limit(105.0, "case"))
    reading = with_quantities(replace(READING, flags=("mirrors-hotter",), verdict="retake"), zone)
    assert np.isnan([reading.junction_degc, reading.margin_k, reading.U_margin_k]).all()
    assert reading.limit_degc == 105.0


def test_measured_zones_have_them() -> None:
    case = replace(BOARD.zones[0], measures="case", junction=PART, limit=Limit(105.0, "junction"))
    board = Board("Kestrel K7", BOARD.outline, (case, BOARD.zones[1]))
    first, second, _ = measure_zones(frame_of(ramp()), board, straight_placement(), CONDITIONS)
    assert first.junction_degc == pytest.approx(first.max_degc + 2.4)
    assert first.margin_k == pytest.approx(105.0 - first.junction_degc)
    assert np.isnan([second.junction_degc, second.limit_degc, second.margin_k]).all()
