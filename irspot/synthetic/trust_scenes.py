"""Scenes for judging readings: single hot parts of every size, sharpness and emissivity, with their true maxima.

A flat board seen straight on carries six parts, each with a zone. Everything a reading's uncertainty stands for is
drawn from the distribution that is stated for it: the camera's error (evenly within its limit), repeatability and
noise, emissivities and the reflected temperature (normal), the corners the board is placed by (normal). What nobody
states (sizes, shapes and temperatures of parts, blur) is drawn widely.
"""

from __future__ import annotations

from dataclasses import dataclass
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
from irspot.shapes import Polygon, rectangle
from irspot.synthetic.sensor import blurred, pixel_means, with_noise

FloatArray = NDArray[np.float64]
Kind = Literal["plateau", "dome", "spread"]

SIZE_PX: Final = (208, 160)
SUPERSAMPLE: Final = 6
BAND: Final = Band()
CLICK_PX: Final = 0.5
_COLUMNS, _ROWS = 3, 2
_BORDER_PX: Final = 14.0
_BOARD_EMISSIVITY: Final = 0.92
_TRUTH_STEPS: Final = 241


@dataclass(frozen=True, slots=True)
class HotPart:
    """One hot part of a scene, in px of the frame and in kelvin.

    Parameters
    ----------
    kind : {"plateau", "dome", "spread"}
        A package with sharp edges and a nearly even top; one that is hottest in its middle; heat without an edge.
    x_px, y_px : float
        Middle.
    wide_px, high_px : float
        Sides; of heat without an edge, its full widths at half of its height.
    above_k : float
        Its hottest place above the board around it.
    shape : float
        Share of `above_k` by which a package is cooler at its edges.
    emissivity : float
        True.
    """

    kind: Kind
    x_px: float
    y_px: float
    wide_px: float
    high_px: float
    above_k: float
    shape: float
    emissivity: float

    @property
    def narrow_px(self) -> float:
        """The smaller of its two sides."""
        return min(self.wide_px, self.high_px)

    def rise_k(self, x_px: FloatArray, y_px: FloatArray) -> FloatArray:
        """Temperature above the board, at places of the frame."""
        u, v = 2.0 * (x_px - self.x_px) / self.wide_px, 2.0 * (y_px - self.y_px) / self.high_px
        if self.kind == "spread":
            return np.asarray(self.above_k * np.exp2(-(u * u + v * v)))
        hill = (1.0 - u * u) * (1.0 - v * v)
        inside = (np.abs(u) <= 1.0) & (np.abs(v) <= 1.0)
        return np.asarray(np.where(inside, self.above_k * (1.0 - self.shape + self.shape * hill), 0.0))

    def covers(self, x_px: FloatArray, y_px: FloatArray) -> NDArray[np.bool_]:
        """Where its own surface shows instead of the board's."""
        if self.kind == "spread":
            return np.zeros(np.broadcast(x_px, y_px).shape, bool)
        return np.asarray(
            (np.abs(x_px - self.x_px) <= self.wide_px / 2.0) & (np.abs(y_px - self.y_px) <= self.high_px / 2.0)
        )


@dataclass(frozen=True, slots=True)
class TrueZone:
    """What a zone's reading is judged by.

    Parameters
    ----------
    zone : str
    max_degc : float
        True highest surface temperature within the zone.
    part : HotPart
    blurs : float
        Narrow side of the part in standard deviations of the true blur.
    """

    zone: str
    max_degc: float
    part: HotPart
    blurs: float


@dataclass(frozen=True, slots=True, eq=False)
class TrustScene:
    """A frame with all that is stated of it, and the truth.

    Parameters
    ----------
    frame : Frame
    board : Board
    placement : Placement
        By corners, each off by a normal error of `CLICK_PX`.
    conditions : Conditions
    zones : tuple of TrueZone
    blur_px : float
        True one; the camera states it, or not.
    """

    frame: Frame
    board: Board
    placement: Placement
    conditions: Conditions
    zones: tuple[TrueZone, ...]
    blur_px: float


@dataclass(frozen=True, slots=True)
class Wishes:
    """What scenes are drawn from; each pair a range.

    Parameters
    ----------
    narrow_px, blur_px, noise_k, above_k : tuple of float
        Drawn evenly in their logarithm.
    emissivity, u_emissivity : tuple of float
        Stated ones of the parts.
    states_blur : float
        Share of the cameras that state their blur.
    limit_k : float
        Bound of the camera's error.
    """

    narrow_px: tuple[float, float] = (2.0, 32.0)
    blur_px: tuple[float, float] = (0.4, 2.0)
    noise_k: tuple[float, float] = (0.03, 0.2)
    above_k: tuple[float, float] = (3.0, 60.0)
    emissivity: tuple[float, float] = (0.85, 0.96)
    u_emissivity: tuple[float, float] = (0.01, 0.03)
    states_blur: float = 0.5
    limit_k: float = 2.0


