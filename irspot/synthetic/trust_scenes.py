"""Scenes for judging readings: single hot parts of every size, sharpness and emissivity, with their true maxima.

A flat board seen straight on carries six parts, each with a zone. Everything a reading's uncertainty stands for is
drawn from the distribution that is stated for it: the camera's error (evenly within its limit), repeatability and
noise, emissivities and the reflected temperature (normal), the corners the board is placed by (normal), the temperature
of an even frame (normal). What nobody states (sizes, shapes and temperatures of parts, blur) is drawn widely.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, EmissivityFrom, Zone
from irspot.camera import Accuracy, Camera, Optics, Signal
from irspot.conditions import Conditions
from irspot.even_frame import EvenConditions
from irspot.frame import Frame
from irspot.placing import CornersPx
from irspot.registration.by_hand import place
from irspot.registration.placement import Placement
from irspot.shapes import Polygon, rectangle
from irspot.synthetic.camera_draw import CameraDraw, sensed_degc, with_patches
from irspot.synthetic.sensor import limit_at, with_noise
from irspot.synthetic.trust_parts import (
    BAND,
    BOARD_EMISSIVITY,
    BORDER_PX,
    SIZE_PX,
    HotPart,
    Kind,
    Surroundings,
    seen,
)

FloatArray = NDArray[np.float64]

CLICK_PX: Final = 0.5
_COLUMNS, _ROWS = 3, 2
_TRUTH_STEPS: Final = 241


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
class EvenView:
    """A frame of the same board evenly warm, from nearly the same place, with what is stated of it."""

    frame: Frame
    placement: Placement
    taken: EvenConditions


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
    even : EvenView or None
    """

    frame: Frame
    board: Board
    placement: Placement
    conditions: Conditions
    zones: tuple[TrueZone, ...]
    blur_px: float
    even: EvenView | None = None


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
    reflected_degc, u_reflected_k : tuple of float
        Stated ones.
    kinds : tuple of str
        Of the parts.
    emissivity_from : str
        Whether the zones' emissivities were measured on them.
    mapped : bool
        Whether there is an even frame; the zones then state nothing of their emissivity.
    """

    narrow_px: tuple[float, float] = (2.0, 32.0)
    blur_px: tuple[float, float] = (0.4, 2.0)
    noise_k: tuple[float, float] = (0.03, 0.2)
    above_k: tuple[float, float] = (3.0, 60.0)
    emissivity: tuple[float, float] = (0.85, 0.96)
    u_emissivity: tuple[float, float] = (0.01, 0.03)
    states_blur: float = 0.5
    limit_k: float = 2.0
    reflected_degc: tuple[float, float] = (20.0, 32.0)
    u_reflected_k: tuple[float, float] = (0.5, 3.0)
    kinds: tuple[Kind, ...] = ("plateau", "dome", "spread")
    emissivity_from: EmissivityFrom = ""
    mapped: bool = False


def trust_scene(
    seed: int,
    wishes: Wishes | None = None,
    *,
    stated_blur_px: float | None = None,
    camera_draw: CameraDraw | None = None,
) -> TrustScene:
    """Draw a scene.

    Parameters
    ----------
    seed : int
    wishes : Wishes, optional
    stated_blur_px : float, optional
        Stated instead of the true blur, by a camera that states one: a lens out of focus.
    camera_draw : CameraDraw, optional

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
    conditions, reflected_degc = _conditions(random, wanted)
    around = Surroundings(board_degc, conditions.ambient_degc or 21.0, reflected_degc)
    error = float(random.uniform(-1.0, 1.0))
    errs = camera_draw or error
    frame = _frame(parts, around, camera, blur_px, errs, int(random.integers(2**31)), f"scene-{seed}")
    board = _board(random, parts, stated, per_mm, wanted)
    zones = tuple(
        _true(zone, part, parts, board_degc, per_mm, blur_px) for zone, part in zip(board.zones, parts, strict=True)
    )
    placement = _placed(random, board, camera, per_mm)
    even = None
    if wanted.mapped:
        even = _even(np.random.default_rng([seed, 1]), parts, board, camera, blur_px, error, per_mm)
    return TrustScene(frame, board, placement, conditions, zones, blur_px, even)


def _frame(
    parts: list[HotPart],
    around: Surroundings,
    camera: Camera,
    blur_px: float,
    errs: float | CameraDraw,
    seed: int,
    name: str,
) -> Frame:
    """Take a frame, the camera off by a share of its limit, or as it was drawn."""
    patches = errs.patches if isinstance(errs, CameraDraw) else ()
    reading = sensed_degc(with_patches(seen(parts, around), patches, around.reflected_degc), blur_px)
    if isinstance(errs, CameraDraw):
        reading = errs.shown_degc(reading)
    else:
        reading += errs * limit_at(camera.accuracy, reading)
    reading = with_noise(reading, camera.accuracy, seed)
    return Frame(reading.astype(np.float32), camera, name)


