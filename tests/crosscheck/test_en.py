"""En numbers and zeta scores against worked rows (tests/reference/en_numbers.csv names their source)."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from irspot.crosscheck import agreeing, compared, en_number, zeta_score
from irspot.crosscheck.en import normal_error

FILE = Path(__file__).resolve().parent.parent / "reference" / "en_numbers.csv"


def rows() -> list[dict[str, str]]:
    with FILE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["case"])
def test_worked_rows(row: dict[str, str]) -> None:
    x, u, ref, u_ref = (float(row[key]) for key in ("x_lab", "U_lab_k2", "x_ref", "U_ref_k2"))
    assert float(en_number(x, u, ref, u_ref)) == pytest.approx(float(row["En"]), abs=1e-7)
    assert float(zeta_score(x, u / 2, ref, u_ref / 2)) == pytest.approx(float(row["zeta"]), abs=1e-6)
    assert bool(agreeing(en_number(x, u, ref, u_ref))) == ("unsatisfactory" not in row["verdict_En"])
    both = compared(x, u, ref, u_ref, same_side=True)
    assert both.agrees == ("unsatisfactory" not in row["verdict_En"])


def test_there_are_rows_of_both_kinds() -> None:
    verdicts = {"unsatisfactory" in row["verdict_En"] for row in rows()}
    assert verdicts == {True, False}


def test_what_is_not_known_agrees_with_nothing() -> None:
    assert math.isnan(float(en_number(math.nan, 1.0, 80.0, 1.0)))
    assert math.isnan(float(en_number(80.0, 0.0, 80.0, 0.0)))
    assert compared(math.nan, 1.0, 80.0, 1.0, same_side=True).agrees is None


def test_behind_the_board_a_difference_is_given_and_not_judged() -> None:
    behind = compared(91.0, 1.0, 80.0, 1.0, same_side=False)
    assert behind.difference_k == 11.0
    assert math.isnan(behind.en)
    assert behind.agrees is None


def test_equal_values_disagree_as_often_as_k_says() -> None:
    rng = np.random.default_rng(5)
    en = en_number(rng.normal(0, 0.4, 40000), 0.8, rng.normal(0, 0.3, 40000), 0.6)
    share = float(np.mean(~agreeing(en)))
    assert share == pytest.approx(normal_error(1.0), abs=0.004)
