"""The runs of the demo study: what was noted about each, and what was true."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from irspot.board import Side
from irspot.camera import Accuracy, Band, Camera, Optics, Signal
from irspot.shapes import rectangle
from irspot.synthetic.demo_boards import demo_boards
from irspot.synthetic.draws import opposite_pairs
from irspot.synthetic.mainboard.design import LOADS
from irspot.synthetic.parts import Cable, Part, Surroundings, SyntheticBoard
from irspot.synthetic.scene import Scene, ViewCamera
from irspot.synthetic.view import Pose

DEMO_CAMERA = Camera(
    name="Bench camera (invented)",
    signal=Signal(unit="K", scale=0.01),
    optics=Optics(
        size_px=(640, 512),
        focal_px=812.0,
        principal_px=(319.5, 255.5),
        distortion=(-0.05, 0.01, 0.0, 0.0, 0.0),
        blur_px=0.8,
    ),
    band=Band(8.0, 14.0),
    accuracy=Accuracy(
        limit_k=2.0,
        limit_relative=0.02,
        repeatability_k=0.1,
        noise_k=0.05,
        range_degc=(-20.0, 150.0),
        warm_up_min=20.0,
        assumed=False,
    ),
    dead_px=((12, 40), (301, 77), (455, 390), (588, 205)),
)
"""As its camera file states it."""

DEMO_VIEW = ViewCamera(
    DEMO_CAMERA,
    supersample=2,
    faults=((12, 40, -11.0), (301, 77, 148.0), (455, 390, -11.0), (588, 205, 3.0), (196, 331, 146.0)),
)
"""With its true faults; nobody has declared the last one yet."""

U_AMBIENT_K = 0.3
U_REFLECTED_K = 2.0
RAIL_MM = 31.0


@dataclass(frozen=True, slots=True)
class DemoRun:
    """One run: what its study file says, and what was true.

    Parameters
    ----------
    board, load : str
    side : {"front", "rear"}
    taken : datetime
        UTC, naive as in the file's tag.
    ambient_degc, reflected_degc : float
        As noted.
    true_ambient_degc, true_reflected_degc : float
    error_share : float
        The camera's true error of the session, as a share of its limit.
    power_w, sustained_clock_ghz : float
    camera_on_min : float
    pose : Pose
    seed : int
        Of the noise.
    """

    board: str
    load: str
    side: Side
    taken: datetime
    ambient_degc: float
    reflected_degc: float
    true_ambient_degc: float
    true_reflected_degc: float
    error_share: float
    power_w: float
    sustained_clock_ghz: float
    camera_on_min: float
    pose: Pose
    seed: int

    @property
    def id(self) -> str:
        """``board-load-side``."""
        return f"{self.board}-{self.load}-{self.side}"

    @property
    def heating(self) -> str:
        """Front and rear are taken in one warm-up."""
        return f"{self.board}-{self.load}-1"

    @property
    def session(self) -> str:
        """One warm-up a day."""
        return f"{self.taken:%Y-%m-%d}"

    @property
    def top(self) -> str:
        """The image side the board's top edge faces."""
        return {0: "up", 90: "right", 180: "down", 270: "left"}[round(self.pose.roll_deg / 90.0) % 4 * 90]


def demo_runs() -> tuple[DemoRun, ...]:
    """List the demo's runs: every board under every load, front then rear."""
    return tuple(
        _run(board, load, side, place, order)
        for place, board in enumerate(demo_boards())
        for order, (load, side) in enumerate((load, side) for load in LOADS for side in _SIDES)
    )


_SIDES: tuple[Side, Side] = ("front", "rear")
_START = datetime(2026, 3, 3, 9, 40, 0)
_NOTED_AMBIENT_DEGC = (20.8, 21.2, 21.0, 21.5)
_WALL_W = {"stock": (236.0, 234.5, 237.1, 233.2), "overclock": (351.0, 347.8, 349.2, 345.4)}
_CLOCK_GHZ = {"stock": 4.6, "overclock": 5.2}


def _run(board: str, load: str, side: Side, place: int, order: int) -> DemoRun:
    seed = 1000 * (place + 1) + order
    random = np.random.default_rng(seed)
    ambient = _NOTED_AMBIENT_DEGC[place] + 0.1 * order
    reflected = ambient + 1.0
    session = len(LOADS) * place + LOADS.index(load)
    return DemoRun(
        board=board,
        load=load,
        side=side,
        taken=_START + timedelta(days=session, minutes=6 * (order % 2), seconds=17 * order),
        ambient_degc=round(ambient, 1),
        reflected_degc=round(reflected, 1),
        true_ambient_degc=round(ambient + U_AMBIENT_K * random.standard_normal(), 3),
        true_reflected_degc=round(reflected + U_REFLECTED_K * random.standard_normal(), 3),
        error_share=_session_error(place, load),
        power_w=_WALL_W[load][place],
        sustained_clock_ghz=_CLOCK_GHZ[load],
        camera_on_min=65.0 + 6.0 * (order % 2),
        pose=_pose(board, side, random),
        seed=seed,
    )


