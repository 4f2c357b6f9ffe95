"""Factors of the t-distribution against the printed table, effective freedom against the GUM's example H.1."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest

from irspot.freedom import effective_freedom, t_factor

with (Path(__file__).parent / "reference" / "t_factors.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))
"""JCGM 100:2008, table G.2, recomputed; the printed column is from memory, so the recomputed one counts."""


def share_of(percent: str) -> float:
    """The table's odd percentages are those within 1, 2 and 3 standard deviations of a normal distribution."""
    sigmas = {"68.27": 1.0, "95.45": 2.0, "99.73": 3.0}.get(percent)
    return float(percent) / 100.0 if sigmas is None else math.erf(sigmas / math.sqrt(2.0))


def test_every_row_of_the_table() -> None:
    assert len(ROWS) == 168
    for row in ROWS:
        found = t_factor(float(row["dof"]), share_of(row["coverage_percent"]))
        assert found == pytest.approx(float(row["t_scipy"]), abs=6e-7), row
        if row["comparison"] == "agrees":
            assert abs(found - float(row["t_printed"])) <= 0.005001, row


def test_the_end_gauge_of_the_guide() -> None:
    # JCGM 100:2008, H.1.6: 16.7 effective degrees of freedom, truncated to 16; k = 2.92; U_99 = 93 nm.
    u_nm, freedom = [25.0, 9.7, 2.8868, 16.599], [18, 25.6, 50, 2]
    found = effective_freedom(u_nm, freedom)
    assert found == pytest.approx(16.75, abs=0.06)
    assert round(t_factor(math.floor(found), 0.99) * 32) == 93


def test_nothing_repeated_is_normal() -> None:
    assert effective_freedom([1.0, 2.0], [math.inf, math.inf]) == math.inf
    assert t_factor(math.inf, 0.9545) == pytest.approx(2.0, abs=1e-3)


@pytest.mark.parametrize(("freedom", "coverage"), [(0, 0.95), (-1, 0.95), (math.nan, 0.95), (3, 1.0), (3, 0.0)])
def test_what_is_neither_is_refused(freedom: float, coverage: float) -> None:
    with pytest.raises(ValueError, match="freedom"):
        t_factor(freedom, coverage)
