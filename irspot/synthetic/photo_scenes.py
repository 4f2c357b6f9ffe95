"""Visible-light photos of invented boards: the shapes of a thermal scene in colours, light and shadow."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Side
from irspot.camera import Optics
from irspot.opencv import load_cv2
from irspot.synthetic.canvas import Lens, near_segment, passes_through, window_of
from irspot.synthetic.parts import Cable, Part, Patch, Surroundings, SyntheticBoard
from irspot.synthetic.photo_look import GOLD, PRINT, SOLDER, WALL, Color, Look, part_color
from irspot.synthetic.scene import EMPTY_BENCH
from irspot.synthetic.surface import covers
from irspot.synthetic.view import Pose, Rays, project, rays, sample_directions

FloatArray = NDArray[np.float64]
F32 = NDArray[np.float32]
BoolArray = NDArray[np.bool_]
Window = tuple[slice, slice]

_METAL_BELOW: Final = 0.3
"""Emissivity under which a flat patch is gold; others are solder."""
_SHADED: Final = 40.0
"""Height in mm up to which things are looked for that stand in the light of a place of the face."""


@dataclass(frozen=True, slots=True)
class PhotoScene:
    """Everything that decides one photo.

    Parameters
    ----------
    board : SyntheticBoard
    side : {"front", "rear"}
    pose : Pose
        Of the camera that takes the photo.
    optics : Optics
        With `focal_px`.
    size_px : tuple of int
    look : Look
    surroundings : Surroundings
    supersample : int
        Samples per pixel and direction.
    seed : int
        Of noise, print and bench.
    """

    board: SyntheticBoard
    side: Side
    pose: Pose
    optics: Optics
    size_px: tuple[int, int]
    look: Look = field(default_factory=Look)
    surroundings: Surroundings = EMPTY_BENCH
    supersample: int = 2
    seed: int = 0

    @property
    def corners_px(self) -> FloatArray:
        """Where the outline's vertices truly are in the photo, shape (n, 2)."""
        vertices = self.board.board.outline.array_mm
        on_face = np.column_stack([vertices, np.zeros(len(vertices))])
        return project(on_face, self.pose, self.side, self.optics, self.size_px)


@dataclass(frozen=True, slots=True, eq=False)
class _Canvas:
    scene: PhotoScene
    rays: Rays
    rgb: F32

    def window(self, box_mm: tuple[float, float, float, float], height_mm: float) -> Window:
        scene = self.scene
        return window_of(
            box_mm, height_mm, scene.pose, scene.side, Lens(scene.optics, scene.size_px, scene.supersample)
        )


def take_photo(scene: PhotoScene) -> NDArray[np.uint8]:
    """Take the photo of a scene.

    Parameters
    ----------
    scene : PhotoScene

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
    """
    cv2 = load_cv2()
    directions = sample_directions(scene.optics, scene.size_px, scene.supersample)
    seen = rays(directions, scene.pose, scene.side)
    canvas = _Canvas(scene, seen, np.empty((*seen.x_mm.shape, 3), np.float32))
    _paint(canvas)
    image = cv2.resize(canvas.rgb, scene.size_px, interpolation=cv2.INTER_AREA)
    image = cv2.GaussianBlur(image, (0, 0), max(scene.look.blur_px, 0.1)) * _light(scene)[..., None]
    random = np.random.default_rng(scene.seed)
    image += scene.look.noise * random.standard_normal(image.shape, np.float32)
    return np.asarray(np.clip(np.rint(255.0 * image), 0, 255), np.uint8)


def _light(scene: PhotoScene) -> F32:
    columns, rows = scene.size_px
    x, y = np.linspace(-1.0, 1.0, columns), np.linspace(-1.0, 1.0, rows)[:, None]
    right, down = scene.look.gradient
    return np.asarray(1.0 + right * x + down * y, np.float32)


def _paint(canvas: _Canvas) -> None:
    scene = canvas.scene
    mine = [part for part in scene.board.parts if part.side == scene.side]
    objects = [*mine, *scene.surroundings.objects]
    cables = scene.surroundings.cables
    _paint_bench(canvas)
    layers: list[tuple[float, Callable[[], None]]] = [(-0.1, partial(_paint_wall, canvas))]
    layers += [(0.0, partial(_paint_face, canvas, [part for part in mine if part.height_mm <= _SHADED]))]
    layers += [(part.height_mm, partial(_paint_part, canvas, part)) for part in objects]
    layers += [(cable.height_mm, partial(_paint_cable, canvas, cable)) for cable in cables]
    for _, brush in sorted(layers, key=lambda layer: layer[0]):
        brush()


