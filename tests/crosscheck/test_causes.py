"""Causes: what was made wrong comes first."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from irspot.board import Site
from irspot.crosscheck import (
    ClockOffset,
    Evidence,
    Fault,
    Logger,
    bead_value,
    image_at,
    likely_cause,
    ranked_causes,
)
from tests.crosscheck.test_at_bead import BOARD, SITE, scene
from tests.measurement.scenes import CONDITIONS, straight_placement

GOOD = Site("b1", SITE.x_mm, SITE.y_mm, "front", "T", 1, 0.08, "solder", 5.0)


def evidence(difference_k: float, site: Site = GOOD, gradient: float = 0.05, **more) -> Evidence:
    placement = straight_placement()
    image = image_at(scene(placement, lambda x, y: 70.0 + 0.0 * x), BOARD, placement, CONDITIONS, GOOD)
    image = replace(image, gradient_k_per_mm=gradient)
    bead = bead_value(70.0, site, Logger(0.3, 0.3), 23.0)
    return Evidence(difference_k, bead, image, rise_k=47.0, clock=ClockOffset(0.0, 1.0), **more)


def names(of: Evidence) -> list[str]:
    return [cause.name for cause in ranked_causes(of)]


def test_a_fault_that_was_found_comes_first() -> None:
    fault = Fault("detached", 100.0, 101.0, 2, "fell")
    assert names(evidence(-20.0, fault=fault))[0] == "detached"
    assert likely_cause(evidence(-20.0, fault=fault), None) == "detached"
    assert likely_cause(evidence(math.nan, fault=replace(fault, kind="noisy")), None) == "failing bead"


def test_thick_wire_pressed_on_explains_a_low_bead() -> None:
    thick = replace(GOOD, wire_mm=0.64, attachment="pressed")
    assert names(evidence(-6.0, thick))[0] == "wire loss"
    # Wires only take: a bead far too high has another cause.
    assert "wire loss" not in names(evidence(+30.0, thick))


def test_a_steep_surface_is_a_wrong_place() -> None:
    assert names(evidence(4.0, gradient=3.0))[0] == "wrong place"


def test_clocks_matter_while_it_heats() -> None:
    assert names(evidence(5.0, drift_k_per_s=3.0))[0] == "clock"
    assert "clock" not in names(evidence(5.0))


def test_what_it_takes_is_said_in_the_right_direction() -> None:
    by_name = {cause.name: cause for cause in ranked_causes(evidence(+4.0))}
    # The bead is hotter than the image: a lower emissivity than applied would have the image read hotter.
    assert by_name["emissivity"].detail.startswith("emissivity -")
    assert "poor attachment" not in by_name
    assert "poor attachment" in names(evidence(-4.0))


def test_the_change_named_does_explain_the_difference() -> None:
    placement = straight_placement()
    frame = scene(placement, lambda x, y: 70.0 + 0.0 * x, emissivity=0.88)
    image = image_at(frame, BOARD, placement, CONDITIONS, GOOD)
    bead = bead_value(70.0, GOOD, Logger(0.1, 0.1), 23.0)
    of = Evidence(70.0 - image.degc, bead, image, rise_k=47.0)
    cause = next(cause for cause in ranked_causes(of) if cause.name == "emissivity")
    assert float(cause.detail.split()[1]) == pytest.approx(0.88 - 0.93, abs=0.012)
    assert cause.sigmas == pytest.approx(0.05 / 0.02, rel=0.2)


def test_agreement_has_no_cause() -> None:
    assert likely_cause(evidence(0.3), True) == ""
    assert likely_cause(evidence(5.0), None) == ""
    assert likely_cause(evidence(5.0), False) != ""
    assert ranked_causes(evidence(math.nan)) == ()
