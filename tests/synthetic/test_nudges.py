"""Benches with boards that warm up and are moved: what moves, what stays, what turns over."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.synthetic.nudges import STILL, Nudge, random_bench, random_nudge, warmed
from irspot.synthetic.view import project

SIZE = (160, 120)


@pytest.mark.parametrize("seed", range(8))
def test_a_nudged_board_is_seen_where_its_moved_points_are(seed: int) -> None:
    bench = random_bench(seed, size_px=SIZE)
    nudge = Nudge((3.0, -2.0), turn_deg=4.0, tilt_deg=2.0, axis_deg=30.0 * seed)
    corners = bench.outline.array_mm
    places = np.column_stack([corners, np.full(len(corners), 7.0)])
    middle = np.array([*(corners.min(axis=0) + corners.max(axis=0)) / 2.0, 0.0])
    moved = (places - middle) @ nudge.rotation().T + middle + np.array([3.0, -2.0, 0.0])
    view = bench.view
    expected = project(moved, view.pose, view.side, view.optics, view.size_px)
    assert np.allclose(bench.view_after(nudge).to_px(corners, 7.0), expected, atol=1e-9)


def test_a_turn_is_anticlockwise_seen_from_the_front() -> None:
    assert np.allclose(Nudge(turn_deg=90.0).rotation() @ [1.0, 0.0, 0.0], [0.0, 1.0, 0.0])
    assert np.allclose(Nudge(tilt_deg=90.0).rotation() @ [0.0, 1.0, 0.0], [0.0, 0.0, 1.0])


def test_the_same_seed_gives_the_same_frame_and_another_noise_seed_only_other_noise() -> None:
    bench = random_bench(3, size_px=SIZE)
    first = bench.frame(0.5, seed=1)
    assert np.array_equal(first, random_bench(3, size_px=SIZE).frame(0.5, seed=1))
    difference = bench.frame(0.5, seed=2) - first
    assert np.std(difference) == pytest.approx(np.sqrt(2.0) * bench.noise_k, rel=0.05)


def test_only_the_board_moves() -> None:
    bench = replace(random_bench(5, size_px=SIZE), noise_k=0.0)
    before, after = bench.frame(1.0), bench.frame(1.0, Nudge((6.0, 0.0)))
    border = bench.view.to_px(bench.outline.border_points(2.0))
    rows, columns = np.nonzero(np.abs(after - before) > 1e-3)
    apart = np.hypot(columns[:, None] - border[:, 0], rows[:, None] - border[:, 1]).min(axis=1)
    inside = bench.outline.contains(*bench.view.to_mm(np.column_stack([columns, rows]).astype(float)).T)
    assert rows.size > 100
    assert np.all(inside | (apart < 20.0)), "clutter beside the board stays"


def test_a_cold_board_is_as_warm_as_its_surroundings_and_some_parts_turn_over() -> None:
    bench = random_bench(2, size_px=SIZE)
    cold, hot = warmed(bench.content, bench.paces, 0.0), warmed(bench.content, bench.paces, 1.0)
    assert cold.board_degc == bench.content.background_degc
    assert all(part.excess_k == 0.0 for part in cold.parts)
    assert hot == bench.content
    count = len(bench.content.parts)
    lukewarm = warmed(bench.content, (-1.0,) * len(bench.paces), 0.1)
    turned = [a.excess_k * b.excess_k < 0.0 for a, b in zip(lukewarm.parts, hot.parts, strict=True)]
    assert turned == [True] * count


def test_random_nudges_have_the_size_asked_for() -> None:
    nudge = random_nudge(np.random.default_rng(0), 4.0)
    assert np.hypot(*nudge.shift_mm) == pytest.approx(4.0)
    bench = random_bench(0, size_px=SIZE)
    assert bench.view_after(STILL) is bench.view
