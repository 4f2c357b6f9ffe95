"""Decision rules, row by row."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from irspot.compare.compare import compare
from irspot.compare.limits import guard_band_k, outcome_of, p_over_limit, rule_of
from irspot.study import Decision

from . import made

# ILAC-G8:09/2019, 4.2.1 to 4.2.3 (simple acceptance; binary with guard band; non-binary with guard band), and the
# guard band w = U; wording and clauses from memory. Limit 100, U = 2; a value on an acceptance limit is accepted.
G8_ROWS = [
    (97.0, "pass", "pass", "pass"),
    (98.0, "pass", "pass", "pass"),
    (98.5, "pass", "fail", "conditional pass"),
    (100.0, "pass", "fail", "conditional pass"),
    (100.5, "fail", "fail", "conditional fail"),
    (102.0, "fail", "fail", "conditional fail"),
    (102.5, "fail", "fail", "fail"),
]


@pytest.mark.parametrize(("value", "simple", "guarded", "conditional"), G8_ROWS)
def test_rules_are_those_of_the_guidance(value: float, simple: str, guarded: str, conditional: str) -> None:
    for name, wanted in (("simple", simple), ("guarded", guarded), ("conditional", conditional)):
        rule = rule_of(Decision(name))
        assert outcome_of(100.0 - value, guard_band_k(rule, 2.0), name) == wanted


def test_a_declared_guard_band_goes_before_the_uncertainty() -> None:
    assert guard_band_k(rule_of(Decision("guarded", 0.5)), 2.0) == 0.5
    assert guard_band_k(rule_of(Decision("guarded")), 2.0) == 2.0


@pytest.mark.parametrize("z", [-3.0, -1.0, 0.0, 0.5, 2.0])
def test_the_chance_of_being_over_the_limit_is_the_normal_one(z: float) -> None:
    # JCGM 106:2012, clause 7: with guard band w = U = 2 u at most 2.3 % of what passes by its rim is over the limit.
    assert p_over_limit(z * 1.3, 1.3) == pytest.approx(stats.norm.sf(z))


def test_a_lower_bound_can_fail_and_never_pass() -> None:
    outcomes = [outcome_of(m, 1.0, "conditional", at_least=True) for m in (5.0, 0.5, -0.5, -1.5)]
    assert outcomes == ["not judged", "not judged", "conditional fail", "fail"]


def test_the_worst_zone_of_a_role_is_judged() -> None:
    readings = [made.reading(90.0, zone="a", limit_degc=150.0), made.reading(80.0, zone="b", limit_degc=70.0)]
    (ranking,) = compare([made.measured([(made.run("k7"), readings)])]).rankings
    (row,) = ranking.rows
    assert (row.zone, row.limit_zone, row.limit_degc, row.outcome) == ("a", "b", 70.0, "fail")
    assert row.margin_k == pytest.approx(-10.0)


def test_a_limit_of_another_quantity_is_refused() -> None:
    unlike = made.reading(90.0, flags=["limit-not-comparable"])
    unlike = made.replace(unlike, limit_degc=100.0, limit_kind="junction")
    (ranking,) = compare([made.measured([(made.run("k7"), [unlike])])]).rankings
    (row,) = ranking.rows
    assert (row.outcome, math.isnan(row.margin_k)) == ("not judged", True)
    assert any("junction" in note for note in row.notes)


def test_a_zone_not_measured_keeps_its_role_from_passing() -> None:
    readings = [made.reading(60.0, zone="a", limit_degc=100.0), made.reading(math.nan, zone="b", flags=["no-pixels"])]
    readings[1] = made.replace(readings[1], limit_degc=100.0, limit_kind="case")
    (ranking,) = compare([made.measured([(made.run("k7"), readings)])]).rankings
    (row,) = ranking.rows
    assert (row.verdict, row.outcome) == ("lower bound", "not judged")