def _put(canvas: _Canvas, window: Window, where: BoolArray, color: Color | F32) -> None:
    canvas.rgb[window][where] = np.asarray(color, np.float32)


def _paint_bench(canvas: _Canvas) -> None:
    scene = canvas.scene
    drop = scene.surroundings.bench_mm
    x = canvas.rays.x_mm + drop * canvas.rays.lean_x
    y = canvas.rays.y_mm + drop * canvas.rays.lean_y
    grain = 1.0 + 0.05 * np.sin(x / 2.3 + 3.0 * np.sin(y / 31.0)) + 0.03 * np.sin(y / 1.7 + x / 19.0)
    towards_x, towards_y = scene.look.light
    dark = covers(scene.board.board.outline, x + drop * towards_x, y + drop * towards_y)
    shade = np.where(dark, scene.look.shadow, 1.0) * grain
    canvas.rgb[:] = shade[..., None] * np.asarray(scene.look.bench)


def _paint_wall(canvas: _Canvas) -> None:
    """Paint the cut edge of the board, which shows where it is seen aslant."""
    board = canvas.scene.board.board
    thickness = board.thickness_mm or 1.6
    window = canvas.window(board.outline.box_mm, -thickness)
    x, y = canvas.rays.x_mm[window], canvas.rays.y_mm[window]
    low_x = x - thickness * canvas.rays.lean_x[window]
    low_y = y - thickness * canvas.rays.lean_y[window]
    _put(canvas, window, passes_through(board.outline, x, y, low_x, low_y), WALL)


def _paint_face(canvas: _Canvas, parts: list[Part]) -> None:
    scene = canvas.scene
    outline = scene.board.board.outline
    window = canvas.window(outline.box_mm, 0.0)
    x, y = canvas.rays.x_mm[window], canvas.rays.y_mm[window]
    rgb = np.empty((*x.shape, 3), np.float32)
    rgb[:] = scene.look.mask
    rgb += (0.035 * _traces(x, y)).astype(np.float32)[..., None]
    if scene.look.glare:
        x0, y0, x1, y1 = outline.box_mm
        away = ((x - x0) / (x1 - x0) - 0.3) ** 2 + ((y - y0) / (y1 - y0) - 0.7) ** 2
        rgb += (scene.look.glare * np.exp(-away / 0.08)).astype(np.float32)[..., None]
    inside = covers(outline, x, y)
    canvas.rgb[window][inside] = rgb[inside]
    _paint_flat(canvas, parts)
    _paint_shadows(canvas, parts)


def _paint_flat(canvas: _Canvas, parts: list[Part]) -> None:
    """Paint what is printed on the face, and its bare metal."""
    scene = canvas.scene
    for box in _printed(parts, scene.seed):
        window = canvas.window(box, 0.0)
        x, y = canvas.rays.x_mm[window], canvas.rays.y_mm[window]
        _put(canvas, window, _frame_of(box, x, y, 0.35) & covers(scene.board.board.outline, x, y), PRINT)
    for patch in scene.board.patches:
        if patch.side == scene.side:
            window = canvas.window(patch.shape.box_mm, 0.0)
            x, y = canvas.rays.x_mm[window], canvas.rays.y_mm[window]
            _put(canvas, window, covers(patch.shape, x, y), _patch_color(patch))


def _paint_shadows(canvas: _Canvas, parts: list[Part]) -> None:
    """Darken the places of the face that a part stands in the light of, once however many do."""
    scene = canvas.scene
    dark = np.zeros(canvas.rgb.shape[:2], bool)
    for part in parts:
        away_x, away_y = (part.height_mm * towards for towards in scene.look.light)
        x0, y0, x1, y1 = part.shape.box_mm
        reach = (min(x0, x0 + away_x), min(y0, y0 + away_y), max(x1, x1 + away_x), max(y1, y1 + away_y))
        window = canvas.window(reach, 0.0)
        x, y = canvas.rays.x_mm[window], canvas.rays.y_mm[window]
        falls = passes_through(part.shape, x - away_x, y - away_y, x, y)
        dark[window] |= falls & covers(scene.board.board.outline, x, y)
    canvas.rgb[dark] *= np.float32(scene.look.shadow)