def _session_error(place: int, load: str) -> float:
    """The camera's error of a session: anywhere within its limit, as a rectangular bound says."""
    return float(opposite_pairs(77, len(demo_boards()))[place, LOADS.index(load)])


def _pose(board: str, side: Side, random: np.random.Generator) -> Pose:
    """A camera on a stand: aimed by eye, so a little tilted and turned; long boards lie across the frame."""
    return pose_of(demo_boards()[board].board.outline.box_mm, side, random)


def pose_of(box_mm: tuple[float, float, float, float], side: Side, random: np.random.Generator) -> Pose:
    """Set a camera before a board of that size, as `demo_runs` does."""
    _, _, width_mm, height_mm = box_mm
    tilt, turn, roll, aim_x, aim_y = random.uniform(-1.0, 1.0, 5)
    long_board = height_mm > width_mm
    quarter = (90.0 if side == "front" else -90.0) if long_board else 0.0
    return Pose(
        distance_mm=476.0 if long_board else 446.0,
        aim_mm=(round(width_mm / 2 + 3 * aim_x, 2), round(height_mm / 2 + 3 * aim_y, 2)),
        tilt_deg=round(2.5 * tilt, 2),
        turn_deg=round(2.5 * turn, 2),
        roll_deg=round(quarter + 1.5 * roll, 2),
    )


def demo_scene(run: DemoRun) -> Scene:
    """Set the scene of a run.

    Parameters
    ----------
    run : DemoRun

    Returns
    -------
    Scene
    """
    return scene_of(run, demo_boards()[run.board])


def scene_of(run: DemoRun, board: SyntheticBoard) -> Scene:
    """Set the scene of a run of any board.

    Parameters
    ----------
    run : DemoRun
    board : SyntheticBoard
    """
    return Scene(
        board=board,
        load=run.load,
        side=run.side,
        ambient_degc=run.true_ambient_degc,
        reflected_degc=run.true_reflected_degc,
        pose=run.pose,
        view=DEMO_VIEW,
        surroundings=_bench(board.board.outline.box_mm[3], run.side),
        error_share=run.error_share,
        seed=run.seed,
    )


def _bench(board_height_mm: float, side: Side) -> Surroundings:
    """Cables, the hoses of the cooler, the edge of the power supply: beside the board, or behind it for a rear view."""
    h = board_height_mm
    behind = side == "rear"
    supply = Part("supply", rectangle(276.0, -40.0, 120.0, 130.0), -12.0 if behind else 30.0, 0.9, own_rise_k=6.0)
    grille = Part("grille", rectangle(284.0, -20.0, 40.0, 90.0), -11.5 if behind else 30.5, 0.6, own_rise_k=11.0)
    rail = Part("rail", rectangle(-RAIL_MM, h * 0.35, 9.0, h), -14.0, 0.3, own_rise_k=1.0)
    lift = -16.0 if behind else 14.0
    cables = [
        Cable(((238.0, h - 108.0), (262.0, h - 112.0), (300.0, h - 140.0), (330.0, h - 190.0)), 7.0, lift, 4.5),
        Cable(((238.0, h - 92.0), (264.0, h - 94.0), (306.0, h - 122.0), (345.0, h - 175.0)), 6.0, lift, 4.0),
        Cable(((53.0, h - 8.0), (56.0, h + 14.0), (90.0, h + 34.0), (190.0, h + 60.0)), 5.0, lift, 5.5),
        Cable(((-8.0, h - 66.0), (-40.0, h - 80.0), (-80.0, h - 60.0)), 3.0, lift, 1.5),
    ]
    hoses = [
        Cable(((122.0, h - 110.0), (148.0, h - 150.0), (172.0, h - 162.0), (330.0, h - 168.0)), 5.0, 26.0, 9.5),
        Cable(((104.0, h - 112.0), (134.0, h - 154.0), (165.0, h - 177.0), (330.0, h - 186.0)), 5.0, 26.0, 8.5),
    ]
    return Surroundings(
        objects=(supply, grille, rail),
        cables=tuple(cables if behind else cables + hoses),
        bench_mm=-45.0 if behind else -18.0,
        glow_k=2.5 if behind else 5.0,
    )
