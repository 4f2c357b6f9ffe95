"""The large demo: what irspot concludes of its boards is what was true of them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from itertools import combinations
from pathlib import Path

import pytest
import tomlkit

from irspot.compare.values import Comparison, Ranking
from irspot.files import read_study
from irspot.synthetic.demo_full import (
    BATCHES,
    FAILS,
    LOADS,
    PAIR,
    PRICES,
    REFERENCE,
    REJECTED,
    THROTTLED,
    TIES,
    FullRun,
    full_boards,
    full_runs,
)
from irspot.synthetic.demo_full_files import frame_bytes, frame_name, study_name, texts, truth_of
from irspot.workflow.compare_study import StudyComparison, compare_studies
from irspot.workflow.demo import write_full_demo
from irspot.workflow.run import run_study

SOME = ("k7", "l4", "m6", "t3")
STAGES = ("ps-left", "ps-top")

Truths = Mapping[tuple[str, str], float]
"""Batch and board → true rise of the hotter bank of power stages."""


@cache
def true_rise_k(board: str, true_load: str) -> float:
    """Of a board's power stages; the air adds to it alike."""
    run = next(run for b in BATCHES for run in full_runs(b) if (run.run.board, run.true_load) == (board, true_load))
    truth = truth_of(run)
    return max(zone.max_degc for zone in truth.zones if zone.zone in STAGES) - truth.ambient_degc


def true_rises(runs: list[tuple[str, FullRun]]) -> dict[tuple[str, str], float]:
    return {(batch, run.run.board): true_rise_k(run.run.board, run.true_load) for batch, run in runs}


def counting(load: str) -> list[tuple[str, FullRun]]:
    return [
        (batch.id, run)
        for batch in BATCHES
        for run in full_runs(batch)
        if (run.run.load, run.run.side) == (load, "front") and not run.rejected
    ]


def ranking_of(made: Comparison, load: str, side: str = "front") -> Ranking:
    (found,) = [r for r in made.rankings if (r.load, r.role, r.side) == (load, "power-stage", side)]
    return found


def held(ranking: Ranking, truths: Truths) -> int:
    """Hold every pair of a ranking against the truth; give how many truly equal pairs were told apart."""
    true_k = {row.entry: truths[row.batch, row.board] for row in ranking.rows}
    for row in ranking.rows:
        assert abs(row.rise_k - truths[row.batch, row.board]) < row.U_rise_k
    wrong = 0
    for each in ranking.differences:
        true_difference_k = true_k[each.hotter] - true_k[each.cooler]
        if abs(true_difference_k) > 3.0 * each.U_k:
            assert each.different, each
            assert true_difference_k > 0.0, each
        wrong += abs(true_difference_k) < 0.01 and each.different
    return wrong


def test_the_boards_are_what_the_story_wants() -> None:
    assert len(full_boards()) == len(PRICES) == 12
    assert {board for batch in BATCHES for board in batch.boards} == set(full_boards())
    assert set(BATCHES[0].boards) & set(BATCHES[1].boards) == {REFERENCE}
    for batch in BATCHES:
        runs = full_runs(batch)
        assert len({run.id for run in runs}) == len(runs)
        cells = {(run.run.board, run.run.load, run.run.side) for run in runs if not run.rejected}
        assert len(cells) == len(batch.boards) * len(LOADS) * 2


def test_two_pairs_are_truly_alike_and_others_are_not() -> None:
    rises = [[true_rise_k(board, "stock") for board in pair] for pair in TIES]
    assert [one == pytest.approx(other, abs=1e-6) for one, other in rises] == [True, True]
    assert abs(rises[0][0] - rises[1][0]) > 1.0
    assert true_rise_k(PAIR[0], "stock") - true_rise_k(PAIR[1], "stock") > 5.0