def trust_scene(seed: int, wishes: Wishes | None = None, *, stated_blur_px: float | None = None) -> TrustScene:
    """Draw a scene.

    Parameters
    ----------
    seed : int
    wishes : Wishes, optional
    stated_blur_px : float, optional
        Stated instead of the true blur, by a camera that states one: a lens out of focus.

    Returns
    -------
    TrustScene
    """
    wanted = wishes or Wishes()
    random = np.random.default_rng(seed)
    blur_px = _log_even(random, wanted.blur_px)
    camera = _camera(random, wanted, stated_blur_px or blur_px)
    per_mm = float(random.uniform(1.0, 4.0))
    board_degc = float(random.uniform(28.0, 60.0))
    stated = [_stated_emissivity(random, wanted) for _ in range(_COLUMNS * _ROWS)]
    parts = [_part(random, wanted, cell, *stated[cell]) for cell in range(len(stated))]
    conditions, reflected_degc = _conditions(random)
    samples = _seen(parts, board_degc, conditions.ambient_degc or 21.0, reflected_degc)
    sensed = pixel_means(blurred(samples, blur_px * SUPERSAMPLE), SUPERSAMPLE)
    reading = np.asarray(band_table(BAND).temperature_degc(sensed), np.float64)
    reading += float(random.uniform(-1.0, 1.0)) * np.maximum(wanted.limit_k, camera.accuracy.limit_relative * reading)
    reading = with_noise(reading, camera.accuracy, int(random.integers(2**31)))
    board = _board(random, parts, stated, per_mm)
    frame = Frame(reading.astype(np.float32), camera, f"scene-{seed}")
    zones = tuple(
        _true(zone, part, parts, board_degc, per_mm, blur_px) for zone, part in zip(board.zones, parts, strict=True)
    )
    return TrustScene(frame, board, _placed(random, board, camera, per_mm), conditions, zones, blur_px)


def _log_even(random: np.random.Generator, ends: tuple[float, float]) -> float:
    return float(np.exp(random.uniform(np.log(ends[0]), np.log(ends[1]))))


def _camera(random: np.random.Generator, wanted: Wishes, blur_px: float) -> Camera:
    accuracy = Accuracy(
        limit_k=wanted.limit_k,
        limit_relative=0.02 * wanted.limit_k / 2.0,
        repeatability_k=float(random.uniform(0.05, 0.3)),
        noise_k=_log_even(random, wanted.noise_k),
        assumed=False,
    )
    stated = blur_px if random.random() < wanted.states_blur else None
    return Camera("scene camera", signal=Signal("degC"), optics=Optics(blur_px=stated), band=BAND, accuracy=accuracy)


def _stated_emissivity(random: np.random.Generator, wanted: Wishes) -> tuple[float, float]:
    return float(random.uniform(*wanted.emissivity)), float(random.uniform(*wanted.u_emissivity))


def _part(random: np.random.Generator, wanted: Wishes, cell: int, emissivity: float, u_emissivity: float) -> HotPart:
    """Draw the part of one cell of the board."""
    cell_x, cell_y = (SIZE_PX[0] - 2 * _BORDER_PX) / _COLUMNS, (SIZE_PX[1] - 2 * _BORDER_PX) / _ROWS
    kind: Kind = random.choice(["plateau", "dome", "spread"])
    narrow = _log_even(random, wanted.narrow_px)
    long = min(narrow * float(random.uniform(1.0, 2.5)), 0.7 * min(cell_x, cell_y))
    narrow = min(narrow, long)
    wide, high = (narrow, long) if random.random() < 0.5 else (long, narrow)
    row, column = divmod(cell, _COLUMNS)
    middle = np.array([(column + 0.5) * cell_x, (row + 0.5) * cell_y]) + _BORDER_PX + random.uniform(-1.0, 1.0, 2)
    true = float(np.clip(emissivity + u_emissivity * random.standard_normal(), 0.02, 1.0))
    if kind == "spread":
        true = _BOARD_EMISSIVITY
    shape = float(random.uniform(0.3, 0.8) if kind == "dome" else random.uniform(0.0, 0.15))
    above_k = _log_even(random, wanted.above_k)
    return HotPart(kind, float(middle[0]), float(middle[1]), wide, high, above_k, shape, true)


