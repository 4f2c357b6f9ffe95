"""Put an invented mainboard together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from irspot.board import Board, Mark, Zone
from irspot.constants import RECTANGULAR
from irspot.shapes import rectangle
from irspot.synthetic.conduction import Sheet
from irspot.synthetic.mainboard.design import Design, holes
from irspot.synthetic.mainboard.parts import parts as parts_of
from irspot.synthetic.mainboard.parts import patches
from irspot.synthetic.mainboard.zones import sites
from irspot.synthetic.mainboard.zones import zones as zones_of
from irspot.synthetic.parts import Part, SyntheticBoard


def build(design: Design, emissivity_shares: Sequence[float]) -> SyntheticBoard:
    """Build a board from its design.

    Parameters
    ----------
    design : Design
    emissivity_shares : sequence of float
        For each zone a careful board file would have, in order: how far its true emissivity lies from the stated one,
        as a share (-1 to 1) of the bound √3 u that its stated u stands for.

    Returns
    -------
    SyntheticBoard
    """
    random = np.random.default_rng(design.seed)
    zones = zones_of(design)
    true_emissivity = {
        zone.id: zone.emissivity + share * RECTANGULAR * zone.u_emissivity
        for zone, share in zip(zones, emissivity_shares, strict=True)
    }
    bodies = parts_of(design, random)
    board = Board(
        name=design.name,
        outline=rectangle(0.0, 0.0, 244.0, design.height_mm),
        zones=tuple(zone for zone in zones if zone.id not in design.undrawn),
        sites=sites(design),
        marks=tuple(Mark(f"hole-{letter}", x, y) for letter, (x, y) in holes(design).items()),
        coating="none",
        thickness_mm=1.6,
    )
    return SyntheticBoard(
        board=board,
        sheet=Sheet(244.0, design.height_mm, design.spread_w_per_k, design.loss_w_per_m2k),
        parts=tuple(_with_true_emissivity(part, zones, true_emissivity) for part in bodies),
        patches=patches(design),
        mask_emissivity=true_emissivity["rear-ps-left"],
    )


def _with_true_emissivity(part: Part, zones: tuple[Zone, ...], true_emissivity: dict[str, float]) -> Part:
    """Give a part the true emissivity of the zone it stands in; parts of a bank are of one make.

    Screws and other things beside the zone's own parts keep theirs: they are named differently.
    """
    for zone in zones:
        if part.id == zone.id or part.id.startswith(f"{zone.id}-part"):
            return replace(part, emissivity=true_emissivity[zone.id])
    return part