def _even(
    random: np.random.Generator,
    parts: list[HotPart],
    board: Board,
    camera: Camera,
    blur_px: float,
    error: float,
    per_mm: float,
) -> EvenView:
    """Take a frame of the board evenly warm: the camera a little aside, in the same session or in another one."""
    temperature_degc, reflected_degc = float(random.uniform(45.0, 70.0)), float(random.uniform(20.0, 25.0))
    u_k, u_reflected_k = float(random.uniform(0.1, 0.5)), float(random.uniform(0.1, 1.0))
    same_session = bool(random.random() < 0.5)
    shift = float(random.uniform(-4.0, 4.0)), float(random.uniform(-4.0, 4.0))
    around = Surroundings(
        temperature_degc + u_k * float(random.standard_normal()),
        float(random.uniform(19.0, 24.0)),
        reflected_degc + u_reflected_k * float(random.standard_normal()),
        shift,
        even=True,
    )
    other = float(random.uniform(-1.0, 1.0))
    error = error if same_session else other
    frame = _frame(parts, around, camera, blur_px, error, int(random.integers(2**31)), "even")
    taken = EvenConditions(temperature_degc, u_k, reflected_degc, u_reflected_k, same_session=same_session)
    return EvenView(frame, _placed(random, board, camera, per_mm, shift), taken)


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
    cell_x, cell_y = (SIZE_PX[0] - 2 * BORDER_PX) / _COLUMNS, (SIZE_PX[1] - 2 * BORDER_PX) / _ROWS
    kind: Kind = random.choice(list(wanted.kinds))
    narrow = _log_even(random, wanted.narrow_px)
    long = min(narrow * float(random.uniform(1.0, 2.5)), 0.7 * min(cell_x, cell_y))
    narrow = min(narrow, long)
    wide, high = (narrow, long) if random.random() < 0.5 else (long, narrow)
    row, column = divmod(cell, _COLUMNS)
    middle = np.array([(column + 0.5) * cell_x, (row + 0.5) * cell_y]) + BORDER_PX + random.uniform(-1.0, 1.0, 2)
    true = float(np.clip(emissivity + u_emissivity * random.standard_normal(), 0.02, 1.0))
    if kind == "spread":
        true = BOARD_EMISSIVITY
    shape = float(random.uniform(0.3, 0.8) if kind == "dome" else random.uniform(0.0, 0.15))
    above_k = _log_even(random, wanted.above_k)
    return HotPart(kind, float(middle[0]), float(middle[1]), wide, high, above_k, shape, true)


def _conditions(random: np.random.Generator, wanted: Wishes) -> tuple[Conditions, float]:
    """Draw what is stated of the surroundings, and the true reflected temperature."""
    ambient, reflected = float(random.uniform(19.0, 26.0)), float(random.uniform(*wanted.reflected_degc))
    u_reflected_k = float(random.uniform(*wanted.u_reflected_k))
    conditions = Conditions(ambient_degc=ambient, reflected_degc=reflected, u_reflected_k=u_reflected_k)
    return conditions, reflected + u_reflected_k * float(random.standard_normal())


def _board(
    random: np.random.Generator,
    parts: list[HotPart],
    stated: list[tuple[float, float]],
    per_mm: float,
    wanted: Wishes,
) -> Board:
    """Draw zones over the parts: a package's zone ends near its edges, that of heat without an edge reaches further."""
    zones = []
    for number, (part, (emissivity, u_emissivity)) in enumerate(zip(parts, stated, strict=True)):
        spread = part.kind == "spread"
        around = float(random.uniform(1.0, 2.0) if spread else random.uniform(0.75, 1.0))
        wide, high = part.wide_px * around, part.high_px * around
        x, y = part.x_px - wide / 2.0 - BORDER_PX, SIZE_PX[1] - 1 - BORDER_PX - (part.y_px + high / 2.0)
        shape = rectangle(x / per_mm, y / per_mm, wide / per_mm, high / per_mm)
        if spread:
            emissivity, u_emissivity = BOARD_EMISSIVITY, 0.01
        zone = Zone(f"part-{number}", shape, emissivity_assumed=True, measures="case")
        if not wanted.mapped:
            zone = Zone(
                f"part-{number}",
                shape,
                emissivity=emissivity,
                u_emissivity=u_emissivity,
                emissivity_from=wanted.emissivity_from,
                measures="case",
            )
        zones.append(zone)
    return Board("Scene board", _outline(per_mm), tuple(zones))


def _outline(per_mm: float) -> Polygon:
    wide, high = (size - 1 - 2 * BORDER_PX for size in SIZE_PX)
    return rectangle(0.0, 0.0, wide / per_mm, high / per_mm)


def _placed(
    random: np.random.Generator,
    board: Board,
    camera: Camera,
    per_mm: float,
    shift_px: tuple[float, float] = (0.0, 0.0),
) -> Placement:
    corners = board.outline.array_mm * per_mm
    true = np.column_stack([corners[:, 0] + BORDER_PX, SIZE_PX[1] - 1 - BORDER_PX - corners[:, 1]]) + shift_px
    clicked = true + CLICK_PX * random.standard_normal(true.shape)
    how = CornersPx(tuple((float(x), float(y)) for x, y in clicked))
    return place(board, SIZE_PX, camera.optics, how, top="up")


def _true(
    zone: Zone, part: HotPart, parts: list[HotPart], board_degc: float, per_mm: float, blur_px: float
) -> TrueZone:
    """Search a zone for its hottest place, whichever part heats it."""
    x0, y0, x1, y1 = zone.shape.box_mm
    x = np.linspace(x0, x1, _TRUTH_STEPS) * per_mm + BORDER_PX
    y = SIZE_PX[1] - 1 - BORDER_PX - np.linspace(y0, y1, _TRUTH_STEPS)[:, None] * per_mm
    rise = np.sum([each.rise_k(x, y) for each in parts], axis=0)
    return TrueZone(zone.id, board_degc + float(rise.max()), part, part.narrow_px / blur_px)
