"""The large demo: twelve invented boards in two batches under three loads, with the truth behind every conclusion.

Two pairs of boards, one of them across the batches, are truly alike but for the spread of their emissivities, so they
tie; one pair differs in one thing; one board throttles, one fails its limit, one run was taken with the wrong settings
and is rejected.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Final

import numpy as np

from irspot.board import Side
from irspot.synthetic.demo_boards import DESIGNS, ZONES
from irspot.synthetic.demo_runs import U_AMBIENT_K, U_REFLECTED_K, DemoRun, pose_of, scene_of
from irspot.synthetic.draws import stratified_shares
from irspot.synthetic.mainboard.build import build
from irspot.synthetic.mainboard.design import Design
from irspot.synthetic.parts import SyntheticBoard
from irspot.synthetic.scene import Scene
from irspot.synthetic.surface import Field, Surface, face_rises, surface_of

LOADS: Final = ("stock", "overclock", "burst")
SIDES: Final[tuple[Side, Side]] = ("front", "rear")
WALL_W: Final = {"stock": 235.0, "overclock": 348.0, "burst": 391.0, "throttled": 289.0}
CLOCK_GHZ: Final = {"stock": 4.6, "overclock": 5.2, "burst": 5.4, "throttled": 4.85}
REFERENCE: Final = "k7"
"""Measured in both batches."""
THROTTLED: Final = ("v3", "overclock")
REJECTED: Final = ("r1", "stock")
REJECTED_BECAUSE: Final = "the limits were still lifted"
TIES: Final = (("l4", "m6"), ("n2", "q8"))
PAIR: Final = ("r1", "s9")
"""Of one design, but for another heatsink: the second sheds more heat."""
FAILS: Final = ("w7", "burst")
"""Whose power stages go far beyond the limit of their cases."""

_COOL = replace(DESIGNS[0], id="l4", name="Linnet L4", stage_milliohm=2.05, static_w=0.56, seed=941)
_WARM = replace(DESIGNS[1], id="n2", name="Nuthatch N2", stage_milliohm=1.95, seed=922, undrawn=())
_PLAIN = replace(DESIGNS[2], id="r1", name="Redstart R1", stage_milliohm=2.1, seed=917, zone_names=())
NEW_DESIGNS: Final[tuple[Design, ...]] = (
    _COOL,
    replace(_COOL, id="m6", name="Merlin M6"),
    _WARM,
    replace(_WARM, id="q8", name="Quail Q8"),
    _PLAIN,
    replace(_PLAIN, id="s9", name="Siskin S9", loss_w_per_m2k=17.0, case_k_per_w=2.4),
    replace(DESIGNS[2], id="v3", name="Veery V3", seed=933, zone_names=()),
    replace(DESIGNS[1], id="w7", name="Wren W7", stage_milliohm=2.75, seed=977, undrawn=()),
)


@dataclass(frozen=True, slots=True)
class Batch:
    """Boards measured together.

    Parameters
    ----------
    id, title : str
    boards : tuple of str
    begun : datetime
        UTC.
    priced : str
        When prices were looked up.
    """

    id: str
    title: str
    boards: tuple[str, ...]
    begun: datetime
    priced: str


BATCHES: Final = (
    Batch(
        "winter",
        "Seven invented mainboards of winter, three loads",
        ("k7", "t3", "p5", "h2", "l4", "m6", "n2"),
        datetime(2025, 11, 4, 9, 30),
        "2025-11-20",
    ),
    Batch(
        "spring",
        "Six invented mainboards of spring, three loads",
        ("k7", "q8", "r1", "s9", "v3", "w7"),
        datetime(2026, 3, 3, 9, 30),
        "2026-03-12",
    ),
)
"""The earlier one first."""

PRICES: Final = {
    "k7": 389.0,
    "t3": 149.0,
    "p5": 259.0,
    "h2": 89.0,
    "l4": 329.0,
    "n2": 139.0,
    "m6": 299.0,
    "q8": 129.0,
    "r1": 239.0,
    "s9": 279.0,
    "v3": 249.0,
    "w7": 119.0,
}


@lru_cache(maxsize=1)
def full_boards() -> dict[str, SyntheticBoard]:
    """Build the twelve boards, by id."""
    designs = (*DESIGNS, *NEW_DESIGNS)
    shares = np.array([stratified_shares(300 + zone, len(designs)) for zone in range(ZONES)])
    return {design.id: build(design, shares[:, index].tolist()) for index, design in enumerate(designs)}


@dataclass(frozen=True, slots=True)
class FullRun:
    """A run of the large demo.

    Parameters
    ----------
    run : DemoRun
        What was noted of it.
    true_load : str
        What truly was on: another one where the board throttled, or somebody forgot to set the limits.
    rejected : str
        Why it does not count; empty for one that does.
    """

    run: DemoRun
    true_load: str
    rejected: str = ""

    @property
    def id(self) -> str:
        """Id in the study."""
        return f"{self.run.id}-first" if self.rejected else self.run.id

    @property
    def scene(self) -> Scene:
        """What the camera looked at."""
        return replace(scene_of(self.run, full_boards()[self.run.board]), load=self.true_load)

    @property
    def surface(self) -> Surface:
        """The true surface; both sides of a board under a load share one solution."""
        run, board = self.run, full_boards()[self.run.board]
        rise = _face_rises(run.board, self.true_load)[run.side]
        return surface_of(board, rise, self.true_load, run.side, run.true_ambient_degc)


@lru_cache(maxsize=8)
def _face_rises(board: str, load: str) -> dict[Side, Field]:
    return face_rises(full_boards()[board], load)


def full_runs(batch: Batch) -> tuple[FullRun, ...]:
    """List a batch's runs: every board under every load, front then rear; the rejected one before its repeat."""
    found = []
    for place, board in enumerate(batch.boards):
        for order, (load, side) in enumerate((load, side) for load in LOADS for side in SIDES):
            if (board, load) == REJECTED and side == "front":
                run = _run(batch, board, "overclock", side, (place, 50 + order))
                found.append(FullRun(replace(run, load=load), "overclock", REJECTED_BECAUSE))
            true_load = "throttled" if (board, load) == THROTTLED else load
            run = _run(batch, board, true_load, side, (place, order))
            found.append(FullRun(replace(run, load=load), true_load))
    return tuple(found)


