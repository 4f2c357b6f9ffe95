"""Where a bead should have sat: a hot spot at a known place, a bead off it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from irspot.board import Site
from irspot.crosscheck import ZoneGrid, best_places, grids_of_role, hot_place, image_at, zone_grid
from irspot.crosscheck.advice import moved
from irspot.measurement import measure_zones
from tests.crosscheck.test_at_bead import BOARD, SITE, scene
from tests.measurement.scenes import CONDITIONS, straight_placement, tilted_placement

HOT = (45.3, 50.7)


def spot(at, width_mm, height_k):
    def surface(x, y):
        return 55.0 + height_k * np.exp(-((x - at[0]) ** 2 + (y - at[1]) ** 2) / (2.0 * width_mm**2))

    return surface


@pytest.mark.parametrize("side", ["front", "rear"])
@pytest.mark.parametrize("angle_deg", [10.0, 130.0, 260.0])
@pytest.mark.parametrize("placement", [straight_placement(), tilted_placement(BOARD)], ids=["straight", "tilted"])
def test_a_bead_six_mm_off_is_sent_to_the_hot_spot(placement, angle_deg: float, side) -> None:
    for width_mm, height_k, seed in ((6.0, 25.0, 1), (9.0, 30.0, 2)):
        dx, dy = 6.0 * math.cos(math.radians(angle_deg)), 6.0 * math.sin(math.radians(angle_deg))
        site = replace(SITE, x_mm=HOT[0] + dx, y_mm=HOT[1] + dy, side=side)
        surface = spot(HOT, width_mm, height_k)
        covers = [(site, 40.0)] if side == "front" else []
        frame = scene(placement, surface, covers, seed=seed, noise_k=0.03)
        image = image_at(frame, BOARD, placement, CONDITIONS, site)
        found = hot_place(BOARD, measure_zones(frame, BOARD, placement, CONDITIONS), site, image)
        assert found is not None
        assert found.zone == "ps"
        assert math.hypot(found.dx_mm + dx, found.dy_mm + dy) <= 1.0
        assert found.distance_mm == pytest.approx(6.0, abs=1.0)
        truth_k = float(surface(*HOT) - surface(site.x_mm, site.y_mm))
        assert found.gain_k == pytest.approx(truth_k, abs=1.0)


def test_the_direction_is_said_as_the_front_view_has_it() -> None:
    site = replace(SITE, x_mm=HOT[0] + 6.0, y_mm=HOT[1] - 3.0)
    placement = straight_placement()
    frame = scene(placement, spot(HOT, 8.0, 30.0))
    image = image_at(frame, BOARD, placement, CONDITIONS, site)
    found = hot_place(BOARD, measure_zones(frame, BOARD, placement, CONDITIONS), site, image)
    assert found is not None
    assert "to the left and" in found.sentence
    assert "up (front view)" in found.sentence


def test_no_advice_where_the_image_says_nothing() -> None:
    placement = straight_placement()
    frame = scene(placement, spot(HOT, 8.0, 30.0))
    away = Site("x", 400.0, 10.0, side="front")
    image = image_at(frame, BOARD, placement, CONDITIONS, away)
    assert hot_place(BOARD, measure_zones(frame, BOARD, placement, CONDITIONS), away, image) is None


def grid(*spots: tuple[float, float, float]) -> ZoneGrid:
    """A strip of 41 mm with hot spots ``(x, height, width)``."""
    x = np.arange(0.0, 41.0)
    degc = 40.0 + np.max([height * np.exp(-((x - at) ** 2) / (2.0 * w**2)) for at, height, w in spots], axis=0)
    return ZoneGrid("ps", x, np.zeros_like(x), degc)


def test_one_bead_goes_where_the_worst_load_is_least_bad() -> None:
    loads = [[grid((10.0, 30.0, 8.0))], [grid((30.0, 30.0, 8.0))]]
    one = best_places(loads, 1)
    assert len(one) == 1
    assert one[0].x_mm == 20.0, "between the two: by symmetry"
    brute = min(max(float(np.max(g[0].degc) - g[0].degc[k]) for g in loads) for k in range(41))
    assert one[0].worst_shortfall_k == pytest.approx(brute)


def test_more_beads_are_never_worse_and_none_is_placed_for_nothing() -> None:
    loads = [[grid((10.0, 30.0, 4.0))], [grid((30.0, 30.0, 4.0))], [grid((30.0, 20.0, 4.0))]]
    found = best_places(loads, 5)
    shortfalls = [place.worst_shortfall_k for place in found]
    assert shortfalls == sorted(shortfalls, reverse=True)
    assert shortfalls[-1] == pytest.approx(0.0, abs=1e-9)
    assert len(found) <= 3
    assert len(best_places([loads[0]], 5)) == 1, "one bead is all that one load with one hot spot needs"


def test_loads_of_different_zones_do_not_fit() -> None:
    with pytest.raises(ValueError, match="different zones"):
        best_places([[grid((1.0, 1.0, 1.0))], []], 1)
    assert best_places([], 1) == ()


def test_places_by_role_from_frames() -> None:
    placement = straight_placement()
    loads = []
    for at in ((40.0, 50.0), (52.0, 50.0)):
        frame = scene(placement, spot(at, 9.0, 30.0), noise_k=0.02)
        loads.append(grids_of_role(frame, BOARD, placement, CONDITIONS, "power-stage"))
    one = best_places(loads, 1)[0]
    assert one.zone == "ps"
    assert one.x_mm == pytest.approx(46.0, abs=1.0)
    assert one.y_mm == pytest.approx(50.0, abs=1.0)
    # Both hot spots are 6 mm from there.
    assert one.worst_shortfall_k == pytest.approx(30.0 * (1.0 - math.exp(-36.0 / 162.0)), abs=1.0)
    assert moved(SITE, one).x_mm == one.x_mm
    single = best_places(loads[:1], 1)[0]
    assert math.hypot(single.x_mm - 40.0, single.y_mm - 50.0) <= 1.0


def test_a_grid_keeps_to_its_zone() -> None:
    placement = straight_placement()
    frame = scene(placement, spot(HOT, 8.0, 30.0))
    found = zone_grid(frame, BOARD, placement, CONDITIONS, BOARD.zones[1])
    assert BOARD.zones[1].shape.contains(found.x_mm, found.y_mm).all()
    assert np.isfinite(found.degc).all()
