"""Inputs drawn one by one, against published worked examples and the first-order budget."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from irspot.camera import Band
from irspot.measurement.applied import Applied, sensitivities_of
from irspot.measurement.monte_carlo import draw
from irspot.radiometry import surface_temperature
from irspot.uncertain import Term, combined, from_bound

REFERENCE = Path(__file__).parents[1] / "reference"


def rows(name: str) -> list[dict[str, str]]:
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def applied(emissivity: float, u_emissivity: float, reflected_degc: float, u_reflected_k: float) -> Applied:
    return Applied(emissivity, u_emissivity, reflected_degc, u_reflected_k, 1.0, 0.0, reflected_degc, 0.0, ())


# Law of propagation and Monte Carlo trials computed independently of this project (source named in the file).
IR_CASES = [row for row in rows("ir_propagation.csv") if row["band_um"] == "8-14"]


@pytest.mark.parametrize("row", IR_CASES, ids=[row["case"] for row in IR_CASES])
def test_the_measurement_equation_against_independent_trials(row: dict[str, str]) -> None:
    number = {
        name: float(row[name]) for name in row if name.startswith(("u_", "t_", "emissivity", "MC_mean", "MC_std"))
    }
    how = applied(number["emissivity"], number["u_emissivity"], number["t_reflected_degC"], number["u_t_reflected"])
    seen, band = number["t_apparent_degC"], Band(8.0, 14.0)
    slopes = sensitivities_of([how], [seen], band)
    budget = (
        Term("camera", number["u_t_apparent"], float(slopes.to_radiance_temperature[0])),
        Term("emissivity", how.u_emissivity, float(slopes.to_emissivity[0]), acts_on="emissivity"),
        Term("reflected", how.u_reflected_k, float(slopes.to_reflected[0]), acts_on="reflected"),
    )
    assert combined(budget) == pytest.approx(float(row["u_c_first_order_K"]), rel=1e-3)
    maximum = float(surface_temperature(seen, emissivity=how.emissivity, reflected_degc=how.reflected_degc, band=band))
    drawn = draw(maximum, how, budget, band, 200_000)
    low, high = (float(end) for end in row["MC_95pct_interval_degC"].strip("[]").split(";"))
    tolerance = 0.01 * number["MC_std_K"] + 0.02
    assert drawn.mean_degc == pytest.approx(number["MC_mean_degC"], abs=tolerance)
    # Where emissivity is uncertain by a quarter of itself, few draws next to 0 make up much of the spread.
    heavy = how.u_emissivity > 0.2 * how.emissivity
    assert drawn.u_k == pytest.approx(number["MC_std_K"], rel=0.08 if heavy else 0.02)
    assert (drawn.low_degc, drawn.high_degc) == pytest.approx((low, high), abs=5.0 * tolerance)


def test_sums_of_rectangular_inputs() -> None:
    """JCGM 101:2008, tables 2 to 4: on a black body the model is a sum of the camera's errors."""
    for name, kinds, u_k, end in (
        ("normal", (False,) * 4, (1.0,) * 4, 3.92),
        ("rectangular", (True,) * 4, (1.0,) * 4, 3.88),
        ("one dominates", (True,) * 4, (1.0, 1.0, 1.0, 10.0), 17.0),
    ):
        budget = tuple(Term(name, u, 1.0, rectangular=kind) for kind, u in zip(kinds, u_k, strict=True))
        drawn = draw(60.0, applied(1.0, 0.0, 20.0, 0.0), budget, Band(8.0, 14.0), 200_000)
        assert drawn.u_k == pytest.approx(combined(budget), rel=0.01), name
        assert drawn.high_degc - 60.0 == pytest.approx(end, rel=0.01), name
        assert 60.0 - drawn.low_degc == pytest.approx(end, rel=0.01), name


def test_the_same_seed_draws_the_same() -> None:
    budget = (Term("camera", 1.0, 1.0), Term("emissivity", 0.02, -50.0, acts_on="emissivity"))
    how = applied(0.9, 0.02, 22.0, 1.0)
    assert draw(60.0, how, budget, Band(), 1000, 3) == draw(60.0, how, budget, Band(), 1000, 3)
    assert draw(60.0, how, budget, Band(), 1000, 3) != draw(60.0, how, budget, Band(), 1000, 4)


def test_what_no_surface_can_send_is_said() -> None:
    how = applied(0.05, 0.01, 90.0, 30.0)
    budget = (Term("reflected", 30.0, -19.0, acts_on="reflected"),)
    drawn = draw(100.0, how, budget, Band(), 20_000)
    assert drawn.impossible > 0.05
    nothing = draw(-150.0, how, (Term("reflected", 30.0, -19.0, acts_on="reflected"),), Band(), 2000)
    assert nothing.impossible > 0.0


def test_end_gauge_calibration() -> None:
    """JCGM 100:2008, H.1: the published budget combined as ours are, printed as 32 nm (31.66 recomputed)."""
    printed = {row["item"]: row for row in rows("gum_examples.csv") if row["example"] == "H.1"}
    length_nm, theta = 50_000_623.0, -0.1
    of_d = combined([Term("repeated", 5.8, 1.0), Term("random", 3.9, 1.0), Term("systematic", 6.7, 1.0)])
    assert of_d == pytest.approx(float(printed["u(d)"]["recomputed"]), abs=1e-3)
    budget = [
        Term("standard", 25.0, 1.0),
        Term("comparison", of_d, 1.0),
        Term("expansion difference", from_bound(1e-6), length_nm * theta),
        Term("temperature difference", from_bound(0.05), length_nm * 11.5e-6),
    ]
    wanted = float(printed["combined standard uncertainty u_c(l), first order"]["recomputed"])
    assert combined(budget) == pytest.approx(wanted, rel=1e-4)
    assert round(combined(budget)) == 32


def test_simultaneous_resistance_and_reactance() -> None:
    """JCGM 100:2008, H.2, approach 2: five results of each quantity, their mean's standard uncertainty as printed."""
    observed = [row["recomputed"] for row in rows("gum_examples.csv") if row["item"].startswith("observation")]
    volts, milliamps, phase = np.array([[float(n) for n in line.split(";")] for line in observed]).T
    resistance = volts / milliamps * 1e3 * np.cos(phase)
    assert resistance.mean() == pytest.approx(127.732, abs=5e-4)
    assert combined([Term("R", resistance.std(ddof=1), 5**-0.5)]) == pytest.approx(0.071, abs=5e-4)
    reactance = volts / milliamps * 1e3 * np.sin(phase)
    assert combined([Term("X", reactance.std(ddof=1), 5**-0.5)]) == pytest.approx(0.295, abs=1e-3)