def _run(batch: Batch, board: str, true_load: str, side: Side, at: tuple[int, int]) -> DemoRun:
    place, order = at
    seed = 100_000 * (1 + BATCHES.index(batch)) + 1_000 * place + order
    random = np.random.default_rng(seed)
    day = place // 2
    ambient = round(20.7 + 0.2 * day + 0.05 * (order % 6), 1)
    reflected = ambient + 1.0
    power = WALL_W[true_load] * (1.0 + 0.004 * float(random.uniform(-1.0, 1.0)))
    # The camera's error is one of a day; the reference board is first on the first day of each batch.
    error_share = float(np.random.default_rng(seed // 100_000 * 100 + day).uniform(-1.0, 1.0))
    return DemoRun(
        board=board,
        load=true_load,
        side=side,
        taken=batch.begun + timedelta(days=day, hours=3 * (place % 2), minutes=8 * (order % 50)),
        ambient_degc=ambient,
        reflected_degc=round(reflected, 1),
        true_ambient_degc=round(ambient + U_AMBIENT_K * float(random.standard_normal()), 3),
        true_reflected_degc=round(reflected + U_REFLECTED_K * float(random.standard_normal()), 3),
        error_share=error_share,
        power_w=round(power, 1),
        sustained_clock_ghz=CLOCK_GHZ[true_load],
        camera_on_min=60.0 + 8.0 * (order % 6),
        pose=pose_of(full_boards()[board].board.outline.box_mm, side, random),
        seed=seed,
    )