def _conditions(random: np.random.Generator) -> tuple[Conditions, float]:
    """Draw what is stated of the surroundings, and the true reflected temperature."""
    ambient, reflected = float(random.uniform(19.0, 26.0)), float(random.uniform(20.0, 32.0))
    u_reflected_k = float(random.uniform(0.5, 3.0))
    conditions = Conditions(ambient_degc=ambient, reflected_degc=reflected, u_reflected_k=u_reflected_k)
    return conditions, reflected + u_reflected_k * float(random.standard_normal())


def _seen(parts: list[HotPart], board_degc: float, bench_degc: float, reflected_degc: float) -> FloatArray:
    """Radiance of every sample: bench, board, parts."""
    columns, rows = SIZE_PX[0] * SUPERSAMPLE, SIZE_PX[1] * SUPERSAMPLE
    x = (np.arange(columns) + 0.5) / SUPERSAMPLE - 0.5
    y = (np.arange(rows) + 0.5)[:, None] / SUPERSAMPLE - 0.5
    on_board = (x >= _BORDER_PX) & (x <= SIZE_PX[0] - 1 - _BORDER_PX)
    on_board = on_board & (y >= _BORDER_PX) & (y <= SIZE_PX[1] - 1 - _BORDER_PX)
    degc = np.where(on_board, board_degc, bench_degc)
    emissivity = np.full(degc.shape, _BOARD_EMISSIVITY)
    for part in parts:
        degc += part.rise_k(x, y)
        emissivity[part.covers(x, y)] = part.emissivity
    table = band_table(BAND)
    reflected = float(np.asarray(table.radiance(np.array([reflected_degc])))[0])
    return np.asarray(emissivity * np.asarray(table.radiance(degc)) + (1.0 - emissivity) * reflected)


def _board(
    random: np.random.Generator, parts: list[HotPart], stated: list[tuple[float, float]], per_mm: float
) -> Board:
    """Draw zones over the parts: a package's zone ends near its edges, that of heat without an edge reaches further."""
    zones = []
    for number, (part, (emissivity, u_emissivity)) in enumerate(zip(parts, stated, strict=True)):
        spread = part.kind == "spread"
        around = float(random.uniform(1.0, 2.0) if spread else random.uniform(0.75, 1.0))
        wide, high = part.wide_px * around, part.high_px * around
        x, y = part.x_px - wide / 2.0 - _BORDER_PX, SIZE_PX[1] - 1 - _BORDER_PX - (part.y_px + high / 2.0)
        shape = rectangle(x / per_mm, y / per_mm, wide / per_mm, high / per_mm)
        if spread:
            emissivity, u_emissivity = _BOARD_EMISSIVITY, 0.01
        zones.append(Zone(f"part-{number}", shape, emissivity=emissivity, u_emissivity=u_emissivity, measures="case"))
    return Board("Scene board", _outline(per_mm), tuple(zones))


def _outline(per_mm: float) -> Polygon:
    wide, high = (size - 1 - 2 * _BORDER_PX for size in SIZE_PX)
    return rectangle(0.0, 0.0, wide / per_mm, high / per_mm)


def _placed(random: np.random.Generator, board: Board, camera: Camera, per_mm: float) -> Placement:
    corners = board.outline.array_mm * per_mm
    true = np.column_stack([corners[:, 0] + _BORDER_PX, SIZE_PX[1] - 1 - _BORDER_PX - corners[:, 1]])
    clicked = true + CLICK_PX * random.standard_normal(true.shape)
    how = CornersPx(tuple((float(x), float(y)) for x, y in clicked))
    return place(board, SIZE_PX, camera.optics, how, top="up")


def _true(
    zone: Zone, part: HotPart, parts: list[HotPart], board_degc: float, per_mm: float, blur_px: float
) -> TrueZone:
    """Search a zone for its hottest place, whichever part heats it."""
    x0, y0, x1, y1 = zone.shape.box_mm
    x = np.linspace(x0, x1, _TRUTH_STEPS) * per_mm + _BORDER_PX
    y = SIZE_PX[1] - 1 - _BORDER_PX - np.linspace(y0, y1, _TRUTH_STEPS)[:, None] * per_mm
    rise = np.sum([each.rise_k(x, y) for each in parts], axis=0)
    return TrueZone(zone.id, board_degc + float(rise.max()), part, part.narrow_px / blur_px)
