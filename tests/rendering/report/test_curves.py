"""Curves over time: every sample where it belongs, names apart, gaps as gaps."""

from __future__ import annotations

import math
import re
from itertools import pairwise

import numpy as np

from irspot.rendering.report.curves import MOST_POINTS, drawing_of
from irspot.rendering.report.values import Curve, Curves


def soak(name: str, end: float, count: int = 50) -> Curve:
    times = np.linspace(0.0, 3600.0, count)
    values = 20.0 + (end - 20.0) * (1.0 - np.exp(-times / 700.0))
    return Curve(name, "zone", tuple(times.tolist()), tuple(values.tolist()))


def test_a_line_runs_from_its_first_to_its_last_sample_on_the_ticks_scale() -> None:
    drawing = drawing_of(Curves("run", "°C", (soak("ps", 80.0),)))
    assert drawing is not None
    (line,) = drawing.lines
    numbers = [float(text) for text in re.findall(r"[\d.]+", line.path)]
    ticks = {text: place for place, text in drawing.y_ticks}
    # The places of 30 and 70 °C give the scale; the line's ends must lie on it.
    per_k = (ticks["70"] - ticks["30"]) / 40.0
    first, last = (70.0 + (numbers[at] - ticks["70"]) / per_k for at in (1, -1))
    end = 20.0 + 60.0 * (1.0 - math.exp(-3600.0 / 700.0))
    assert math.isclose(first, 20.0, abs_tol=0.05)
    assert math.isclose(last, end, abs_tol=0.05)
    minutes = {text: place for place, text in drawing.x_ticks}
    assert math.isclose(numbers[-2], minutes["60"], abs_tol=0.06)
    assert f"ps 20.0 to {end:.1f}" in drawing.alt


def test_names_never_lie_over_one_another() -> None:
    drawing = drawing_of(Curves("run", "°C", tuple(soak(f"zone {i}", 80.0 + 0.1 * i) for i in range(12))))
    assert drawing is not None
    heights = sorted(line.name_y for line in drawing.lines)
    assert min(b - a for a, b in pairwise(heights)) >= 14.9
    assert len({(line.dash, line.tone) for line in drawing.lines}) == 12


def test_what_is_not_known_breaks_the_line() -> None:
    times = (0.0, 60.0, 120.0, 180.0, 240.0)
    drawing = drawing_of(Curves("run", "°C", (Curve("tc1", "bead", times, (20.0, 30.0, math.nan, 40.0, 41.0)),)))
    assert drawing is not None
    assert [drawing.lines[0].path.count(letter) for letter in "ML"] == [2, 2]


def test_long_recordings_are_thinned_and_end_with_their_last_sample() -> None:
    drawing = drawing_of(Curves("run", "°C", (soak("ps", 80.0, 5000),)))
    assert drawing is not None
    assert drawing.lines[0].path.count("L") <= MOST_POINTS
    assert drawing.lines[0].path.rsplit("L", 1)[1].startswith("500.0 "), "the last sample is at the right end"


def test_nothing_known_is_no_drawing() -> None:
    assert drawing_of(Curves("run", "°C", (Curve("tc1", "bead", (0.0,), (math.nan,)),))) is None


def test_of_too_many_lines_the_highest_are_drawn() -> None:
    drawing = drawing_of(Curves("run", "°C", tuple(soak(f"z{i}", 40.0 + i) for i in range(30))))
    assert drawing is not None
    assert [line.name for line in drawing.lines] == [f"z{i}" for i in range(14, 30)]
    assert drawing.title == "run (the 16 highest of 30)"
    assert min(line.name_y for line in drawing.lines) >= 10.0
