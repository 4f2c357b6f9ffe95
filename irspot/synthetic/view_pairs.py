"""Two views of one board in one state, with hot spots that are real and others that are mirrored.

Zones lie in cells of the board. A `real` one has one hot spot, `peaks` several nearly equal ones, `raised` one on top
of a part; a `mirror` is of even temperature, flat, and mirrors a warm thing above the board, which view A sees in it;
a `glossy` one does so beside, or over, a hot spot of its own. The camera moves
between the views, or the board is turned and the thing stays where it is; neither is stated.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Zone
from irspot.camera import Accuracy, Band, Camera, Optics, Signal
from irspot.conditions import Conditions
from irspot.frame import Frame
from irspot.placing import CornersPx
from irspot.radiometry.band_table import band_table
from irspot.registration.by_hand import place
from irspot.registration.placement import Placement
from irspot.shapes import rectangle
from irspot.synthetic.canvas import passes_through
from irspot.synthetic.sensor import blurred, pixel_means, with_noise
from irspot.synthetic.surface import covers
from irspot.synthetic.view import Pose, Rays, project, rays, rotation, sample_directions

FloatArray = NDArray[np.float64]
Kind = Literal["real", "peaks", "raised", "mirror", "glossy"]

SIZE_PX: Final = (317, 241)
WIDE_MM, HIGH_MM = 160.0, 120.0
CLICK_PX: Final = 0.5
_SUPERSAMPLE: Final = 2
_COLUMNS, _ROWS = 4, 2
_BOARD_EMISSIVITY: Final = 0.93
_BLUR_PX: Final = 0.7
_ALL: Final[tuple[Kind, ...]] = ("real", "peaks", "raised", "mirror", "glossy")


@dataclass(frozen=True, slots=True)
class Hill:
    """Heat on a surface: a Gaussian, its standard deviations in mm."""

    x_mm: float
    y_mm: float
    wide_mm: float
    high_mm: float
    above_k: float

    def rise_k(self, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
        """Temperature it adds."""
        u, v = (x_mm - self.x_mm) / self.wide_mm, (y_mm - self.y_mm) / self.high_mm
        return np.asarray(self.above_k * np.exp(-0.5 * (u * u + v * v)))


@dataclass(frozen=True, slots=True)
class Thing:
    """A warm ball or plate above the board, mirrored in it.

    Parameters
    ----------
    at_mm : tuple of float
        x, y and height above the board, as it stands when view A is taken.
    radius_mm : float
    degc : float
    """

    at_mm: tuple[float, float, float]
    radius_mm: float
    degc: float


@dataclass(frozen=True, slots=True)
class TrueCell:
    """One zone and what truly is there.

    Parameters
    ----------
    zone : Zone
    kind : str
    emissivity : float
        True.
    base_degc : float
        Of its surface beside its hills.
    hills : tuple of Hill
    thing : Thing or None
        What it mirrors.
    """

    zone: Zone
    kind: Kind
    emissivity: float
    base_degc: float
    hills: tuple[Hill, ...] = ()
    thing: Thing | None = None

    @property
    def max_degc(self) -> float:
        """True highest temperature of its surface: its highest hill lies within it."""
        return self.base_degc + max((hill.above_k for hill in self.hills), default=0.0)


@dataclass(frozen=True, slots=True, eq=False)
class ViewPair:
    """Two frames of one board, and the truth.

    Parameters
    ----------
    board : Board
    frames : tuple of Frame
    placements : tuple of Placement
        By corners, each off by a normal error of `CLICK_PX`.
    poses : tuple of Pose
    conditions : Conditions
    cells : tuple of TrueCell
    turned : bool
        Whether the board was turned rather than the camera moved.
    """

    board: Board
    frames: tuple[Frame, Frame]
    placements: tuple[Placement, Placement]
    poses: tuple[Pose, Pose]
    conditions: Conditions
    cells: tuple[TrueCell, ...]
    turned: bool


def view_pair(seed: int, *, apart_deg: tuple[float, float] = (5.0, 25.0), kinds: tuple[Kind, ...] = _ALL) -> ViewPair:
    """Draw two views.

    Parameters
    ----------
    seed : int
    apart_deg : tuple of float
        Range of the angle that the view turns by.
    kinds : tuple of str
        What zones are drawn from.

    Returns
    -------
    ViewPair
    """
    random = np.random.default_rng(seed)
    poses = _poses(random, apart_deg)
    board_degc, ambient = float(random.uniform(35.0, 55.0)), float(random.uniform(20.0, 25.0))
    cells = tuple(
        _cell(random, number, kinds[int(random.integers(len(kinds)))], board_degc, poses[0])
        for number in range(_COLUMNS * _ROWS)
    )
    board = Board("Pair board (invented)", rectangle(0.0, 0.0, WIDE_MM, HIGH_MM), tuple(cell.zone for cell in cells))
    camera = _camera(random)
    error_k = float(random.uniform(-1.0, 1.0)) * camera.accuracy.limit_k
    turned = bool(random.random() < 0.5)
    lit = (poses[0], cells), (poses[1], _carried(cells, poses) if turned else cells)
    frames = tuple(
        _frame(pose, seen, camera, board_degc, ambient, error_k, int(random.integers(2**31))) for pose, seen in lit
    )
    placements = tuple(_placed(random, board, camera, pose) for pose in poses)
    conditions = Conditions(ambient_degc=ambient, reflected_degc=ambient)
    return ViewPair(board, (frames[0], frames[1]), (placements[0], placements[1]), poses, conditions, cells, turned)


def _poses(random: np.random.Generator, apart_deg: tuple[float, float]) -> tuple[Pose, Pose]:
    first = random.uniform(-15.0, 15.0, 2)
    way, apart = random.uniform(0.0, 2.0 * np.pi), random.uniform(*apart_deg)
    second = first + apart * np.array([np.cos(way), np.sin(way)])
    if np.hypot(*second) > 30.0:
        second = first - apart * np.array([np.cos(way), np.sin(way)])
    distance = float(random.uniform(320.0, 420.0))
    return _pose(random, first, distance), _pose(random, second, distance * float(random.uniform(0.9, 1.2)))


def _pose(random: np.random.Generator, turn: FloatArray, distance_mm: float) -> Pose:
    aim = np.array([WIDE_MM, HIGH_MM]) / 2.0 + random.uniform(-6.0, 6.0, 2)
    roll = float(random.uniform(-8.0, 8.0))
    return Pose(distance_mm, (float(aim[0]), float(aim[1])), float(turn[0]), float(turn[1]), roll)


def _camera(random: np.random.Generator) -> Camera:
    accuracy = Accuracy(
        limit_k=2.0,
        limit_relative=0.0,
        repeatability_k=float(random.uniform(0.05, 0.2)),
        noise_k=float(random.uniform(0.03, 0.12)),
        assumed=False,
    )
    optics = Optics(size_px=SIZE_PX, focal_px=float(random.uniform(520.0, 560.0)), blur_px=_BLUR_PX)
    return Camera("pair camera", signal=Signal("degC"), optics=optics, band=Band(), accuracy=accuracy)


def _cell(random: np.random.Generator, number: int, kind: Kind, board_degc: float, pose: Pose) -> TrueCell:
    """Draw one zone within its cell of 40 mm by 60 mm."""
    row, column = divmod(number, _COLUMNS)
    size = random.uniform([18.0, 22.0], [32.0, 46.0])
    corner = np.array([column * 40.0, row * 60.0]) + random.uniform(4.0, 1.0 + np.array([40.0, 60.0]) - 5.0 - size)
    shape = rectangle(float(corner[0]), float(corner[1]), float(size[0]), float(size[1]))
    base = board_degc + float(random.uniform(-3.0, 8.0))
    if kind in ("mirror", "glossy"):
        own = (_hill(random, corner, size, float(random.uniform(2.0, 30.0))),) if kind == "glossy" else ()
        return _mirror(random, TrueCell(Zone(f"{kind}-{number}", shape), kind, 0.0, base, own), pose)
    height = float(random.uniform(3.0, 18.0)) if kind == "raised" else 0.0
    zone = Zone(f"{kind}-{number}", shape, height_mm=height, emissivity=_BOARD_EMISSIVITY, u_emissivity=0.02)
    count = int(random.integers(2, 5)) if kind == "peaks" else 1
    above = float(np.exp(random.uniform(np.log(2.0), np.log(30.0))))
    hills = tuple(_hill(random, corner, size, above * float(random.uniform(0.96, 1.0))) for _ in range(count))
    return TrueCell(zone, kind, _BOARD_EMISSIVITY, base, hills)


def _hill(random: np.random.Generator, corner: FloatArray, size: FloatArray, above_k: float) -> Hill:
    x, y = corner + random.uniform(0.15, 0.85, 2) * size
    wide, high = np.exp(random.uniform(np.log(1.2), np.log(7.0), 2))
    return Hill(float(x), float(y), float(wide), float(high), above_k)


def _mirror(random: np.random.Generator, cell: TrueCell, pose: Pose) -> TrueCell:
    """Let a cell mirror a warm thing where view A sees it in the zone."""
    emissivity = float(random.uniform(0.1, 0.6))
    x0, y0, x1, y1 = cell.zone.shape.box_mm
    place = np.array([x0, y0]) + random.uniform(0.2, 0.8, 2) * np.array([x1 - x0, y1 - y0])
    height = float(np.exp(random.uniform(np.log(15.0), np.log(500.0))))
    eye = eye_mm(pose)
    at = place + height * (place - eye[:2]) / eye[2]
    # Its image on the board is smaller than itself, by how much nearer the camera is to its image's place.
    shrunk = eye[2] / (eye[2] + height)
    radius = float(random.uniform(2.0, 8.0)) / shrunk
    thing = Thing((float(at[0]), float(at[1]), height), radius, cell.base_degc + float(random.uniform(15.0, 70.0)))
    zone = replace(cell.zone, emissivity=emissivity, u_emissivity=0.03, emissivity_from="tape", measures="case")
    return replace(cell, zone=zone, emissivity=emissivity, thing=thing)


def eye_mm(pose: Pose) -> FloatArray:
    """Where the camera stands: board x, y and height."""
    return np.asarray(-rotation(pose, "front").T @ [0.0, 0.0, pose.distance_mm] + [*pose.aim_mm, 0.0])


def _carried(cells: tuple[TrueCell, ...], poses: tuple[Pose, Pose]) -> tuple[TrueCell, ...]:
    """Put things where the board has them after it was turned under them: they keep their place by the camera."""
    first, second = (rotation(pose, "front") for pose in poses)
    turn = second.T @ first
    middle = np.array([WIDE_MM / 2.0, HIGH_MM / 2.0, 0.0])
    carried = []
    for cell in cells:
        thing = cell.thing
        if thing is not None:
            x, y, z = turn @ (np.array(thing.at_mm) - middle) + middle
            thing = Thing((float(x), float(y), max(float(z), 15.0)), thing.radius_mm, thing.degc)
        carried.append(replace(cell, thing=thing))
    return tuple(carried)


def _frame(
    pose: Pose,
    cells: tuple[TrueCell, ...],
    camera: Camera,
    board_degc: float,
    ambient_degc: float,
    error_k: float,
    seed: int,
) -> Frame:
    met = rays(sample_directions(camera.optics, SIZE_PX, _SUPERSAMPLE), pose, "front")
    samples = _radiance(met, cells, board_degc, ambient_degc)
    sensed = pixel_means(blurred(samples, _BLUR_PX * _SUPERSAMPLE), _SUPERSAMPLE)
    reading = np.asarray(band_table(Band()).temperature_degc(sensed), np.float64) + error_k
    return Frame(with_noise(reading, camera.accuracy, seed).astype(np.float32), camera, f"pair-{seed}")


def _radiance(met: Rays, cells: tuple[TrueCell, ...], board_degc: float, ambient_degc: float) -> FloatArray:
    """Radiance of every sample: bench, board, flat zones, then raised ones with their flanks."""
    on_board = (met.x_mm >= 0.0) & (met.x_mm <= WIDE_MM) & (met.y_mm >= 0.0) & (met.y_mm <= HIGH_MM)
    degc = np.where(on_board, board_degc, ambient_degc)
    emissivity = np.full(degc.shape, _BOARD_EMISSIVITY)
    reflected = np.full(degc.shape, ambient_degc)
    for cell in sorted(cells, key=lambda each: each.zone.height_mm):
        height = cell.zone.height_mm
        x, y = met.x_mm + height * met.lean_x, met.y_mm + height * met.lean_y
        flat = height == 0.0
        shown = covers(cell.zone.shape, x, y) if flat else passes_through(cell.zone.shape, x, y, met.x_mm, met.y_mm)
        x0, y0, x1, y1 = cell.zone.shape.box_mm
        x, y = np.clip(x[shown], x0, x1), np.clip(y[shown], y0, y1)
        rises = np.max([hill.rise_k(x, y) for hill in cell.hills], axis=0) if cell.hills else 0.0
        degc[shown] = cell.base_degc + rises
        emissivity[shown] = cell.emissivity
        reflected[shown] = ambient_degc
        if cell.thing is not None:
            reflected[shown] = _mirrored(cell.thing, x, y, met.lean_x[shown], met.lean_y[shown], ambient_degc)
    table = band_table(Band())
    own, other = (np.asarray(table.radiance(each), np.float64) for each in (degc, reflected))
    return np.asarray(emissivity * own + (1.0 - emissivity) * other)


def _mirrored(
    thing: Thing, x: FloatArray, y: FloatArray, lean_x: FloatArray, lean_y: FloatArray, ambient_degc: float
) -> FloatArray:
    """Follow mirrored lines of sight up to a thing: they go on as they came, away from the camera."""
    away = np.hypot(x - lean_x * thing.at_mm[2] - thing.at_mm[0], y - lean_y * thing.at_mm[2] - thing.at_mm[1])
    # Soft at its rim: surfaces of parts are no perfect mirrors.
    share = 1.0 / (1.0 + (away / thing.radius_mm) ** 6)
    return np.asarray(ambient_degc + (thing.degc - ambient_degc) * share)


def _placed(random: np.random.Generator, board: Board, camera: Camera, pose: Pose) -> Placement:
    flat = np.column_stack([board.outline.array_mm, np.zeros(4)])
    true = project(flat, pose, "front", camera.optics, SIZE_PX)
    clicked = true + CLICK_PX * random.standard_normal(true.shape)
    how = CornersPx(tuple((float(x), float(y)) for x, y in clicked))
    return place(board, SIZE_PX, camera.optics, how, top="up")
