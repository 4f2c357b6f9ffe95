"""The four invented boards of the demo study."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from irspot.synthetic.draws import stratified_shares
from irspot.synthetic.mainboard.build import build
from irspot.synthetic.mainboard.design import Design
from irspot.synthetic.parts import SyntheticBoard

ZONES = 12
"""Zones of a careful board file, each with a true emissivity of its own."""

DESIGNS: tuple[Design, ...] = (
    Design(
        id="k7",
        name="Kestrel K7",
        height_mm=305.0,
        left=8,
        top=6,
        static_w=0.58,
        stage_milliohm=2.3,
        case_k_per_w=3.2,
        chipset_w=5.0,
        storage_w=3.0,
        controller_w=0.9,
        spread_w_per_k=0.055,
        loss_w_per_m2k=12.0,
        seed=701,
    ),
    Design(
        id="t3",
        name="Tern T3",
        height_mm=244.0,
        left=6,
        top=4,
        static_w=0.59,
        stage_milliohm=1.83,
        case_k_per_w=3.2,
        chipset_w=4.0,
        storage_w=2.4,
        controller_w=2.6,
        spread_w_per_k=0.045,
        loss_w_per_m2k=12.0,
        seed=302,
        # Nobody drew the hottest thing on its rear: the implicit zone has to find it.
        undrawn=("rear-controller",),
    ),
    Design(
        id="p5",
        name="Plover P5",
        height_mm=305.0,
        left=7,
        top=5,
        static_w=0.61,
        stage_milliohm=2.0,
        case_k_per_w=3.2,
        chipset_w=6.0,
        storage_w=3.4,
        controller_w=0.8,
        spread_w_per_k=0.050,
        loss_w_per_m2k=12.0,
        seed=503,
        zone_names=(("m2", "M.2-Laufwerk (≤ 4 W)"), ("memory", "Mémoire, 4 barrettes")),
    ),
    Design(
        id="h2",
        name="Heron H2",
        height_mm=244.0,
        left=5,
        top=3,
        static_w=0.50,
        stage_milliohm=1.55,
        case_k_per_w=3.2,
        chipset_w=4.0,
        storage_w=2.0,
        controller_w=0.7,
        spread_w_per_k=0.040,
        loss_w_per_m2k=12.0,
        seed=204,
    ),
)


@lru_cache(maxsize=1)
def demo_boards() -> dict[str, SyntheticBoard]:
    """Build the demo's boards, by id."""
    shares = np.array([stratified_shares(100 + zone, len(DESIGNS)) for zone in range(ZONES)])
    return {design.id: build(design, shares[:, index].tolist()) for index, design in enumerate(DESIGNS)}
