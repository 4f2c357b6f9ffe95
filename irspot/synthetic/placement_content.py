"""What there is to see in scenes for placing: the board's heat, what lies behind it, and what lies over it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from irspot.board import Mark
from irspot.opencv import load_cv2
from irspot.shapes import Polygon, in_polygon, rectangle

FloatArray = NDArray[np.float64]
Contrast = Literal["warm", "cool", "mixed"]

DOT_MM: Final = 5.0
HALO_MM: Final = 9.0
"""Spread of the heat that a part gives the board around it."""


@dataclass(frozen=True, slots=True)
class Patch:
    """A rectangle on the board, a temperature above the board's: a part, a foil dot."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    excess_k: float


@dataclass(frozen=True, slots=True)
class Disc:
    """A round thing of one temperature in the board's plane: a hole, a foil dot, a round part.

    Parameters
    ----------
    x_mm, y_mm, radius_mm, degc : float
    through_mm : tuple of float
        Of a hole: how far from its upper rim its lower one appears; only what both leave free shows.
    """

    x_mm: float
    y_mm: float
    radius_mm: float
    degc: float
    through_mm: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Block:
    """A body on the board: a heatsink, a connector."""

    x_mm: float
    y_mm: float
    width_mm: float
    depth_mm: float
    height_mm: float
    excess_k: float


@dataclass(frozen=True, slots=True)
class Content:
    """All heat of a scene.

    Parameters
    ----------
    board_degc : float
        Of the board without its parts and gradient.
    gradient_k : tuple of float
        Rise from one side of the board to the other: along x, along y, and of one gentle wave.
    parts, blocks, marks, discs : tuple
        Marks are foil dots of 5 mm.
    background_degc : float
    background_k : tuple of float
        Rise of the background across the frame: along its columns, its rows, and of one gentle wave.
    plate_k : float
        What a hot or cool plate behind one half of the board adds.
    plate_deg : float
        Direction of that half in the image.
    behind, cables, covers : int
        Warm rectangles behind the board, cables across its edge, things that hide some of its edge.
    hand : bool
    """

    board_degc: float
    gradient_k: tuple[float, float, float] = (0.0, 0.0, 0.0)
    parts: tuple[Patch, ...] = ()
    blocks: tuple[Block, ...] = ()
    marks: tuple[Mark, ...] = ()
    background_degc: float = 22.0
    background_k: tuple[float, float, float] = (0.0, 0.0, 0.0)
    plate_k: float = 0.0
    plate_deg: float = 0.0
    behind: int = 0
    cables: int = 0
    covers: int = 0
    hand: bool = False
    discs: tuple[Disc, ...] = ()


def random_content(
    random: np.random.Generator, outline_mm: FloatArray, contrast: Contrast, marks: tuple[Mark, ...], *, rear: bool
) -> Content:
    """Draw the heat of a scene whose board edge is warm against the background, cool against it, or both.

    The step at the edge is 2.5 to 25 K before gradients and parts.
    """
    step = float(np.exp(random.uniform(np.log(2.5), np.log(25.0))))
    room = float(random.uniform(18.0, 28.0))
    board = room + step if contrast == "warm" else room + float(random.uniform(4.0, 20.0))
    background = {"warm": room, "cool": board + step, "mixed": board - 0.5 * step}[contrast]
    gentle = 0.25 * step
    plate = step * float(random.uniform(1.0, 1.6)) if contrast == "mixed" else 0.0
    return Content(
        board_degc=board,
        gradient_k=_three(random, gentle),
        parts=_parts(random, outline_mm),
        blocks=_heatsinks(random, outline_mm, rear=rear) + _connectors(random, outline_mm, gentle),
        marks=marks,
        background_degc=background,
        background_k=_three(random, gentle),
        plate_k=plate,
        plate_deg=float(random.uniform(0.0, 360.0)),
        behind=int(random.integers(0, 4)),
        cables=int(random.integers(0, 4)),
        covers=int(random.random() < 0.5),
        hand=bool(random.random() < 0.15),
    )


