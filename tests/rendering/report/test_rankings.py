"""A comparison as tables: every number its row's, ties and reasons said, what is not known left empty."""

from __future__ import annotations

from dataclasses import replace

from irspot.compare.standing import Standing
from irspot.compare.values import (
    BatchLink,
    Change,
    Comparison,
    ControlChart,
    ControlledPair,
    ControlPoint,
    DecisionRule,
    Difference,
    Gap,
    Ranking,
    SetupDifference,
)
from irspot.rendering.report.rankings import comparison_tables, said_of_limits
from irspot.rendering.report.values import TextTable

COOL = Standing(
    "stock", "vrm", "front", "k7", "k7", board_name="Kestrel K7", zone="ps-left", run="k7-stock", rank=1, tie_group="A",
    value_degc=71.832, U_value_k=1.94, rise_k=50.5, ranked_rise_k=50.512, U_k=1.2, normalised_degc=71.5,
    U_normalised_k=1.95, limit_degc=105.0, limit_kind="case", margin_k=33.17, U_margin_k=1.94, outcome="pass",
    price=240.0, currency="EUR", price_date="2026-03-01", on_frontier="yes",
    notes=("single run", "wall power alone"),
)  # fmt: skip
WARM = replace(
    COOL, board="t3", entry="t3", board_name="t3", rank=1, tie_group="AB", ranked_rise_k=51.3, margin_k=-2.04,
    outcome="fail", on_frontier="no", price=float("nan"), notes=("wall power alone",),
)  # fmt: skip
APART = replace(COOL, board="p5", entry="p5", comparable="no", reasons=("throttled", "power 4 % low"), rank=None)
RANKING = Ranking(
    "stock", "all-core render", "vrm", "front", (COOL, WARM), (APART,),
    (Difference("k7", "t3", 0.8, 1.4, False, True),), footing=("235 W at the wall",),
)  # fmt: skip
RULE = DecisionRule("guarded", "accepted with a guard band of U", "a guide")
COMPARISON = Comparison(("Spring",), (RANKING,), RULE, negligible_k=3.0)


def table(tables: tuple[TextTable, ...], start: str) -> TextTable:
    (found,) = [each for each in tables if each.caption.startswith(start)]
    return found


def test_a_ranking_says_what_its_rows_say() -> None:
    tables = comparison_tables(COMPARISON)
    ranked = table(tables, "vrm, front, load all-core render")
    cells = [dict(zip(ranked.heads, row, strict=True)) for row in ranked.rows]
    assert cells[0] == {
        "rank": "1",
        "ties": "A",
        "board": "Kestrel K7 (k7)",
        "zone": "ps-left",
        "rise K": "50.5 ± 1.2",
        "measured °C": "71.8 ± 1.9",
        "at reference °C": "71.5 ± 2.0",
        "to limit": "pass: 33.2 ± 1.9 K left to case limit 105.0 °C",
        "price": "240.00 EUR (2026-03-01); no cheaper board is as cool",
        "notes": "single run",
    }
    assert (cells[1]["board"], cells[1]["ties"], cells[1]["price"]) == ("t3", "AB", "–")
    assert cells[1]["to limit"] == "fail: 2.0 ± 1.9 K over case limit 105.0 °C"
    assert cells[1]["notes"] == "–"
    assert "All of these: wall power alone." in ranked.notes
    assert "On equal footing: 235 W at the wall." in ranked.notes
    assert "Shown to differ by less than 3.0 K, declared beforehand: k7 and t3." in ranked.notes


def test_what_is_not_compared_stands_apart_with_its_reasons() -> None:
    apart = table(comparison_tables(COMPARISON), "Not compared")
    assert apart.rows == (("p5", "ps-left", "71.8 ± 1.9", apart.rows[0][3], "throttled; power 4 % low"),)


def test_limits_are_counted() -> None:
    assert said_of_limits(COMPARISON) == (
        "Limits, by the rule 'guarded' (accepted with a guard band of U): 2 pass, 1 fail.",
    )
    assert said_of_limits(Comparison(("a",), (), RULE)) == ()


def test_lower_bounds_and_projections_are_said_to_be_such() -> None:
    bound = replace(COOL, verdict="lower bound", rank=None)
    projected = replace(RANKING, rows=(bound,), power_exponent=1.5, u_power_exponent=0.15, equal_power_w=235.0)
    ranked = comparison_tables(replace(COMPARISON, rankings=(projected,)))[0]
    assert ranked.rows[0][4:7] == ("≥ 49.3", "≥ 69.8", "–")
    assert "A projection: rises carried to 235.0 W by rise ∝ powerⁿ, n = 1.50 ± 0.30." in ranked.notes


def test_everything_else_has_a_table_where_there_is_something_to_say() -> None:
    full = replace(
        COMPARISON,
        pairs=(ControlledPair("stock", "vrm", "front", "heatsink", "k7", "fins", "k8", "none", 4.2, 0.8, True, False),),
        charts=(
            ControlChart(
                "k7", "stock", "vrm", "front", 50.0,
                (ControlPoint("k7-1", "spring", "monday", "", 51.0, 0.3, 1.0, 0.6, 0.9, "alarm"),), ("out on monday",),
            ),
        ),
        gaps=(Gap("Spring", "p5", "stock", "rear", "missing"),),
        links=(BatchLink("Winter", "stock", "vrm", "front", 0.7, 0.5, True, True, "reference board k7"),),
        changes=(Change("Winter", "k7", "k7.tiff", "ps", "max_degc", 71.0, float("nan"), "not placed any more"),),
        setups=(SetupDifference("stock", "fan", (("120 mm", ("k7",)), ("", ("t3",)))),),
    )  # fmt: skip
    tables = comparison_tables(full)
    assert table(tables, "Controlled pairs").rows[0][2:] == ("heatsink", "k7: fins", "k8: none", "4.20 ± 0.80", "yes")
    control = table(tables, "The reference board")
    assert control.rows[0][3:] == ("monday", "51.00 ± 0.60", "1.00", "± 0.90", "alarm")
    assert control.notes == ("out on monday",)
    assert table(tables, "Boards and loads without").rows == (("p5", "stock", "rear", "missing", "–", "–"),)
    assert table(tables, "Earlier studies").rows[0][3:] == ("0.70 ± 0.50", "yes", "reference board k7")
    assert table(tables, "Numbers that earlier").rows[0][5:] == ("71.000", "–", "not placed any more")
    assert table(tables, "Facts of the set-up").rows == (("stock", "fan", "120 mm: k7; not stated: t3"),)
    assert len(comparison_tables(COMPARISON)) == 2, "nothing to say, no table"
