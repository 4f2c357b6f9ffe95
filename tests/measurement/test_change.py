"""Changes of readings: their uncertainty, and what bounds leave of them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from irspot.measurement.change import changes_of, u_change_k
from irspot.results import Reading
from irspot.uncertain import Term

CAMERA = Term("camera limit", 1.2, 1.0, shared="session", rectangular=True)
OWN = (Term("noise", 0.05, 1.1), Term("emissivity", 0.02, 18.0, acts_on="emissivity"), Term("repeatability", 0.1, 1.0))


def reading(zone: str, degc: float, verdict: str = "usable", U_k: float = 2.0, **more: object) -> Reading:
    return Reading("f", "", zone, "", zone, verdict, max_degc=degc, U_max_k=U_k, **more)  # type: ignore[arg-type]


def test_what_a_session_shares_cancels_and_the_rest_adds() -> None:
    budget = (CAMERA, *OWN)
    own = sum(term.u_k**2 for term in OWN)
    assert u_change_k(budget, budget, same_session=True) == pytest.approx(math.sqrt(2.0 * own))
    assert u_change_k(budget, budget, same_session=False) == pytest.approx(math.sqrt(2.0 * (own + 1.2**2)))


def test_a_shared_error_that_acts_more_on_one_leaves_its_difference() -> None:
    before, after = (CAMERA,), (Term("camera limit", 1.5, 1.1, shared="session"),)
    assert u_change_k(before, after, same_session=True) == pytest.approx(1.5 * 1.1 - 1.2)


def test_the_stated_spread_is_that_of_drawn_errors() -> None:
    rng = np.random.default_rng(5)
    draws = 200_000
    before, after = (CAMERA, *OWN), (Term("camera limit", 1.4, 1.05, shared="session"), *OWN)
    shared = rng.standard_normal(draws)  # one camera: one error, in units of its bound
    own = sum(t.sensitivity * t.u_input * rng.standard_normal(draws) for t in OWN)
    other = sum(t.sensitivity * t.u_input * rng.standard_normal(draws) for t in OWN)
    errors = (1.4 * 1.05 * shared + other) - (1.2 * shared + own)
    assert u_change_k(before, after, same_session=True) == pytest.approx(errors.std(), rel=0.01)


def test_bounds_leave_bounds_and_retakes_nothing() -> None:
    before = [reading("a", 60.0), reading("b", 60.0), reading("c", 60.0, "lower bound"), reading("d", 60.0)]
    after = [
        reading("a", 63.0, budget=OWN),
        reading("b", 63.0, "lower bound", budget=OWN),
        reading("c", 63.0, budget=OWN),
        reading("d", math.nan, "retake"),
        reading("e", 63.0),
    ]
    known, least, most, none = changes_of(before, after, same_session=False)
    U = 2.0 * math.sqrt(sum(t.u_k**2 for t in OWN))
    assert (known.kind, known.change_k) == ("known", 3.0)
    assert known.U_change_k == pytest.approx(U)
    assert known.headline() == f"+3.00 ± {U:.2f} K"
    assert least.headline() == f"≥ +{math.floor((3.0 - U) * 100) / 100:.2f} K"
    assert most.headline() == f"≤ +{math.ceil((3.0 + U) * 100) / 100:.2f} K"
    assert none.kind == "unknown"
    assert none.headline() == ""
    assert math.isnan(none.change_k)


def test_two_bounds_say_nothing_of_their_change() -> None:
    bound = reading("a", 60.0, "lower bound", flags=("clipped",))
    (change,) = changes_of([bound], [bound], same_session=True)
    assert (change.kind, change.headline(), change.why) == ("unknown", "", "clipped")