def board_heat(content: Content, box_mm: FloatArray, mm_per_texel: float) -> NDArray[np.float32]:
    """Temperature of the board's plane over a box; parts have sharp edges, their heat spreads under and around them.

    Parameters
    ----------
    content : Content
    box_mm : ndarray, shape (2, 2)
        Lower and upper corner.
    mm_per_texel : float

    Returns
    -------
    ndarray, shape (rows, columns)
        Row 0 at the lower corner's y: texel (r, c) lies at ``box_mm[0] + (c, r) * mm_per_texel``.
    """
    cv2 = load_cv2()
    columns, rows = (np.ceil((box_mm[1] - box_mm[0]) / mm_per_texel).astype(int) + 1).tolist()
    heat = smooth_field((columns, rows), content.board_degc, content.gradient_k)
    sharp = np.zeros((rows, columns), np.float32)
    for part in content.parts:
        _add(sharp, part, box_mm, mm_per_texel)
    fine = max(1, round(2.0 / mm_per_texel))
    coarse = cv2.resize(sharp, (-(-columns // fine), -(-rows // fine)), interpolation=cv2.INTER_AREA)
    spread = cv2.GaussianBlur(coarse, (0, 0), HALO_MM / mm_per_texel * coarse.shape[1] / columns)
    heat += 0.6 * sharp + 0.7 * cv2.resize(spread, (columns, rows), interpolation=cv2.INTER_LINEAR)
    for mark in content.marks:
        # A foil dot mirrors its surroundings.
        lay_disc(heat, Disc(mark.x_mm, mark.y_mm, DOT_MM / 2.0, content.background_degc), box_mm, mm_per_texel)
    for disc in content.discs:
        lay_disc(heat, disc, box_mm, mm_per_texel)
    return heat


def smooth_field(size: tuple[int, int], level: float, rises: tuple[float, float, float]) -> NDArray[np.float32]:
    """A level with a rise along columns, one along rows, and a wave of both, each given from end to end."""
    across, down, wave = rises
    x = np.linspace(-0.5, 0.5, size[0], dtype=np.float32)
    y = np.linspace(-0.5, 0.5, size[1], dtype=np.float32)[:, None]
    waves = np.float32(wave / 2.0) * np.sin(np.float32(5.0) * x) * np.cos(np.float32(4.0) * y)
    return np.asarray(waves + (np.float32(across) * x + np.float32(level)) + np.float32(down) * y, np.float32)


def _add(heat: NDArray[np.float32], part: Patch, box_mm: FloatArray, mm_per_texel: float) -> None:
    x, y = np.rint((np.array([part.x_mm, part.y_mm]) - box_mm[0]) / mm_per_texel).astype(int)
    width, height = np.maximum(np.rint(np.array([part.width_mm, part.height_mm]) / mm_per_texel).astype(int), 1)
    heat[max(y, 0) : y + height, max(x, 0) : x + width] += part.excess_k


def lay_disc(heat: NDArray[np.float32], disc: Disc, box_mm: FloatArray, mm_per_texel: float) -> None:
    """Paint a disc, as far as it lies in the box, in place."""
    cv2 = load_cv2()
    place = (np.array([disc.x_mm, disc.y_mm]) - box_mm[0]) / mm_per_texel
    reach = (disc.radius_mm + 1.5) / mm_per_texel
    low = np.maximum(np.floor(place - reach).astype(int), 0)
    high = np.ceil(place + reach).astype(int) + 1
    piece = heat[low[1] : high[1], low[0] : high[0]]
    if not piece.size:
        return
    share = np.full(piece.shape, np.float32(1.0))
    through = np.array(disc.through_mm) / mm_per_texel
    for centre in (place,) if not through.any() else (place, place + through):
        rim = np.zeros(piece.shape, np.uint8)
        fixed = np.rint((centre - low) * 16).astype(int).tolist()
        cv2.circle(rim, fixed, round(disc.radius_mm / mm_per_texel * 16), 255, -1, cv2.LINE_AA, 4)
        share *= rim / np.float32(255.0)
    piece += (np.float32(disc.degc) - piece) * share


def _three(random: np.random.Generator, scale: float) -> tuple[float, float, float]:
    a, b, c = random.uniform(-scale, scale, 3).tolist()
    return a, b, c


def _parts(random: np.random.Generator, outline_mm: FloatArray) -> tuple[Patch, ...]:
    """Draw hot and cool parts, none nearer to the board's edge than 3 mm: what the edge feels of them is their halo."""
    low, high = outline_mm.min(axis=0), outline_mm.max(axis=0)
    parts: list[Patch] = []
    count, hot = int(random.integers(6, 16)), int(random.integers(3, 7))
    for _ in range(8 * count):
        width, height = random.uniform(4.0, 0.18 * float(np.min(high - low)) + 4.0, 2).tolist()
        x, y = random.uniform(low, high - [width, height]).tolist()
        excess = float(random.uniform(4.0, 45.0) if len(parts) < hot else random.uniform(-3.0, 3.0))
        if _on_board(outline_mm, rectangle(x - 3.0, y - 3.0, width + 6.0, height + 6.0)):
            parts.append(Patch(x, y, width, height, excess))
        if len(parts) == count:
            break
    return tuple(parts)


def _on_board(outline_mm: FloatArray, footprint: Polygon) -> bool:
    """Whether a footprint lies on the board; bays narrower than 5 mm may slip through, and no outline here has any."""
    x, y = footprint.border_points(5.0).T
    return bool(np.all(in_polygon(outline_mm, x, y)))


def _heatsinks(random: np.random.Generator, outline_mm: FloatArray, *, rear: bool) -> tuple[Block, ...]:
    """Draw heatsinks; some hang over the edge. The rear has none."""
    if rear:
        return ()
    blocks = []
    for _ in range(int(random.integers(0, 4))):
        size = random.uniform(0.12, 0.25, 2) * float(np.min(np.ptp(outline_mm, axis=0)))
        low, high = outline_mm.min(axis=0), outline_mm.max(axis=0) - size
        x, y = random.uniform(low, high).tolist()
        if random.random() < 0.35:
            x = float(random.choice([low[0], high[0]]) + random.uniform(-8.0, 8.0))
        height, excess = float(random.uniform(8.0, 35.0)), float(random.uniform(3.0, 30.0))
        blocks.append(Block(x, y, float(size[0]), float(size[1]), height, excess))
    return tuple(blocks)


def _connectors(random: np.random.Generator, outline_mm: FloatArray, scale: float) -> tuple[Block, ...]:
    """Draw connectors at the edge, which stick out by up to 3 mm."""
    blocks = []
    for _ in range(int(random.integers(0, 5))):
        edge = int(random.integers(len(outline_mm)))
        start, end = outline_mm[edge], outline_mm[(edge + 1) % len(outline_mm)]
        place = start + (end - start) * random.uniform(0.1, 0.9)
        if np.all(start != end):
            continue  # nobody sets a connector on an edge that runs aslant
        width, depth = random.uniform(8.0, 18.0, 2)
        along = np.abs(end - start) / np.hypot(*(end - start))
        size = along * width + along[::-1] * depth
        inwards = np.array([-1.0, 1.0]) * (end - start)[::-1] / np.hypot(*(end - start))
        corner = place + inwards * (depth / 2.0 - random.uniform(0.0, 3.0)) - size / 2.0
        (x, y), (wide, deep) = corner.tolist(), size.tolist()
        blocks.append(Block(x, y, wide, deep, float(random.uniform(3.0, 12.0)), float(random.normal(0.0, scale))))
    return tuple(blocks)