def test_every_text_is_read_and_says_that_it_is_invented(tmp_path: Path) -> None:
    for name, content in texts():
        assert b"nvented" in content[:400], name
        path = tmp_path.joinpath(*name.split("/"))
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    study = read_study(tmp_path / study_name(BATCHES[1]))
    assert study.reference_board == REFERENCE
    assert [path.resolve() for path in study.previous] == [(tmp_path / study_name(BATCHES[0])).resolve()]
    assert {bad.id for bad in study.bad_runs} == {run.id for run in full_runs(BATCHES[1])}, "without frames"


@pytest.fixture(scope="module")
def some(tmp_path_factory: pytest.TempPathFactory) -> StudyComparison:
    """Four boards of the winter, one load, their fronts."""
    folder, batch = tmp_path_factory.mktemp("some"), BATCHES[0]
    for name, content in texts():
        path = folder.joinpath(*name.split("/"))
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    chosen = [run for _, run in counting("stock") if run.run.board in SOME and run in full_runs(batch)]
    for run in chosen:
        path = folder.joinpath(*frame_name(batch, run).split("/"))
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(frame_bytes(run))
    study = folder / study_name(batch)
    document = tomlkit.parse(study.read_text(encoding="utf-8"))
    kept = [
        each for each in document["run"] if f"{each['board']}-{each['load']}-{each['side']}" in {r.id for r in chosen}
    ]
    document["run"] = kept
    document["board"] = [each for each in document["board"] if each["id"] in SOME]
    document["load"] = [each for each in document["load"] if each["id"] == "stock"]
    study.write_text(tomlkit.dumps(document), encoding="utf-8")
    return compare_studies([study])


def test_boards_that_are_alike_tie_and_others_stand_where_they_truly_stand(some: StudyComparison) -> None:
    ranking = ranking_of(some.comparison, "stock")
    assert {row.board for row in ranking.rows} == set(SOME)
    assert held(ranking, true_rises([each for each in counting("stock") if each[1].run.board in SOME])) == 0
    letters = {row.board: set(row.tie_group) for row in ranking.rows}
    assert letters["l4"] & letters["m6"]
    assert not letters["l4"] & letters["t3"], "truly 6 K apart"


@pytest.mark.full
def test_all_conclusions_are_true(tmp_path: Path) -> None:
    study = write_full_demo(tmp_path)
    for batch in BATCHES:
        assert run_study(tmp_path / study_name(batch), tmp_path / batch.id / "out", pictures=False).problems == ()
    compared = compare_studies([study])
    made = compared.comparison
    told_apart, alike = 0, 0
    for load in LOADS:
        ranking, truths = ranking_of(made, load), true_rises(counting(load))
        told_apart += held(ranking, truths)
        rows = {(row.batch, row.board): row for row in ranking.rows}
        throttled = [(row.board, load) for row in ranking.apart]
        assert throttled == ([THROTTLED] if load == THROTTLED[1] else [])
        for one, other in TIES:
            (a,), (b,) = ([row for (_, board), row in rows.items() if board == name] for name in (one, other))
            alike += bool(set(a.tie_group) & set(b.tie_group))
        for (batch, board), row in rows.items():
            assert row.price == PRICES[board]
            over_k = truths[batch, board] + 21.0 - row.limit_degc
            if abs(over_k) > 2.0 * row.U_value_k:
                assert row.outcome == ("fail" if over_k > 0.0 else "pass"), (load, board)
    assert told_apart == 0
    assert alike == len(TIES) * len(LOADS)
    assert {row.outcome for row in ranking_of(made, FAILS[1]).rows if row.board == FAILS[0]} == {"fail"}
    assert made.gaps == (), "the rejected run was taken again"
    (again,) = (row for row in ranking_of(made, REJECTED[1]).rows if row.board == REJECTED[0])
    assert again.runs == (f"{REJECTED[0]}-{REJECTED[1]}-front",)
    pairs = {pair for each in made.pairs for pair in combinations(sorted((each.entry_a, each.entry_b)), 2)}
    assert pairs == {PAIR}
    assert any(chart.board == REFERENCE and len(chart.points) >= 2 for chart in made.charts)
    assert all(row.on_frontier == "yes" for row in ranking_of(made, "stock").rows if row.board == "s9")
