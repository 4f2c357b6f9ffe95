"""ITS-90: voltages to temperatures against the published tables, cold junctions, tolerance classes."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
import thermocouple_its90

from irspot.logs.thermocouples import bead_degc, tolerance_k

REFERENCE = Path(__file__).parents[1] / "reference"


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


TABLES = rows("type_k_emf.csv") + rows("types_t_j_emf.csv")
"""NIST ITS-90 Thermocouple Database (SRD 60), the functions of NIST Monograph 175 and IEC 60584-1."""


@pytest.mark.parametrize("row", TABLES, ids=lambda row: f"{row.get('type', 'K')} {row['t90_degC']}")
def test_every_row_of_the_published_tables(row: dict[str, str]) -> None:
    kind, degc = row.get("type", "K"), float(row["t90_degC"])
    assert bead_degc(kind, float(row["E_forward_function_mV"]), 0.0) == pytest.approx(degc, abs=1e-3)
    # The printed voltage is rounded to a microvolt, so the temperature to its share of a kelvin: within 0.0135 K.
    printed_k = 0.0005 / 0.037
    assert bead_degc(kind, float(row["E_printed_mV"]), 0.0) == pytest.approx(degc, abs=printed_k)


@pytest.mark.parametrize("kind", "KTJNESR")
def test_the_inverse_is_that_of_the_library_between_the_rows(kind: str) -> None:
    function = thermocouple_its90.get(kind)
    degc = np.linspace(-20.0, 250.0, 97)
    emf = [function.emf(float(t)) - function.emf(23.4) for t in degc]
    assert bead_degc(kind, emf, 23.4) == pytest.approx(degc, abs=1e-3)


def test_type_b_has_no_inverse_where_boards_are_warm() -> None:
    assert np.isnan(bead_degc("B", 0.01, 25.0))
    assert bead_degc("B", thermocouple_its90.get("B").emf(900.0), 0.0) == pytest.approx(900.0, abs=1e-3)


@pytest.mark.parametrize("row", rows("cold_junction.csv"), ids=lambda row: row["t_hot_degC"])
def test_voltages_are_added_at_the_cold_junction_not_temperatures(row: dict[str, str]) -> None:
    cold = float(row["t_reference_junction_degC"])
    found = float(bead_degc(row["type"], float(row["E_measured_mV"]), cold))
    assert found == pytest.approx(float(row["t_hot_degC"]), abs=1e-3)
    wrong = float(bead_degc(row["type"], float(row["E_measured_mV"]), 0.0)) + cold
    assert wrong - found == pytest.approx(float(row["error_of_adding_temperatures_K"]), abs=2e-3)


def test_what_no_thermocouple_can_show_is_empty() -> None:
    assert np.isnan(bead_degc("K", [200.0, -20.0, np.nan], 25.0)).all()
    assert np.isnan(bead_degc("K", 1.0, 5000.0))
    with pytest.raises(KeyError):
        bead_degc("X", 1.0, 25.0)


def test_cold_junctions_may_change() -> None:
    function = thermocouple_its90.get("K")
    cold = np.array([20.0, 25.0, 30.0])
    emf = [function.emf(80.0) - function.emf(float(t)) for t in cold]
    assert bead_degc("K", emf, cold) == pytest.approx([80.0] * 3, abs=1e-3)


@pytest.mark.parametrize("row", rows("tolerance_rows.csv"), ids=lambda row: f"{row['type']} {row['t_degC']}")
def test_tolerances_of_the_rows(row: dict[str, str]) -> None:
    for each in (1, 2):
        wanted = row[f"class_{each}_tolerance_degC"]
        if wanted:
            assert tolerance_k(row["type"], each, float(row["t_degC"])) == pytest.approx(float(wanted))


@pytest.mark.parametrize("row", [row for row in rows("tolerances.csv") if row["class"] in "123"], ids=str)
def test_tolerances_by_their_rules(row: dict[str, str]) -> None:
    kind, each = row["type"], int(row["class"])
    low, high = float(row["t_min_degC"]), float(row["t_max_degC"])
    for degc in np.linspace(low, high, 7):
        wanted = max(float(row["fixed_degC"]), float(row["factor_of_t"]) * abs(degc))
        assert tolerance_k(kind, each, float(degc)) == pytest.approx(wanted)
    assert math.isnan(tolerance_k(kind, each, high + 1.0))


def test_an_unstated_class_is_the_widest_that_covers() -> None:
    assert tolerance_k("K", None, 90.0) == 2.5
    assert tolerance_k("T", None, 90.0) == 1.0
    assert math.isnan(tolerance_k("B", None, 90.0))
