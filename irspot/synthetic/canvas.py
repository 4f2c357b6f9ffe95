"""What each line of sight meets: true temperature and emissivity of every sample of an image."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from irspot.board import Side
from irspot.camera import Optics
from irspot.shapes import Circle, Shape
from irspot.synthetic.parts import Cable, Patch
from irspot.synthetic.scene import Scene
from irspot.synthetic.surface import Body, Surface, covers, lone_body
from irspot.synthetic.view import Pose, Rays, project

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
Window = tuple[slice, slice]
Layer = tuple[float, Callable[[], None]]

GLOW_MM = 45.0
"""How far a warm board shows on the bench beside it."""


@dataclass(frozen=True, slots=True, eq=False)
class Canvas:
    """Samples to paint on; nearer things are painted over farther ones.

    Parameters
    ----------
    scene : Scene
    rays : Rays
    degc, emissivity : ndarray, shape (rows * supersample, columns * supersample)
        Painted in place.
    """

    scene: Scene
    rays: Rays
    degc: FloatArray
    emissivity: FloatArray


def paint(scene: Scene, surface: Surface, rays: Rays) -> Canvas:
    """Paint bench, board, bodies and cables in the order of their heights.

    Parameters
    ----------
    scene : Scene
    surface : Surface
        Of the scene's side and load.
    rays : Rays

    Returns
    -------
    Canvas
    """
    canvas = Canvas(scene, rays, np.empty_like(rays.x_mm), np.empty_like(rays.x_mm))
    _paint_bench(canvas)
    beside = [lone_body(part, scene.load, scene.ambient_degc) for part in scene.surroundings.objects]
    layers: list[Layer] = [(0.0, partial(_paint_face, canvas, surface))]
    layers += [(body.part.height_mm, partial(_paint_body, canvas, body)) for body in (*surface.bodies, *beside)]
    layers += [(cable.height_mm, partial(_paint_cable, canvas, cable)) for cable in scene.surroundings.cables]
    for _, brush in sorted(layers, key=lambda layer: layer[0]):
        brush()
    return canvas


def _paint_bench(canvas: Canvas) -> None:
    around, rays = canvas.scene.surroundings, canvas.rays
    x = rays.x_mm + around.bench_mm * rays.lean_x
    y = rays.y_mm + around.bench_mm * rays.lean_y
    x0, y0, x1, y1 = canvas.scene.board.board.outline.box_mm
    beside = np.hypot(np.maximum(np.maximum(x0 - x, x - x1), 0.0), np.maximum(np.maximum(y0 - y, y - y1), 0.0))
    open_to_view = beside > 0.0
    canvas.degc[:] = canvas.scene.ambient_degc + 0.5 + around.glow_k
    canvas.degc[open_to_view] += _beside_the_board(
        x[open_to_view], y[open_to_view], beside[open_to_view], around.glow_k
    )
    canvas.emissivity[:] = around.bench_emissivity


def _beside_the_board(x_mm: FloatArray, y_mm: FloatArray, beside_mm: FloatArray, glow_k: float) -> FloatArray:
    """How much the bench differs from its warmth at the board's edge: the glow fades over a mat with a faint weave.

    A perfectly even bench is what a computer would draw.
    """
    weave = 0.12 * np.sin(x_mm / 9.0 + 2.0 * np.sin(y_mm / 70.0)) * np.sin(y_mm / 11.0)
    return np.asarray(weave - glow_k * (1.0 - np.exp(-beside_mm / GLOW_MM)))


def _paint_face(canvas: Canvas, surface: Surface) -> None:
    board = canvas.scene.board
    window = _window(canvas, board.board.outline.box_mm, 0.0)
    x, y = canvas.rays.x_mm[window], canvas.rays.y_mm[window]
    inside = covers(board.board.outline, x, y)
    canvas.degc[window] = np.where(inside, surface.face.at(x, y), canvas.degc[window])
    canvas.emissivity[window] = np.where(inside, board.mask_emissivity + _traces(x, y), canvas.emissivity[window])
    for patch in board.patches:
        if patch.side == surface.side:
            _paint_patch(canvas, patch)


def _traces(x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
    """Bundles of copper under the mask, which show as a few tenths of a per cent of emissivity."""
    return np.asarray(0.004 * np.sign(np.sin(x_mm / 1.9 + 4.0 * np.sin(y_mm / 37.0)) - 0.5))


def _paint_patch(canvas: Canvas, patch: Patch) -> None:
    window = _window(canvas, patch.shape.box_mm, 0.0)
    inside = covers(patch.shape, canvas.rays.x_mm[window], canvas.rays.y_mm[window])
    canvas.emissivity[window] = np.where(inside, patch.emissivity, canvas.emissivity[window])


def _paint_body(canvas: Canvas, body: Body) -> None:
    window = _window(canvas, body.part.shape.box_mm, body.part.height_mm)
    foot_x, foot_y = canvas.rays.x_mm[window], canvas.rays.y_mm[window]
    top_x = foot_x + body.part.height_mm * canvas.rays.lean_x[window]
    top_y = foot_y + body.part.height_mm * canvas.rays.lean_y[window]
    hit = passes_through(body.part.shape, top_x, top_y, foot_x, foot_y)
    # A wall is given the temperature of the nearest place of the top.
    x0, y0, x1, y1 = body.part.shape.box_mm
    met = body.degc(np.clip(top_x, x0, x1), np.clip(top_y, y0, y1))
    canvas.degc[window] = np.where(hit, met, canvas.degc[window])
    canvas.emissivity[window] = np.where(hit, body.part.emissivity, canvas.emissivity[window])


def passes_through(
    shape: Shape, top_x: FloatArray, top_y: FloatArray, foot_x: FloatArray, foot_y: FloatArray
) -> BoolArray:
    """Say which lines of sight meet a body: they pass its top's height at one place and its foot's at another."""
    if isinstance(shape, Circle):
        return near_segment(shape.x_mm, shape.y_mm, shape.radius_mm, top_x, top_y, foot_x, foot_y)
    return _crosses_box(shape.box_mm, top_x, top_y, foot_x, foot_y)


def _crosses_box(
    box_mm: tuple[float, float, float, float],
    top_x: FloatArray,
    top_y: FloatArray,
    foot_x: FloatArray,
    foot_y: FloatArray,
) -> BoolArray:
    """Say which segments from top to foot touch a rectangle (slab method)."""
    x0, y0, x1, y1 = box_mm
    enter = np.zeros_like(top_x)
    leave = np.ones_like(top_x)
    for start, end, low, high in ((top_x, foot_x, x0, x1), (top_y, foot_y, y0, y1)):
        # An upright ray would divide by zero; so small a lean moves nothing.
        run = end - start
        run = np.where(np.abs(run) < 1e-12, 1e-12, run)
        first, second = (low - start) / run, (high - start) / run
        enter = np.maximum(enter, np.minimum(first, second))
        leave = np.minimum(leave, np.maximum(first, second))
    return np.asarray(enter <= leave)


def near_segment(
    x: float | FloatArray,
    y: float | FloatArray,
    radius: float,
    start_x: FloatArray | float,
    start_y: FloatArray | float,
    end_x: FloatArray | float,
    end_y: FloatArray | float,
) -> BoolArray:
    """Say where the distance from a point to a segment is at most a radius."""
    run_x, run_y = end_x - start_x, end_y - start_y
    length2 = np.maximum(run_x**2 + run_y**2, 1e-12)
    share = np.clip(((x - start_x) * run_x + (y - start_y) * run_y) / length2, 0.0, 1.0)
    return np.asarray((start_x + share * run_x - x) ** 2 + (start_y + share * run_y - y) ** 2 <= radius**2)


def _paint_cable(canvas: Canvas, cable: Cable) -> None:
    x0, y0 = np.min(cable.points_mm, axis=0) - cable.radius_mm
    x1, y1 = np.max(cable.points_mm, axis=0) + cable.radius_mm
    window = _window(canvas, (x0, y0, x1, y1), cable.height_mm)
    x = canvas.rays.x_mm[window] + cable.height_mm * canvas.rays.lean_x[window]
    y = canvas.rays.y_mm[window] + cable.height_mm * canvas.rays.lean_y[window]
    hit = np.zeros(x.shape, dtype=bool)
    for (ax, ay), (bx, by) in zip(cable.points_mm, cable.points_mm[1:], strict=False):
        hit |= near_segment(x, y, cable.radius_mm, ax, ay, bx, by)
    canvas.degc[window] = np.where(hit, canvas.scene.ambient_degc + cable.rise_k, canvas.degc[window])
    canvas.emissivity[window] = np.where(hit, cable.emissivity, canvas.emissivity[window])


def _window(canvas: Canvas, box_mm: tuple[float, float, float, float], height_mm: float) -> Window:
    view, scene = canvas.scene.view, canvas.scene
    lens = Lens(view.camera.optics, view.size_px, view.supersample)
    return window_of(box_mm, height_mm, scene.pose, scene.side, lens)


@dataclass(frozen=True, slots=True)
class Lens:
    """What decides which sample shows which direction: optics, the image's size, samples per pixel and direction."""

    optics: Optics
    size_px: tuple[int, int]
    supersample: int


def window_of(
    box_mm: tuple[float, float, float, float], height_mm: float, pose: Pose, side: Side, lens: Lens
) -> Window:
    """Samples that can show a box from the face up to a height, a little generously."""
    x0, y0, x1, y1 = box_mm
    corners = np.array([[x, y, z] for x in (x0, x1) for y in (y0, y1) for z in (0.0, height_mm)])
    places = project(corners, pose, side, lens.optics, lens.size_px)
    # A lens bends the edges between the corners outwards by a few pixels at most.
    margin_px = 6.0
    low = np.floor((places.min(axis=0) - margin_px + 0.5) * lens.supersample).astype(int)
    high = np.ceil((places.max(axis=0) + margin_px + 0.5) * lens.supersample).astype(int)
    columns, rows = (length * lens.supersample for length in lens.size_px)
    x_from, x_to = np.clip([low[0], high[0]], 0, columns)
    y_from, y_to = np.clip([low[1], high[1]], 0, rows)
    return slice(int(y_from), int(y_to)), slice(int(x_from), int(x_to))
