"""The image at a bead: beside what hides the surface, on the right surface, with an uncertainty that holds."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from irspot.board import Board, Site, Zone
from irspot.camera import Optics
from irspot.crosscheck import image_at, zone_at
from irspot.shapes import Circle, rectangle
from tests.measurement.scenes import (
    CAMERA,
    CONDITIONS,
    SIZE,
    apparent_of,
    frame_of,
    straight_placement,
    tilted_placement,
)

BOARD = Board(
    "Kestrel K8",
    rectangle(0, 0, 110, 90),
    zones=(
        Zone("ps", rectangle(20, 30, 50, 40), role="power-stage", emissivity=0.93, u_emissivity=0.02),
        Zone("can", Circle(88, 60, 12), role="inductor", emissivity=0.8, u_emissivity=0.03),
    ),
)
SITE = Site("b1", 45.3, 50.7, side="front", footprint_mm=5.0, wire_mm=0.13, attachment="tape")


def scene(placement, surface, covers=(), zone=BOARD.zones[0], noise_k=0.05, seed=0, emissivity=None):
    """A frame of a surface in mm, each bead of `covers` a cold disc of its footprint."""
    y, x = np.mgrid[0 : SIZE[1], 0 : SIZE[0]]
    mm = placement.to_mm(np.column_stack([x.ravel(), y.ravel()]).astype(float))
    degc = surface(mm[:, 0], mm[:, 1])
    for site, cover_degc in covers:
        hidden = np.hypot(mm[:, 0] - site.x_mm, mm[:, 1] - site.y_mm) <= site.footprint_mm / 2.0
        degc = np.where(hidden, cover_degc, degc)
    applied = zone if emissivity is None else replace(zone, emissivity=emissivity)
    seen = apparent_of(degc, applied).reshape(SIZE[1], SIZE[0])
    return frame_of(seen + np.random.default_rng(seed).normal(0.0, noise_k, seen.shape), CAMERA)


def slope(x, y):
    return 70.0 + 0.4 * (x - 45.3) - 0.25 * (y - 50.7)


@pytest.mark.parametrize("placement", [straight_placement(), tilted_placement(BOARD)], ids=["straight", "tilted"])
def test_the_cover_does_not_count_and_the_slope_is_found(placement) -> None:
    found = image_at(scene(placement, slope, [(SITE, 30.0)]), BOARD, placement, CONDITIONS, SITE)
    assert found.degc == pytest.approx(70.0, abs=0.25)
    assert found.gradient_k_per_mm == pytest.approx(math.hypot(0.4, 0.25), rel=0.1)
    assert found.zone == "ps"
    assert found.same_side
    assert found.pixels >= 9
    assert found.U_k > 2.0 * 1.0 / math.sqrt(3.0) * 0.9, "the camera's limit at least"
    assert {term.name for term in found.terms} >= {"camera limit", "emissivity", "bead's place", "beside the bead"}


def test_a_maximum_elsewhere_in_the_zone_is_not_the_beads() -> None:
    def spot(x, y):
        return 60.0 + 40.0 * np.exp(-((x - 60.0) ** 2 + (y - 40.0) ** 2) / (2 * 4.0**2))

    placement = straight_placement()
    found = image_at(scene(placement, spot), BOARD, placement, CONDITIONS, SITE)
    assert found.degc == pytest.approx(60.0, abs=0.3)


def test_the_ring_keeps_to_the_surface_the_bead_sits_on() -> None:
    edge = replace(SITE, x_mm=21.5)

    def two(x, y):
        return np.where((x >= 20.0) & (x <= 70.0) & (y >= 30.0) & (y <= 70.0), 80.0, 40.0)

    placement = straight_placement()
    found = image_at(scene(placement, two, [(edge, 50.0)]), BOARD, placement, CONDITIONS, edge)
    assert found.degc == pytest.approx(80.0, abs=0.4)
    outside = replace(SITE, x_mm=18.0)
    found = image_at(scene(placement, two, [(outside, 50.0)], zone=Zone("e", rectangle(0, 0, 1, 1))), BOARD, placement,
                     CONDITIONS, outside)  # fmt: skip
    assert found.zone == "elsewhere"
    assert found.degc == pytest.approx(40.0, abs=0.4)
    assert "emissivity-assumed" in found.flags


def test_on_the_tape_itself_with_its_own_emissivity() -> None:
    site = replace(SITE, footprint_mm=8.0, cover_emissivity=0.6)
    placement = straight_placement()
    frame = scene(placement, slope, emissivity=0.6)
    assert image_at(frame, BOARD, placement, CONDITIONS, site).degc == pytest.approx(70.0, abs=0.3)
    # With the zone's emissivity the same pixels would say something else: the tape's is what was used.
    assert image_at(frame, BOARD, placement, CONDITIONS, SITE).degc < 65.0


def test_behind_the_board_the_same_place_in_mm() -> None:
    site = replace(SITE, side="rear")
    placement = straight_placement()
    found = image_at(scene(placement, slope), BOARD, placement, CONDITIONS, site)
    assert found.degc == pytest.approx(70.0, abs=0.2)
    assert not found.same_side
    assert "behind-board" in found.flags
    assert zone_at(BOARD, "front", site.x_mm, site.y_mm).id == "ps"
    assert zone_at(BOARD, "rear", site.x_mm, site.y_mm).id == "elsewhere"


def test_stated_uncertainty_covers_hot_spots_under_beads() -> None:
    placement = straight_placement()
    held = 0
    for seed in range(60):
        rng = np.random.default_rng(seed)
        width, height = rng.uniform(5.0, 15.0), rng.uniform(5.0, 40.0)
        at = np.array([45.3, 50.7]) + rng.uniform(-6.0, 6.0, 2)

        def spot(x, y, at=at, width=width, height=height):
            return 50.0 + height * np.exp(-((x - at[0]) ** 2 + (y - at[1]) ** 2) / (2 * width**2))

        truth = float(spot(45.3, 50.7))
        site = replace(SITE, x_mm=45.3 + rng.normal(0, 0.5), y_mm=50.7 + rng.normal(0, 0.5))
        emissivity = 0.93 + rng.normal(0.0, 0.02)
        frame = scene(placement, spot, [(replace(SITE), truth - 5.0)], seed=seed, emissivity=emissivity)
        frame = replace(frame, stored=frame.stored + rng.uniform(-1.0, 1.0))
        found = image_at(frame, BOARD, placement, CONDITIONS, site)
        held += abs(found.degc - truth) <= found.U_k
    assert held >= 56, "57 of 60 are 95 %"


def test_what_other_beads_cover_does_not_count() -> None:
    other = replace(SITE, id="b2", x_mm=49.5, footprint_mm=4.0)
    board = replace(BOARD, sites=(SITE, other))
    placement = straight_placement()
    frame = scene(placement, lambda x, y: 70.0 + 0.0 * x, [(SITE, 30.0), (other, 30.0)])
    assert image_at(frame, board, placement, CONDITIONS, SITE).degc == pytest.approx(70.0, abs=0.3)
    # Not knowing of it, the ring takes the other's tape for the surface.
    assert image_at(frame, BOARD, placement, CONDITIONS, SITE).degc < 69.0


def test_a_raised_part_is_read_where_it_appears() -> None:
    optics = Optics(focal_px=420.0)
    placement = tilted_placement(BOARD, optics)
    raised = replace(BOARD, zones=(replace(BOARD.zones[0], height_mm=6.0), BOARD.zones[1]))
    frame = scene(placement.raised(6.0), slope, [(SITE, 30.0)])
    found = image_at(frame, raised, placement, CONDITIONS, SITE)
    assert found.degc == pytest.approx(70.0, abs=0.3)


def test_no_pixels_no_value() -> None:
    placement = straight_placement()
    away = replace(SITE, x_mm=400.0)
    found = image_at(scene(placement, slope), BOARD, placement, CONDITIONS, away)
    assert math.isnan(found.degc)
    assert math.isnan(found.U_k)
    assert "no-pixels" in found.flags


def test_an_assumed_footprint_is_flagged() -> None:
    placement = straight_placement()
    found = image_at(scene(placement, slope), BOARD, placement, CONDITIONS, replace(SITE, footprint_mm=None))
    assert "footprint-assumed" in found.flags
