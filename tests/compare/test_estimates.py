"""Errors source by source, against the uncertainties package, scipy.stats and published tables."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from uncertainties import ufloat

from irspot.compare.estimates import Estimate, combination, coverage_factor, difference, mean, weighted_mean

REFERENCE = Path(__file__).parent.parent / "reference"


def rows(name: str, about: str = "") -> list[dict[str, str]]:
    lines = [line for line in (REFERENCE / name).read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return [row for row in csv.DictReader(lines) if about in row.get("coverage_percent", "")]


@pytest.mark.parametrize("row", rows("weighted_mean.csv"), ids=lambda row: row["case"])
def test_weighted_means_are_those_of_the_reference(row: dict[str, str]) -> None:
    # M. G. Cox, Metrologia 39 (2002) 589; Birge ratio √(χ²/ν). Inputs made up; verified with numpy and scipy.
    values = [float(text) for text in row["values"].split(";")]
    found = weighted_mean(values, [float(text) for text in row["standard_uncertainties"].split(";")])
    assert found.value == pytest.approx(float(row["weighted_mean"]), abs=1e-8)
    assert found.u == pytest.approx(float(row["u_weighted_mean"]), abs=1e-8)
    assert found.birge == pytest.approx(float(row["birge_ratio"]), abs=1e-8)
    assert found.u_inflated == pytest.approx(float(row["u_inflated_by_max(1,birge)"]), abs=1e-8)


@pytest.mark.parametrize("row", [r for r in rows("t_factors.csv") if r["coverage_percent"] == "95.45"])
def test_coverage_factors_are_students_t(row: dict[str, str]) -> None:
    # JCGM 100:2008, table G.2, 95.45 %, computed with scipy.stats.
    if row["dof"] == "inf":
        assert coverage_factor(math.inf) == 2.0
    else:
        assert coverage_factor(float(row["dof"])) == pytest.approx(float(row["t_scipy"]), abs=2e-3)
        p = 0.5 * (1.0 + math.erf(math.sqrt(2.0)))
        assert coverage_factor(float(row["dof"])) == pytest.approx(stats.t.ppf(p, float(row["dof"])), rel=1e-9)


def test_combinations_are_those_of_the_uncertainties_package() -> None:
    rng = np.random.default_rng(5)
    for _ in range(20):
        u = rng.uniform(0.05, 2.0, 5)
        slopes = rng.normal(0.0, 1.0, (3, 5))
        sources = [ufloat(0.0, each) for each in u]
        theirs = [10.0 * i + sum(c * s for c, s in zip(row, sources, strict=True)) for i, row in enumerate(slopes)]
        ours = [
            Estimate(10.0 * i, {(str(k),): c * each for k, (c, each) in enumerate(zip(row, u, strict=True))})
            for i, row in enumerate(slopes)
        ]
        weights = rng.normal(0.0, 1.0, 3)
        found = combination(list(zip(weights.tolist(), ours, strict=True)))
        wanted = sum(w * x for w, x in zip(weights, theirs, strict=True))
        assert found.value == pytest.approx(wanted.nominal_value)
        assert found.u_k == pytest.approx(wanted.std_dev)
        assert difference(ours[0], ours[1]).u_k == pytest.approx((theirs[0] - theirs[1]).std_dev)
        assert mean(ours).u_k == pytest.approx((sum(theirs) / 3).std_dev)


def test_few_degrees_of_freedom_widen_by_welch_and_satterthwaite() -> None:
    # JCGM 100:2008, G.4.1: ν = u⁴ / Σ u_i⁴ / ν_i.
    known = Estimate(1.0, {("known",): 0.3}).with_part(("scatter", "a"), 0.4, 3.0)
    nu = 0.5**4 / (0.4**4 / 3.0)
    assert known.U_k == pytest.approx(0.5 * coverage_factor(nu))
    # Both boards' scatter comes from one pooled estimate with 3 degrees of freedom, not from two.
    other = Estimate(2.0).with_part(("scatter", "b"), 0.4, 3.0)
    apart = difference(Estimate(1.0).with_part(("scatter", "a"), 0.4, 3.0), other)
    assert apart.U_k == pytest.approx(math.sqrt(0.32) * coverage_factor(3.0))
