"""Published criteria: their numbers, and that one just met leaves of one exponential what the table says."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest

from irspot.steady_rules import RULES, rule_of

REFERENCE = Path(__file__).parent.parent / "reference"
NAN = float("nan")


def rows(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader((REFERENCE / name).read_text(encoding="utf-8").splitlines()))


def start_of(name: str) -> str:
    """Give the start of a standard's line in the reference file from our name."""
    return name.upper().replace("STD-", "STD_").replace("-", " ", 1).replace("MIL STD_", "MIL-STD-")


def test_every_published_criterion_is_there():
    named = {row["standard"] for row in rows("equilibrium_criteria.csv")}
    left = {name for name in named if not any(name.startswith(start_of(rule)) for rule in RULES)}
    # IEC 60068-2-2 says which specimens dissipate heat, not when they are steady.
    assert left == {"IEC 60068-2-2"}


@pytest.mark.parametrize("name", RULES)
def test_numbers_are_the_published_ones(name):
    (row,) = [r for r in rows("equilibrium_criteria.csv") if r["standard"].startswith(start_of(name))]
    rule = RULES[name]
    assert rule.limit_k == float(row["number"].split()[0])
    interval = row["interval_s"].replace("max(", "").split(";")[0].split(",")[0]
    assert rule.interval_s == (float(interval) if interval else 0.0)
    assert rule.certainty == row["certainty"]
    assert rule.source.startswith(start_of(name))


# The table's digits end at a millionth of a kelvin: rows below a hundredth say too little.
@pytest.mark.parametrize("row", [r for r in rows("remaining_rise.csv") if float(r["remaining_rise_K"]) > 0.01])
def test_a_rule_is_met_just_where_the_table_says(row):
    tau_s, left = 60.0 * float(row["tau_min"]), float(row["remaining_rise_K"])
    words = row["criterion_just_met"].split()
    rule = rule_of(f"{words[0]} K/h" if "slope" in words else f"{words[0]} K in {words[5]} min")
    if rule.kind == "slope":
        # Judged over ten minutes, not at an instant: the rise left by that is d / (exp(h / tau) - 1), d = rate h.
        left = rule.limit_k / 6.0 / math.expm1(600.0 / tau_s)

    def met(rest_k: float) -> bool | None:
        return rule.met(lambda t: 100.0 - rest_k * math.exp(-t / tau_s), 0.0, 1e6, NAN, NAN)

    assert met(0.99 * left) is True
    assert met(1.01 * left) is False


def curve(rate_k_per_s: float, start_s: float = 0.0):
    return lambda t: 60.0 + rate_k_per_s * t if t >= start_s else NAN


def test_a_second_criterion_counts_only_well_below_the_limit():
    rule = RULES["iec-62368-1"]
    rising = curve(0.003)  # 0.9 K in 5 min, 5.4 K in 30 min, to 70.8 °C
    assert rule.met(rising, 3600.0, 3600.0, NAN, NAN) is False
    assert rule.met(rising, 3600.0, 3600.0, NAN, 100.0) is True
    assert rule.met(rising, 3600.0, 3600.0, NAN, 75.0) is False


def test_relative_limits_count_where_they_are_larger():
    rule = RULES["iec-62282-2"]
    assert rule.met(curve(3.5 / 900.0), 3600.0, 3600.0, NAN, NAN) is False
    assert rule.met(lambda t: 400.0 + 3.5 / 900.0 * t, 3600.0, 3600.0, NAN, NAN) is True


def test_cooling_counts_only_where_the_rule_says_so():
    assert RULES["iec-61010-1"].met(curve(-0.003), 7200.0, 7200.0, NAN, NAN) is True
    assert rule_of("2 K in 1 h").met(curve(-0.003), 7200.0, 7200.0, NAN, NAN) is False


def test_successive_readings():
    rule = RULES["iec-61810-7"]
    assert rule.met(curve(0.9 / 600.0), 3600.0, 3600.0, NAN, NAN) is True
    assert rule.met(curve(1.1 / 600.0), 3600.0, 3600.0, NAN, NAN) is False
    late = RULES["ul-1993"]
    assert late.met(curve(0.0), 7200.0, 7200.0, NAN, NAN) is None
    assert late.met(curve(0.0), 10800.0, 10800.0, NAN, NAN) is True


def test_what_the_samples_do_not_reach_is_not_judged():
    assert rule_of("1 K in 15 min").met(curve(0.0, start_s=3000.0), 3600.0, 600.0, NAN, NAN) is None
    assert rule_of("3 K of end").met(curve(0.0), 0.0, 0.0, 62.9, NAN) is True
    assert rule_of("3 K of end").met(curve(0.0), 0.0, 0.0, NAN, NAN) is None


@pytest.mark.parametrize(
    ("text", "kind", "limit", "interval"),
    [
        ("0.5 K/h", "slope", 0.5, 3600.0),
        ("2 K per h", "slope", 2.0, 3600.0),
        ("1 K in 900 s", "interval", 1.0, 900.0),
        ("1 K in 0.5 h", "interval", 1.0, 1800.0),
        ("1 K over 4 readings 5 min apart", "readings", 1.0, 300.0),
        ("2 K of the end", "end", 2.0, 0.0),
    ],
)
def test_own_numbers(text, kind, limit, interval):
    rule = rule_of(text)
    assert (rule.kind, rule.limit_k, rule.interval_s) == (kind, limit, interval)
    if kind == "readings":
        assert rule.needs_s(1e4) == 900.0


@pytest.mark.parametrize("text", ["steady", "0 K/h", "1 K in 0 min", "1 K over 1 readings 5 min apart", "iec-62386-1"])
def test_what_is_no_rule_says_what_is_wanted(text):
    with pytest.raises(ValueError, match="wanted"):
        rule_of(text)
    if text.startswith("iec"):
        with pytest.raises(ValueError, match="did you mean 'iec-62368-1'"):
            rule_of(text)
