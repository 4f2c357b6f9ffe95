"""Earlier studies joined by a reference board, and its control chart."""

from __future__ import annotations

import math

import pytest

from irspot.compare.cases import Measured
from irspot.compare.compare import compare

from . import made


def batch(title: str, offset_k: float, values: dict[str, float]) -> Measured:
    """Make a study whose camera is off; the reference board is at 60 °C in truth."""
    runs = [
        (made.run(name, session=title), [made.reading(degc + offset_k, time=f"2026-0{1 + (title == 'now')}-01")])
        for name, degc in {"ref": 60.0, **values}.items()
    ]
    return made.measured(runs, title=title, reference_board="ref")


def test_a_reference_board_links_batches_and_old_numbers_stay() -> None:
    comparison = compare([batch("now", 1.0, {"new": 70.0}), batch("winter", -1.0, {"old": 70.0, "hot": 75.0})])
    (link,) = comparison.links
    assert (link.study, link.applied, link.offset_k) == ("winter", True, pytest.approx(2.0))
    (ranking,) = comparison.rankings
    rows = {row.entry: row for row in ranking.rows}
    assert rows["old"].value_degc == pytest.approx(69.0)
    assert rows["old"].ranked_rise_k == pytest.approx(rows["new"].ranked_rise_k)
    assert set(rows["old"].tie_group) & set(rows["new"].tie_group)
    # The cameras' limits of 2 K each would leave 5 K undecided; the link does not.
    assert not set(rows["hot"].tie_group) & set(rows["new"].tie_group)
    assert {"ref (winter)", "ref (now)"} <= rows.keys()


def test_the_reference_boards_own_emissivity_is_no_part_of_the_offset() -> None:
    winter = batch("winter", 0.0, {"old": 70.0})
    unaware = Measured(made.replace(winter.study, reference_board=""), winter.rows)
    for earlier in (winter, unaware):
        (link,) = compare([batch("now", 0.0, {"new": 70.0}), earlier]).links
        # The cameras' limits, noise and air of both sessions; the surface is the same one.
        assert link.U_k == pytest.approx(2.0 * math.sqrt(2.0 * (4.0 / 3.0 + 0.2**2 + 0.1**2)))


def test_without_a_link_sessions_are_only_as_good_as_the_cameras_limits() -> None:
    studies = [batch("now", 0.0, {"new": 70.0}), batch("winter", 0.0, {"hot": 72.5})]
    studies = [Measured(made.replace(each.study, reference_board=""), each.rows) for each in studies]
    comparison = compare(studies)
    assert [(link.applied, link.reason) for link in comparison.links] == [(False, "the study names no reference_board")]
    rows = {row.entry: row for row in comparison.rankings[0].rows}
    assert set(rows["hot"].tie_group) & set(rows["new"].tie_group)


def charted(values: list[float]) -> list[str]:
    runs = [
        (made.run("ref", f"r{i}", session=f"s{i}"), [made.reading(degc, time=f"2026-01-{i + 1:02d}")])
        for i, degc in enumerate(values)
    ]
    (chart,) = compare([made.measured(runs, reference_board="ref")]).charts
    assert [point.run for point in chart.points] == [run.id for run, _ in runs]
    return [point.signal for point in chart.points]


def test_a_seeded_shift_alarms_and_steady_sessions_do_not() -> None:
    # A camera limit of 2 K is u = 1.15 K a session: 5 K off is far beyond three of that.
    assert charted([60.0, 60.5, 59.4, 60.2, 59.9, 60.3]) == [""] * 6
    assert charted([60.0, 60.5, 59.4, 60.2, 59.9, 65.3])[-1] == "alarm"


def test_runs_of_one_session_are_one_point() -> None:
    runs = [
        (made.run("ref", f"r{i}", session=f"s{i // 2}"), [made.reading(60.0 + i, time=f"2026-01-{i + 1:02d}")])
        for i in range(4)
    ]
    (chart,) = compare([made.measured(runs, reference_board="ref")]).charts
    assert [(point.run, point.rise_k) for point in chart.points] == [("r0", 39.5), ("r2", 41.5)]
