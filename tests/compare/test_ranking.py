"""Ranks, ties, what is not compared and why, over studies of known truth."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from irspot.compare.compare import compare
from irspot.compare.ties import ranks, tie_letters
from irspot.compare.values import Comparison, Ranking
from irspot.study import Load
from irspot.uncertain import from_bound

from . import made


def only(comparison: Comparison) -> Ranking:
    (ranking,) = comparison.rankings
    return ranking


def test_a_ties_b_and_b_ties_c_but_a_is_cooler_than_c() -> None:
    # Own terms only: u = 0.28 K each with emissivity and air, so U of a difference is 0.85 K.
    rows = only(made.compared({"a": 70.0, "b": 70.6, "c": 71.2})).rows
    assert [(row.board, row.rank, row.tie_group) for row in rows] == [("a", 1, "a"), ("b", 1, "ab"), ("c", 2, "b")]


def test_letters_are_shared_exactly_by_those_not_told_apart() -> None:
    rng = np.random.default_rng(2)
    for _ in range(100):
        n = int(rng.integers(1, 9))
        apart = np.triu(rng.random((n, n)) < 0.4, 1)
        apart |= apart.T
        letters = tie_letters(apart.tolist())
        for i in range(n):
            assert letters[i]
            for j in range(i):
                assert bool(set(letters[i]) & set(letters[j])) == (not apart[i, j])


def test_boards_told_apart_never_share_a_rank() -> None:
    rng = np.random.default_rng(3)
    for _ in range(100):
        n = int(rng.integers(2, 9))
        cooler = np.triu(rng.random((n, n)) < 0.4, 1)
        found = ranks(cooler.tolist())
        assert all(found[i] < found[j] for i in range(n) for j in range(n) if cooler[i, j])


def test_what_a_session_shares_cancels_and_what_it_does_not_stays() -> None:
    together = only(made.compared({"a": 70.0, "b": 72.0})).differences[0]
    apart = [(made.run("a", session="one"), [made.reading(70.0)]), (made.run("b", session="two"), [made.reading(72.0)])]
    alone = [(made.run("a", session=""), [made.reading(70.0)]), (made.run("b", session=""), [made.reading(72.0)])]
    # Noise 0.2, emissivity 40 * 0.005 and air 0.1 K, of each board; the camera's 2 K / √3 of each session.
    own = 2.0 * math.sqrt(2.0 * (0.2**2 + 0.2**2 + 0.1**2))
    assert (together.U_k, together.different) == (pytest.approx(own), True)
    for runs in (apart, alone):
        other = only(compare([made.measured(runs)])).differences[0]
        assert other.U_k == pytest.approx(math.hypot(own, 2.0 * math.sqrt(2.0) * from_bound(2.0)))
        assert not other.different


def test_absence_of_proof_is_not_negligible() -> None:
    near = only(made.compared({"a": 70.0, "b": 70.1}, negligible_k=3.0)).differences[0]
    assert (near.different, near.negligible) == (False, True)
    vague = [(made.run(name, session=name), [made.reading(70.0)]) for name in ("a", "b")]
    unproven = only(compare([made.measured(vague, negligible_k=3.0)])).differences[0]
    assert (unproven.different, unproven.negligible) == (False, False)


def test_a_lower_bound_is_never_called_cooler() -> None:
    runs = [
        (made.run("low"), [made.reading(50.0, flags=["clipped"])]),
        (made.run("mid"), [made.reading(60.0)]),
        (made.run("high"), [made.reading(80.0, flags=["clipped"])]),
    ]
    rows = {row.board: row for row in only(compare([made.measured(runs)])).rows}
    assert [rows[name].rank for name in ("low", "mid", "high")] == [1, 1, 2]
    assert not set(rows["mid"].tie_group) & set(rows["high"].tie_group)
    assert set(rows["low"].tie_group) & set(rows["mid"].tie_group)
    assert rows["low"].rise_headline("K").startswith("≥")


@pytest.mark.parametrize(
    ("facts", "measured", "says"),
    [
        ({"sustained_clock_ghz": 4.4}, {}, "sustained clock 4.4 GHz, not 4.8 GHz"),
        ({"power_w": 280.0}, {}, "power 280 W, -6.7 % off 300 W"),
        ({"power_point": "wall"}, {}, "power measured at the wall, not the supply"),
        ({}, {"ambient_degc": 24.0}, "ambient 24.0 °C, +3.0 K off"),
        ({}, {"cover": "heatsink"}, "zone is heatsink, not bare"),
        ({}, {"flags": ["no-pixels"]}, "retake: Not one sound pixel centre lies in the zone"),
    ],
)
def test_runs_on_another_footing_are_listed_and_not_ranked(
    facts: dict[str, Any], measured: dict[str, Any], says: str
) -> None:
    plain = {"sustained_clock_ghz": 4.8}
    runs = [(made.run(name, **plain), [made.reading(70.0)]) for name in ("a", "b")]
    runs += [(made.run("odd", **(plain | facts)), [made.reading(60.0, **measured)])]
    ranking = only(compare([made.measured(runs, ambient_tolerance_k=1.0, reference_ambient_degc=21.0)]))
    assert [row.board for row in ranking.rows] == ["a", "b"]
    (odd,) = ranking.apart
    assert (odd.board, odd.comparable, odd.rank, odd.reasons) == ("odd", "no", None, (says,))


def test_throttled_runs_and_other_coatings_are_not_called_cool() -> None:
    boards = [made.board("a", "none"), made.board("b", "none"), made.board("hot"), made.board("black", "matt black")]
    runs = [(made.run(each.id), [made.reading(70.0)]) for each in boards]
    ranking = only(compare([made.measured(runs, boards, flags={"hot-stock": ("throttled",)})]))
    assert {row.board: row.reasons for row in ranking.apart} == {
        "hot": ("throttled",),
        "black": ("coating 'matt black', not 'none'",),
    }


def test_the_hottest_zone_of_a_role_counts() -> None:
    readings = [made.reading(70.0, zone="left"), made.reading(75.0, zone="top"), made.reading(99.0, zone="x", role="y")]
    rankings = compare([made.measured([(made.run("k7"), readings)])]).rankings
    assert {(each.role, each.rows[0].zone, each.rows[0].rise_k) for each in rankings} == {
        ("power-stage", "top", 54.0),
        ("y", "x", 78.0),
    }


def test_repeats_give_their_mean_and_spread_and_rejected_runs_do_not_count() -> None:
    runs = [
        (made.run("k7", "one", mount="m1"), [made.reading(70.0)]),
        (made.run("k7", "two", mount="m2"), [made.reading(72.0)]),
        (made.run("k7", "bad", rejected="fan fell off"), [made.reading(50.0)]),
        (made.run("k7", "old"), [made.reading(40.0)]),
        (made.run("k7", "three", mount="m3", replaces="old"), [made.reading(74.0)]),
        (made.run("h2", "single"), [made.reading(72.0)]),
    ]
    comparison = compare([made.measured(runs)])
    rows = {row.board: row for row in only(comparison).rows}
    assert rows["k7"].value_degc == pytest.approx(72.0)
    assert (rows["k7"].repeats, rows["k7"].mounts, rows["k7"].spread_k) == (3, 3, pytest.approx(2.0))
    assert "single run" in rows["h2"].notes
    # What runs scatter beyond their budgets counts for single runs as well.
    assert rows["h2"].U_k > 4.0
    (gap,) = [gap for gap in comparison.gaps if gap.kind == "repeated"]
    assert gap.runs == ("one", "two", "three")


def test_a_dearer_board_is_on_the_frontier_only_if_certainly_cooler() -> None:
    # Worked by hand: 'mid' ties 'cheap', 'best' is cooler than all, 'dear' is dearer than 'best' and no cooler.
    prices = {"cheap": 90.0, "mid": 120.0, "best": 200.0, "dear": 300.0}
    boards = [made.board(name, price=price, currency="EUR") for name, price in prices.items()]
    values = {"cheap": 80.0, "mid": 79.8, "best": 70.0, "dear": 69.9}
    runs = [(made.run(name), [made.reading(degc)]) for name, degc in values.items()]
    rows = only(compare([made.measured(runs, boards)])).rows
    assert {row.board: row.on_frontier for row in rows} == {"cheap": "yes", "mid": "no", "best": "yes", "dear": "no"}


def test_boards_of_one_design_that_differ_in_one_thing_are_a_pair() -> None:
    design = (("heatsink", "tall"), ("stages", "8"))
    boards = [
        made.board("a", design=design),
        made.board("b", design=(("heatsink", "flat"), ("stages", "8"))),
        made.board("c", design=(("heatsink", "flat"), ("stages", "6"))),
        made.board("d"),
    ]
    runs = [(made.run(each.id), [made.reading(70.0 + 4.0 * i)]) for i, each in enumerate(boards)]
    pairs = {(p.fact, p.entry_a, p.entry_b): p for p in compare([made.measured(runs, boards)]).pairs}
    assert pairs.keys() == {("heatsink", "b", "a"), ("stages", "c", "b")}
    pair = pairs["heatsink", "b", "a"]
    assert (pair.value_a, pair.value_b, pair.difference_k, pair.different) == (
        "flat",
        "tall",
        pytest.approx(-4.0),
        True,
    )


def test_rises_are_carried_to_equal_power_and_not_beyond_a_tenth() -> None:
    loads = [made.LOAD, Load("high", intended_power_w=400.0, power_point="supply")]
    runs = []
    for name, watts in (("a", 300.0), ("b", 315.0), ("c", 345.0)):
        runs.append((made.run(name, power_w=watts), [made.reading(21.0 + 0.01 * watts**1.5)]))
        runs.append((made.run(name, load="high", power_w=400.0), [made.reading(21.0 + 0.01 * 400.0**1.5)]))
    comparison = compare([made.measured(runs, loads=loads)], equal_power=True)
    ranking = next(each for each in comparison.rankings if each.load == "stock")
    assert ranking.power_exponent == pytest.approx(1.5, abs=1e-6)
    assert [row.ranked_rise_k for row in ranking.rows] == pytest.approx([0.01 * 300.0**1.5] * 2)
    assert [row.tie_group for row in ranking.rows] == ["a", "a"]
    assert {row.board: round(row.projected_k, 2) for row in ranking.rows} == {
        "a": 0.0,
        "b": round(0.01 * (300.0**1.5 - 315.0**1.5), 2),
    }
    assert [(row.board, row.reasons[0]) for row in ranking.apart] == [
        ("c", "power 345 W, +15.0 % off 300 W: not carried beyond 10 %")
    ]


def test_missing_cells_are_listed() -> None:
    loads = [made.LOAD, Load("high")]
    runs = [(made.run("a"), [made.reading(70.0)]), (made.run("a", load="high"), [made.reading(80.0)])]
    runs += [(made.run("b"), [made.reading(71.0)])]
    gaps = compare([made.measured(runs, loads=loads)]).gaps
    assert [(gap.board, gap.load, gap.side, gap.kind) for gap in gaps] == [("b", "high", "front", "missing")]


def simulated(rng: np.random.Generator) -> tuple[Comparison, dict[str, float]]:
    """Make a study of eight boards in two sessions, the first three truly alike, every error drawn from its budget."""
    truth = {f"b{i}": 70.0 if i < 3 else float(rng.uniform(65.0, 80.0)) for i in range(8)}
    limit_k = float(rng.uniform(0.5, 2.0))
    offsets = {session: rng.uniform(-limit_k, limit_k) for session in ("one", "two")}
    runs = []
    for i, (name, degc) in enumerate(truth.items()):
        own_k, u_emissivity = float(rng.uniform(0.1, 0.4)), float(rng.uniform(0.002, 0.02))
        session = "one" if i % 2 else "two"
        terms = made.budget(limit_k, own_k, u_emissivity)
        emissivity_error_k = -40.0 * u_emissivity * rng.normal()
        for number in range(2 if i in (1, 5) else 1):
            air = 21.0 + rng.normal(0.0, 0.1)
            seen = degc + offsets[session] + emissivity_error_k + own_k * rng.normal()
            each = made.run(name, f"{name}-{number}", session=session)
            runs.append((each, [made.reading(seen, ambient_degc=air, terms=terms)]))
    return compare([made.measured(runs)]), truth


def judged_studies(count: int) -> tuple[float, int, int]:
    """Give the share of truly equal pairs called different, pairs beyond 3 U, and how many of these were missed."""
    alike = wrong = beyond = missed = 0
    for seed in range(count):
        comparison, truth = simulated(np.random.default_rng([7, seed]))
        for pair in only(comparison).differences:
            apart_k = truth[pair.hotter] - truth[pair.cooler]
            if apart_k == 0.0:
                alike += 1
                wrong += pair.different
            elif abs(apart_k) > 3.0 * pair.U_k:
                beyond += 1
                missed += not (pair.different and apart_k > 0.0)
    return wrong / alike, beyond, missed


def test_equal_boards_tie_and_far_ones_are_told_apart_in_simulated_studies() -> None:
    wrong, beyond, missed = judged_studies(60)
    assert wrong <= 0.05
    assert beyond > 100
    assert missed == 0


@pytest.mark.full
def test_equal_boards_tie_and_far_ones_are_told_apart_in_500_studies() -> None:
    wrong, beyond, missed = judged_studies(500)
    assert wrong <= 0.05
    assert beyond > 1000
    assert missed == 0
