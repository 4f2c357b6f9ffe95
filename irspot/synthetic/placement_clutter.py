"""Warm and cool things around, behind and over a board: drives, a second board, cables, a hand, what hides an edge."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.shapes import Polygon
from irspot.synthetic.placement_content import Content
from irspot.synthetic.placement_render import Image, block_shadow, lay
from irspot.synthetic.placement_views import BoardView, box_corners

FloatArray = NDArray[np.float64]

DRIVES_MM: Final = ((147.0, 101.6), (100.0, 69.9))
"""Sizes of 3.5 and 2.5 inch drives (SFF-8301, SFF-8201; from memory)."""
UNLIKE: Final = 1.2
"""Sides of other rectangles differ from the board's in proportion by at least this factor."""


def lay_behind(random: np.random.Generator, view: BoardView, content: Content, outline: Polygon, image: Image) -> None:
    """Lay other warm rectangles, none of the board's proportions, on the table behind the board."""
    size = np.array(view.size_px, np.float64)
    for _ in range(content.behind):
        width, height = _unlike(random, outline)
        corners = view.to_px(_turned(random, width, height) + outline.array_mm.mean(axis=0))
        if not np.all(np.isfinite(corners)):
            continue
        place = random.uniform(-0.1, 1.1, 2) * size
        corners = corners - corners.mean(axis=0) + place
        degc = content.background_degc + float(random.uniform(-2.0, 12.0))
        lay(image, corners, degc)
        if random.random() < 0.5:
            lay(image, place + (corners - place) * 0.4, degc + float(random.uniform(2.0, 10.0)))


def lay_over(
    random: np.random.Generator, view: BoardView, content: Content, outline: Polygon, image: Image, cover: Image
) -> None:
    """Lay heatsinks, connectors, cables, a hand and what hides an edge over the board; `cover` remembers where."""
    for block in content.blocks:
        shadow = block_shadow(view, block)
        degc = content.board_degc + block.excess_k
        lay(image, shadow, degc, cover)
        top = block_shadow(view, replace(block, height_mm=0.7 * block.height_mm))
        lay(image, top.mean(axis=0) + (top - top.mean(axis=0)) * 0.6, degc + 0.1 * block.excess_k)
    for _ in range(content.cables):
        degc = content.background_degc + float(random.uniform(-2.0, 15.0))
        lay(image, _cable(random, view, outline), degc, cover)
    for _ in range(content.covers):
        lay(image, _lid(random, view, outline), content.board_degc + float(random.normal(0.0, 10.0)), cover)
    if content.hand:
        for piece in _hand(random, view, outline):
            lay(image, piece, 32.5, cover)


def _unlike(random: np.random.Generator, outline: Polygon) -> tuple[float, float]:
    """Draw a drive, a small board or a long thing of other proportions than the outline's box."""
    width, height = np.ptp(box_corners(outline.array_mm), axis=0)
    own = max(width, height) / min(width, height)
    for _ in range(50):
        drive = DRIVES_MM[int(random.integers(len(DRIVES_MM)))]
        other = (float(random.uniform(50.0, 160.0)), float(random.uniform(25.0, 110.0)))
        long, short = sorted(drive if random.random() < 0.4 else other, reverse=True)
        if max(long / short / own, own / (long / short)) >= UNLIKE:
            return long, short
    return 160.0, 25.0


def _turned(random: np.random.Generator, width: float, height: float) -> FloatArray:
    """Corners of a rectangle about the origin, turned at random."""
    angle = random.uniform(0.0, np.pi)
    corners = np.array([[-width, -height], [width, -height], [width, height], [-width, height]]) / 2.0
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return np.asarray(corners @ turn.T)


def _on_border(random: np.random.Generator, view: BoardView) -> FloatArray:
    """Draw a place on the frame's border, a little outside."""
    columns, rows = view.size_px
    share = random.uniform(0.0, 1.0)
    places = [
        (share * columns, -9.0),
        (columns + 9.0, share * rows),
        (share * columns, rows + 9.0),
        (-9.0, share * rows),
    ]
    return np.array(places[int(random.integers(4))])


def _cable(random: np.random.Generator, view: BoardView, outline: Polygon) -> FloatArray:
    """Draw a curved ribbon from the frame's border to a place on the board."""
    border = view.to_px(outline.border_points(20.0))
    start, end = _on_border(random, view), border[int(random.integers(len(border)))]
    middle = border.mean(axis=0)
    end = end + (middle - end) * random.uniform(0.05, 0.5)
    bow = (start + end) / 2.0 + random.uniform(-0.2, 0.2, 2) * view.size_px[0]
    t = np.linspace(0.0, 1.0, 25)[:, None]
    spine = (1 - t) ** 2 * start + 2 * t * (1 - t) * bow + t**2 * end
    return _ribbon(spine, float(random.uniform(1.5, 6.0)) * view.size_px[0] / 640.0)


def _ribbon(spine: FloatArray, half_width_px: float) -> FloatArray:
    along = np.gradient(spine, axis=0)
    across = along[:, ::-1] * [-1.0, 1.0] / np.maximum(np.hypot(*along.T), 1e-9)[:, None] * half_width_px
    return np.concatenate([spine + across, (spine - across)[::-1]])


def _lid(random: np.random.Generator, view: BoardView, outline: Polygon) -> FloatArray:
    """Draw a strip that lies over 5 to 20 % of the outline, up to 25 degrees aslant of it."""
    border = view.to_px(outline.border_points(3.0))
    count = max(2, int(len(border) * random.uniform(0.05, 0.20)))
    span = np.take(border, np.arange(count) + int(random.integers(len(border))), axis=0, mode="wrap")
    middle, chord = (span[0] + span[-1]) / 2.0, span[-1] - span[0]
    angle = np.arctan2(chord[1], chord[0]) + np.deg2rad(random.uniform(-25.0, 25.0))
    long = np.array([np.cos(angle), np.sin(angle)]) * np.hypot(*chord) / 2.0
    wide = np.array([-np.sin(angle), np.cos(angle)]) * view.size_px[0] * random.uniform(0.04, 0.09)
    return np.array([middle - long - wide, middle + long - wide, middle + long + wide, middle - long + wide])


def _hand(random: np.random.Generator, view: BoardView, outline: Polygon) -> list[FloatArray]:
    """Draw a forearm, a palm and four fingers that reach from the frame's border towards the board's edge."""
    border = view.to_px(outline.border_points(20.0))
    start, tip = _on_border(random, view), border[int(random.integers(len(border)))]
    reach = tip - start
    ahead = reach / max(float(np.hypot(*reach)), 1e-9)
    width = view.size_px[0] * 0.05
    palm = tip - ahead * 1.6 * width
    turn = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
    pieces = [palm + np.column_stack([np.cos(turn), np.sin(turn)]) * width]
    pieces.append(_ribbon(np.array([start, (start + palm) / 2.0, palm]), 0.7 * width))
    for spread in (-0.5, -0.17, 0.17, 0.5):
        towards = np.array([ahead[0] - spread * ahead[1], ahead[1] + spread * ahead[0]])
        finger = np.array([palm, palm + towards * width, palm + towards * 2.2 * width])
        pieces.append(_ribbon(finger, 0.2 * width))
    return pieces
