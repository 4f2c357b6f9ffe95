"""Thermal frames of known board place, to try automatic placement on: solvable ones, and ones nobody could place.

Everything is drawn from the seed: outline, lens, pose, heat, clutter. Frames are in °C, every surface black.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Mark, Side
from irspot.camera import Optics
from irspot.placing import ImageSide
from irspot.shapes import Polygon, following
from irspot.synthetic.placement_clutter import lay_behind, lay_over
from irspot.synthetic.placement_content import Content, Contrast, random_content
from irspot.synthetic.placement_fills import Kind, random_view
from irspot.synthetic.placement_outlines import SHAPES, OutlineShape, random_outline
from irspot.synthetic.placement_render import (
    Image,
    background_image,
    board_image,
    outline_coverage,
    sensed,
    to_samples,
)
from irspot.synthetic.placement_views import BoardView, top_of

FloatArray = NDArray[np.float64]

SIZES_PX: Final = ((160, 120), (320, 240), (384, 288), (640, 480), (640, 512), (1024, 768))
HOPELESS: Final[tuple[Kind, ...]] = ("no-contrast", "cut-off", "two-boards", "too-small", "no-board")
VISIBLE_SHARE: Final = 0.60
VISIBLE_SHARE_OF_SIDE: Final = 0.30
VISIBLE_STEP_K: Final = 1.0
_LONG_SIDE: Final = 0.12
"""Share of the outline from which on a side must itself be visible in part."""


@dataclass(frozen=True, slots=True, eq=False)
class PlacementScene:
    """A frame with the truth about the board in it.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        As the camera shows it: blur and noise included.
    board : Board
        Outline, and the marks that are foil dots in the frame.
    side : {"front", "rear"}
    top : {"up", "right", "down", "left"}
        Image side nearest to where the board's top faces, never within `DIAGONAL_DEG` of two.
    optics : Optics
    noise_k : float
        Standard deviation of a pixel.
    corners_px : ndarray, shape (n, 2)
        True vertices of the outline in the stored image, in the outline's order; some may lie outside the frame.
    matrix : ndarray, shape (3, 3)
        True mapping of board mm to px of the undistorted image.
    kind : str
        ``solvable``, or why it is hopeless: ``no-contrast``, ``cut-off``, ``two-boards``, ``too-small``, ``no-board``
        (then the truth says where the board would have been).
    shape, contrast : str
        What was drawn: the outline's shape, and ``warm``, ``cool`` or ``mixed`` edges.
    visible : float
        Share of the outline in the frame, uncovered, with a step of more than `VISIBLE_STEP_K` and 5 noises.
    """

    degc: Image
    board: Board
    side: Side
    top: ImageSide
    optics: Optics
    noise_k: float
    corners_px: FloatArray
    matrix: FloatArray
    kind: Kind
    shape: OutlineShape
    contrast: Contrast
    visible: float

    @property
    def solvable(self) -> bool:
        """Whether a careful person could place the board in the frame."""
        return self.kind == "solvable"

    @property
    def size_px(self) -> tuple[int, int]:
        """``(columns, rows)``."""
        return self.degc.shape[1], self.degc.shape[0]


@dataclass(frozen=True, slots=True)
class Setting:
    """What a scene is rendered from.

    Parameters
    ----------
    view : BoardView
    outline : Polygon
    content : Content
    noise_k : float
    seed : int
        Of clutter and noise.
    twin_mm : tuple of float or None
        Where a second board of the same outline lies, relative to the first.
    absent : bool
        No board at all.
    """

    view: BoardView
    outline: Polygon
    content: Content
    noise_k: float
    seed: int
    twin_mm: tuple[float, float] | None = None
    absent: bool = False


def placement_scene(
    seed: int, *, size_px: tuple[int, int] | None = None, shape: OutlineShape | None = None
) -> PlacementScene:
    """Draw a scene in which the board can be placed.

    At least `VISIBLE_SHARE` of its outline shows, and `VISIBLE_SHARE_OF_SIDE` of each long side; contents that do not
    give that are drawn again.

    Parameters
    ----------
    seed : int
    size_px : tuple of int, optional
        ``(columns, rows)``; one of `SIZES_PX` by default.
    shape : str, optional
        One of `irspot.synthetic.placement_outlines.SHAPES`; any by default.

    Returns
    -------
    PlacementScene
        Of kind ``solvable``; the same for the same arguments.
    """
    random = np.random.default_rng([seed, 1])
    while True:
        shape_drawn, setting, contrast = random_setting(random, size_px, shape, "solvable")
        scene = render(setting, "solvable", shape_drawn, contrast)
        if scene is not None:
            return scene


def hopeless_scene(seed: int, *, kind: Kind | None = None, size_px: tuple[int, int] | None = None) -> PlacementScene:
    """Draw a scene in which the board cannot be placed.

    An even board that shows nevertheless, before warm things behind it, is drawn again.

    Parameters
    ----------
    seed : int
    kind : str, optional
        One of `HOPELESS`; they take turns by default.
    size_px : tuple of int, optional

    Returns
    -------
    PlacementScene
    """
    kind = kind or HOPELESS[seed % len(HOPELESS)]
    random = np.random.default_rng([seed, 2])
    while True:
        shape, setting, contrast = random_setting(random, size_px, None, kind)
        scene = render(setting, kind, shape, contrast)
        if scene is None:
            raise ValueError(f"a scene of kind {kind} is not asked to be visible")
        if kind != "no-contrast" or scene.visible < VISIBLE_SHARE:
            return scene


def render(setting: Setting, kind: Kind, shape: OutlineShape, contrast: Contrast) -> PlacementScene | None:
    """Render a setting; None where it should be solvable but shows too little of its outline."""
    random = np.random.default_rng([setting.seed, 3])
    view, outline = setting.view, setting.outline
    heat = board_image(view, setting.content, outline)
    image = background_image(view, setting.content, view.to_px(outline.array_mm).mean(axis=0))
    lay_behind(random, view, setting.content, outline, image)
    behind = image.copy()
    if not setting.absent:
        image += (heat - image) * outline_coverage(view, outline)
    if setting.twin_mm is not None:
        twin = view.shifted(setting.twin_mm)
        image += (board_image(twin, setting.content, outline) - image) * outline_coverage(twin, outline)
    cover = np.zeros_like(image)
    lay_over(random, view, setting.content, outline, image, cover)
    shares = visible_shares(view, outline, np.abs(heat - behind), cover, setting.noise_k)
    if kind == "solvable" and not _shows_enough(shares, outline):
        return None
    lengths = _side_lengths(outline)
    return PlacementScene(
        degc=sensed(image, view.optics.blur_px or 0.0, setting.noise_k, random),
        board=Board("trial board", outline, marks=setting.content.marks),
        side=view.side,
        top=top_of(view, outline.array_mm)[0],
        optics=view.optics,
        noise_k=setting.noise_k,
        corners_px=view.to_px(outline.array_mm),
        matrix=view.matrix(),
        kind=kind,
        shape=shape,
        contrast=contrast,
        visible=0.0 if setting.absent else float(shares @ lengths / lengths.sum()),
    )


def visible_shares(view: BoardView, outline: Polygon, step_k: Image, cover: Image, noise_k: float) -> FloatArray:
    """Share of each side of the outline that shows: in the frame, uncovered, with a step.

    Returns
    -------
    ndarray, shape (n,)
        Side i runs from corner i to the next.
    """
    corners = outline.array_mm
    along = ((np.arange(40) + 0.5) / 40.0)[:, None]
    places = corners[:, None] + (following(corners) - corners)[:, None] * along
    xy_px = view.to_px(places.reshape(-1, 2))
    rows, columns = step_k.shape
    at = np.clip(np.rint(to_samples(xy_px)).astype(int), 0, [columns - 1, rows - 1])
    step = step_k[at[:, 1], at[:, 0]]
    shows = view.in_frame(xy_px) & (cover[at[:, 1], at[:, 0]] < 0.5) & (step > max(VISIBLE_STEP_K, 5.0 * noise_k))
    return np.asarray(shows.reshape(len(corners), -1).mean(axis=1))


def _side_lengths(outline: Polygon) -> FloatArray:
    corners = outline.array_mm
    return np.asarray(np.hypot(*(following(corners) - corners).T), np.float64)


def _shows_enough(shares: FloatArray, outline: Polygon) -> bool:
    lengths = _side_lengths(outline)
    long = lengths >= _LONG_SIDE * lengths.sum()
    return bool(shares @ lengths >= VISIBLE_SHARE * lengths.sum() and np.all(shares[long] >= VISIBLE_SHARE_OF_SIDE))


def random_setting(
    random: np.random.Generator, size_px: tuple[int, int] | None, shape: OutlineShape | None, kind: Kind
) -> tuple[OutlineShape, Setting, Contrast]:
    """Draw what a scene of one kind is rendered from, with its shape and contrast; see `placement_scene`."""
    size_px = size_px or SIZES_PX[int(random.integers(len(SIZES_PX)))]
    shape = shape or SHAPES[int(random.integers(len(SHAPES)))]
    outline = random_outline(random, shape)
    view = random_view(random, outline, size_px, kind)
    contrasts: tuple[Contrast, ...] = ("warm", "cool", "mixed")
    # Of two boards, both are to be seen well: the plate behind half of one would leave the other to luck.
    shares = [0.6, 0.4, 0.0] if kind == "two-boards" else [0.5, 0.25, 0.25]
    contrast = contrasts[int(random.choice(3, p=shares))]
    marks = _random_marks(random, outline) if random.random() < 0.3 else ()
    content = random_content(random, outline.array_mm, contrast, marks, rear=view.side == "rear")
    noise_k = float(random.uniform(0.020, 0.150))
    setting = Setting(view, outline, content, noise_k, int(random.integers(2**31)))
    return shape, _as_kind(random, setting, kind), contrast


def _as_kind(random: np.random.Generator, setting: Setting, kind: Kind) -> Setting:
    """Take from a setting what makes it solvable."""
    if kind == "no-contrast":
        content = setting.content
        even = Content(board_degc=23.0, background_degc=23.0, behind=content.behind, hand=content.hand)
        even = replace(even, board_degc=23.0 + float(random.uniform(-0.3, 0.3)) * setting.noise_k)
        return replace(setting, content=even)
    if kind == "two-boards":
        x0, y0, x1, y1 = setting.outline.box_mm
        gap = float(random.uniform(15.0, 50.0))
        beside = (x1 - x0 + gap, 0.0) if x1 - x0 < y1 - y0 else (0.0, y1 - y0 + gap)
        return replace(setting, twin_mm=beside, content=_clear(setting.content))
    return replace(setting, absent=kind == "no-board")


def _clear(content: Content) -> Content:
    """Take away what could make one of two boards less plain than the other."""
    return replace(content, blocks=(), behind=0, covers=0, hand=False)


def _random_marks(random: np.random.Generator, outline: Polygon) -> tuple[Mark, ...]:
    """Draw two to four foil dots inside the outline, well apart from its edge."""
    x0, y0, x1, y1 = outline.box_mm
    marks: list[Mark] = []
    for _ in range(200):
        x, y = random.uniform([x0 + 8.0, y0 + 8.0], [x1 - 8.0, y1 - 8.0]).tolist()
        ring = np.array([[x, y]]) + 6.0 * np.array([[0, 0], [1, 0], [-1, 0], [0, 1], [0, -1]])
        apart = all(np.hypot(x - other.x_mm, y - other.y_mm) > 30.0 for other in marks)
        if apart and bool(np.all(outline.contains(ring[:, 0], ring[:, 1]))):
            marks.append(Mark(f"dot-{len(marks) + 1}", round(x, 2), round(y, 2)))
        if len(marks) == 4:
            break
    return tuple(marks[: int(random.integers(2, 5))])