def _patch_color(patch: Patch) -> Color:
    return GOLD if patch.emissivity < _METAL_BELOW else SOLDER


def _traces(x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
    """Bundles of copper under the mask, a little brighter than what lies between them."""
    bundles = np.sin(x_mm / 1.9 + 4.0 * np.sin(y_mm / 37.0)) - 0.5
    others = np.sin(y_mm / 1.3 + 3.0 * np.sin(x_mm / 29.0)) - 0.8
    return np.asarray(np.sign(bundles) + np.maximum(np.sign(others), 0.0))


def _printed(parts: list[Part], seed: int) -> list[tuple[float, float, float, float]]:
    """Boxes printed around parts, and small ones that stand for parts that are not modelled."""
    boxes = [part.shape.box_mm for part in parts]
    around = [(x0 - 1.2, y0 - 1.2, x1 + 1.2, y1 + 1.2) for x0, y0, x1, y1 in boxes]
    random = np.random.default_rng(seed + 1)
    places = random.uniform((8.0, 8.0), (228.0, 228.0), (70, 2))
    sizes = random.uniform(1.5, 5.0, (70, 2))
    return around + [(x, y, x + w, y + h) for (x, y), (w, h) in zip(places.tolist(), sizes.tolist(), strict=True)]


def _frame_of(box_mm: tuple[float, float, float, float], x: FloatArray, y: FloatArray, width_mm: float) -> BoolArray:
    x0, y0, x1, y1 = box_mm
    outer = (x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)
    w = width_mm
    return np.asarray(outer & ~((x >= x0 + w) & (x <= x1 - w) & (y >= y0 + w) & (y <= y1 - w)))


def _paint_part(canvas: _Canvas, part: Part) -> None:
    window = canvas.window(part.shape.box_mm, part.height_mm)
    foot_x, foot_y = canvas.rays.x_mm[window], canvas.rays.y_mm[window]
    top_x = foot_x + part.height_mm * canvas.rays.lean_x[window]
    top_y = foot_y + part.height_mm * canvas.rays.lean_y[window]
    color = np.asarray(part_color(part.id), np.float32)
    _put(canvas, window, passes_through(part.shape, top_x, top_y, foot_x, foot_y), 0.6 * color)
    on_top = covers(part.shape, top_x, top_y)
    _put(canvas, window, on_top, color)
    x0, y0, x1, y1 = part.shape.box_mm
    if min(x1 - x0, y1 - y0) > 3.0:
        # Marks on top: a stripe, and a bevel that catches the light.
        middle, across = (y0 + y1) / 2.0, 0.08 * (y1 - y0)
        stripe = on_top & (np.abs(top_y - middle) < across) & (np.abs(top_x - (x0 + x1) / 2.0) < 0.3 * (x1 - x0))
        _put(canvas, window, stripe, np.clip(color + 0.35, 0.0, 1.0))
        bevel = on_top & _frame_of(part.shape.box_mm, top_x, top_y, 0.4)
        _put(canvas, window, bevel, np.clip(1.3 * color + 0.03, 0.0, 1.0))


def _paint_cable(canvas: _Canvas, cable: Cable) -> None:
    x0, y0 = np.min(cable.points_mm, axis=0) - cable.radius_mm
    x1, y1 = np.max(cable.points_mm, axis=0) + cable.radius_mm
    window = canvas.window((x0, y0, x1, y1), cable.height_mm)
    x = canvas.rays.x_mm[window] + cable.height_mm * canvas.rays.lean_x[window]
    y = canvas.rays.y_mm[window] + cable.height_mm * canvas.rays.lean_y[window]
    for (ax, ay), (bx, by) in zip(cable.points_mm, cable.points_mm[1:], strict=False):
        for share, bright in ((1.0, 0.07), (0.4, 0.16)):
            hit = near_segment(x, y, share * cable.radius_mm, ax, ay, bx, by)
            _put(canvas, window, hit, (bright, bright, bright + 0.01))
