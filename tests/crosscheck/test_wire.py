"""What wires carry away: the sizes practitioners know, and the form of the fin model."""

from __future__ import annotations

import math

import numpy as np
import pytest

from irspot.crosscheck.wire import (
    CONTACTS_K_PER_W,
    HEAT_TRANSFER_W_PER_M2_K,
    attachment_of,
    wire_loss,
    wires_w_per_k,
)


@pytest.mark.parametrize(("wire_mm", "low_k"), [(0.13, 2.0), (0.3, 6.0), (0.64, 14.0)])
def test_losses_of_common_gauges_on_a_surface_at_90_in_23_degc(wire_mm: float, low_k: float) -> None:
    # Own calculation of the project's needs (fin, 200 K/W); rounded to whole kelvins there.
    through = CONTACTS_K_PER_W["unknown"] * wires_w_per_k("K", wire_mm)
    bead = 23.0 + 67.0 / (1.0 + through)
    loss = wire_loss(bead, 23.0, "K", wire_mm, "")
    assert loss.most_k == pytest.approx(90.0 - bead, rel=1e-9), "surface and bead differ by what flows through R"
    assert loss.most_k == pytest.approx(low_k, rel=0.15)


def test_conductance_is_that_of_a_fin_solved_numerically() -> None:
    # A long rod in 2000 nodes, conduction along it, convection from its sides: heat taken per kelvin at its root.
    diameter, conductivity, length, nodes = 0.3e-3, 19.0, 0.3, 3000
    step = length / nodes
    along = conductivity * math.pi * diameter**2 / 4.0 / step
    side = HEAT_TRANSFER_W_PER_M2_K * math.pi * diameter * step
    # Marching from the tip: conductance of what lies beyond each node.
    beyond = side
    for _ in range(nodes):
        beyond = 1.0 / (1.0 / along + 1.0 / beyond) + side
    one = 0.5 * math.pi * math.sqrt(HEAT_TRANSFER_W_PER_M2_K * diameter**3 * conductivity)
    assert beyond == pytest.approx(one, rel=0.02)
    both = one * (1.0 + math.sqrt(30.0 / 19.0))
    assert wires_w_per_k("K", 0.3) == pytest.approx(both, rel=1e-9)


def test_half_is_corrected_with_the_spread_of_a_rectangle() -> None:
    loss = wire_loss(80.0, 25.0, "K", 0.5, "pressed on")
    assert loss.correction_k == pytest.approx(loss.most_k / 2.0)
    draws = np.random.default_rng(0).uniform(0.0, loss.most_k, 200_000)
    assert loss.u_k == pytest.approx(float(draws.std()), rel=0.01)
    assert wire_loss(25.0, 25.0, "K", 0.5, "").most_k == 0.0


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("high-temperature solder", "solder"),
        ("Thermal EPOXY", "adhesive"),
        ("tape over adhesive", "tape"),
        ("spring clip", "pressed"),
        ("somehow", "unknown"),
        ("", "unknown"),
    ],
)
def test_attachments_in_words(text: str, kind: str) -> None:
    assert attachment_of(text) == kind


def test_better_contacts_and_thinner_wires_lose_less() -> None:
    by_contact = [wire_loss(80, 23, "K", 0.3, text).most_k for text in ("solder", "adhesive", "tape", "pressed")]
    assert by_contact == sorted(by_contact)
    by_gauge = [wire_loss(80, 23, "K", gauge, "tape").most_k for gauge in (0.08, 0.13, 0.25, 0.5)]
    assert by_gauge == sorted(by_gauge)
    assert wire_loss(80, 23, "T", 0.13, "tape").most_k > wire_loss(80, 23, "K", 0.13, "tape").most_k, "copper"


def test_what_is_assumed_is_flagged() -> None:
    loss = wire_loss(80.0, 23.0, "K", None, "")
    assert loss.flags == ("attachment-unknown", "wire-gauge-assumed")
    assert loss.most_k == wire_loss(80.0, 23.0, "K", 0.3, "").most_k
