"""Placing scenes of boards with marks: holes that show the bench, foil dots, some missing, and round parts beside them.

Marks of a board are drawn by chance: how many, of what kind, how many of them show. Among them stand decoys (round
parts) and many small parts, so that a mark's place is not the only one where something round or sharp shows.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Mark
from irspot.shapes import Polygon, distance_to_border
from irspot.synthetic.placement_content import Content, Disc, Patch
from irspot.synthetic.placement_outlines import OutlineShape
from irspot.synthetic.placement_render import background_image, to_samples
from irspot.synthetic.placement_scenes import PlacementScene, Setting, random_setting, render
from irspot.synthetic.placement_views import BoardView, at_distance, distance_for_fill

FloatArray = NDArray[np.float64]
MarkKind = Literal["holes", "dots", "both"]
Hidden = Literal["even", "cut-off", "too-small"]
HIDDEN: Final[tuple[Hidden, ...]] = ("even", "cut-off", "too-small")

THICKNESS_MM: Final = 1.6
_APART_MM: Final = 18.0
_CLEAR_MM: Final = 1.5
"""Room that a mark has around it."""


@dataclass(frozen=True, slots=True, eq=False)
class MarkedScene:
    """A scene with the truth about its marks.

    Parameters
    ----------
    scene : PlacementScene
        Its board names all marks, those that do not show as well.
    drawn : tuple of str
        Marks that are there; something on the board may hide them.
    marks_px : ndarray, shape (n, 2)
        Where each mark of the board is in the stored image, hole's upper rim or dot.
    """

    scene: PlacementScene
    drawn: tuple[str, ...]
    marks_px: FloatArray


def marked_scene(
    seed: int,
    *,
    shape: OutlineShape | None = None,
    size_px: tuple[int, int] | None = None,
    count: int | None = None,
    share_drawn: float | None = None,
) -> MarkedScene:
    """Draw a scene whose outline shows, of a board with marks.

    Parameters
    ----------
    seed : int
    shape : str, optional
        One of `irspot.synthetic.placement_outlines.SHAPES`; any by default.
    size_px : tuple of int, optional
    count : int, optional
        Marks of the board; three to nine by default.
    share_drawn : float, optional
        Of the marks, how many are there; by default all of them or, in half of the scenes, 60 % and more.

    Returns
    -------
    MarkedScene
        The same for the same arguments.
    """
    random = np.random.default_rng([seed, 4])
    while True:
        shape_drawn, setting, contrast = random_setting(random, size_px, shape, "solvable")
        marked, marks, drawn = _marked(random, setting, count, share_drawn)
        scene = render(marked, "solvable", shape_drawn, contrast)
        if scene is not None:
            return _with_truth(scene, setting, marks, drawn)


def hidden_outline_scene(
    seed: int,
    *,
    kind: Hidden | None = None,
    size_px: tuple[int, int] | None = None,
    count: int | None = None,
    share_drawn: float | None = None,
) -> MarkedScene:
    """Draw a scene whose outline does not show, or not well, while marks do.

    Parameters
    ----------
    seed : int
    kind : str, optional
        ``even``: the board has the background's temperature, and foil dots mirror something warmer or cooler;
        ``cut-off``: half of the outline is out of view; ``too-small``: the board fills 13 to 17 % of the frame. They
        take turns by default.
    size_px, count, share_drawn
        As of `marked_scene`; four to nine marks by default.

    Returns
    -------
    MarkedScene
    """
    kind = kind or HIDDEN[seed % len(HIDDEN)]
    random = np.random.default_rng([seed, 5])
    shape, setting, contrast = random_setting(random, size_px, None, "solvable")
    setting = _HIDERS[kind](random, setting)
    marked, marks, drawn = _marked(random, setting, count or int(random.integers(4, 10)), share_drawn)
    scene = render(marked, "no-contrast" if kind == "even" else kind, shape, contrast)
    if scene is None:
        raise ValueError(f"a scene of kind {kind} is not asked to be visible")
    return _with_truth(scene, setting, marks, drawn)


def _with_truth(
    scene: PlacementScene, setting: Setting, marks: tuple[Mark, ...], drawn: tuple[str, ...]
) -> MarkedScene:
    board = Board("trial board", setting.outline, marks=marks, thickness_mm=THICKNESS_MM)
    places = np.array([(mark.x_mm, mark.y_mm) for mark in marks])
    return MarkedScene(replace(scene, board=board), drawn, setting.view.to_px(places))


def _evened(random: np.random.Generator, setting: Setting) -> Setting:
    """Give board and bench one temperature, a few parts theirs."""
    level = float(random.uniform(19.0, 27.0))
    warm = setting.content.parts if random.random() < 0.5 else ()
    weak = tuple(replace(part, excess_k=part.excess_k * 0.1) for part in warm)
    return replace(setting, content=Content(level, parts=weak, background_degc=level))


def _slid(random: np.random.Generator, setting: Setting) -> Setting:
    """Slide the board out of the frame until half of its outline is in view."""
    view, outline = setting.view, setting.outline
    corners, size = outline.array_mm, np.array(view.size_px, np.float64)
    angle, most = random.uniform(0.0, 2.0 * np.pi), float(random.uniform(0.4, 0.55))
    border = outline.border_points(4.0)
    slid = view
    for step in np.arange(0.02, 0.9, 0.02):
        towards = np.array([np.cos(angle), np.sin(angle)]) * size * step
        slid = view.centred(corners, (size - 1.0) / 2.0 + towards)
        if float(slid.in_frame(slid.to_px(border)).mean()) < most:
            break
    return replace(setting, view=slid)


def _farther(random: np.random.Generator, setting: Setting) -> Setting:
    """Move the camera away until the board fills a small part of the frame."""
    view, corners = setting.view, setting.outline.array_mm
    centre = np.array(view.size_px) * random.uniform(0.4, 0.6, 2)
    distance = distance_for_fill(view, corners, centre, float(random.uniform(0.13, 0.17)))
    return replace(setting, view=at_distance(view, corners, centre, distance))


_HIDERS: Final = {"even": _evened, "cut-off": _slid, "too-small": _farther}


def _marked(
    random: np.random.Generator, setting: Setting, count: int | None, share_drawn: float | None
) -> tuple[Setting, tuple[Mark, ...], tuple[str, ...]]:
    """Add marks, round parts and small parts to a setting."""
    content, outline = setting.content, setting.outline
    even = content.board_degc == content.background_degc
    kinds: tuple[MarkKind, ...] = ("dots",) if even else ("holes", "dots", "both")
    kind = kinds[int(random.integers(len(kinds)))]
    marks = _places(random, outline, count or int(random.integers(3, 10)))
    if share_drawn is None:
        share_drawn = 1.0 if random.random() < 0.5 else float(random.uniform(0.6, 1.0))
    shown = sorted(random.permutation(len(marks))[: round(share_drawn * len(marks))].tolist())
    discs = _discs(random, setting, tuple(marks[k] for k in shown), kind)
    decoys = _round_parts(random, outline, marks, even=even)
    small = _small_parts(random, outline, even=even)
    parts = tuple(part for part in content.parts + small if not any(_overlap(part, mark) for mark in marks))
    marked = replace(content, marks=(), parts=parts, discs=decoys + discs)
    return replace(setting, content=marked), marks, tuple(marks[k].id for k in shown)


def _places(random: np.random.Generator, outline: Polygon, count: int) -> tuple[Mark, ...]:
    """Draw places of marks, two in three of them near the edge, where boards are screwed down."""
    x0, y0, x1, y1 = outline.box_mm
    marks: list[Mark] = []
    for _ in range(4000):
        x, y = random.uniform([x0, y0], [x1, y1]).round(2).tolist()
        if not outline.contains(np.array([x]), np.array([y]))[0]:
            continue
        inside = distance_to_border(outline.array_mm, x, y)
        wanted = inside > 5.0 and (inside < 12.0 or len(marks) % 3 == 2)
        if wanted and all(np.hypot(x - other.x_mm, y - other.y_mm) > _APART_MM for other in marks):
            marks.append(Mark(f"mark-{len(marks) + 1}", x, y))
        if len(marks) == count:
            break
    return tuple(marks)


def _discs(random: np.random.Generator, setting: Setting, marks: tuple[Mark, ...], kind: MarkKind) -> tuple[Disc, ...]:
    view, content = setting.view, setting.content
    hole_mm, dot_mm = float(random.uniform(1.3, 2.1)), float(random.uniform(1.5, 4.0))
    mirrored = float(random.uniform(18.0, 28.0))
    if content.board_degc == content.background_degc:
        mirrored = content.board_degc + float(random.choice([-1.0, 1.0]) * random.uniform(1.5, 10.0))
    bench = background_image(view, content, view.to_px(setting.outline.array_mm).mean(axis=0))
    discs = []
    for mark in marks:
        if kind == "holes" or (kind == "both" and random.random() < 0.5):
            discs.append(_hole(view, mark, hole_mm, bench))
        else:
            discs.append(Disc(mark.x_mm, mark.y_mm, dot_mm, mirrored))
    return tuple(discs)


def _hole(view: BoardView, mark: Mark, radius_mm: float, bench: NDArray[np.float32]) -> Disc:
    place = np.array([[mark.x_mm, mark.y_mm]])
    through = (view.to_mm(view.to_px(place, -THICKNESS_MM)) - place)[0].tolist()
    x, y = np.rint(to_samples(view.to_px(place))[0]).astype(int).tolist()
    rows, columns = bench.shape
    degc = float(bench[min(max(y, 0), rows - 1), min(max(x, 0), columns - 1)])
    return Disc(mark.x_mm, mark.y_mm, radius_mm, degc, (through[0], through[1]))


def _round_parts(
    random: np.random.Generator, outline: Polygon, marks: tuple[Mark, ...], *, even: bool
) -> tuple[Disc, ...]:
    """Draw cans and coils of 2.4 to 12 mm that nobody entered as marks."""
    x0, y0, x1, y1 = outline.box_mm
    level = float(random.uniform(20.0, 45.0))
    parts: list[Disc] = []
    for _ in range(int(random.integers(0, 4 if even else 16))):
        x, y = random.uniform([x0, y0], [x1, y1]).tolist()
        radius = float(random.uniform(1.2, 6.0))
        if not outline.contains(np.array([x]), np.array([y]))[0]:
            continue
        if distance_to_border(outline.array_mm, x, y) < radius + 2.0:
            continue
        if all(np.hypot(x - mark.x_mm, y - mark.y_mm) > radius + 6.0 for mark in marks):
            parts.append(Disc(x, y, radius, level + float(random.uniform(-4.0, 25.0))))
    return tuple(parts)


def _small_parts(random: np.random.Generator, outline: Polygon, *, even: bool) -> tuple[Patch, ...]:
    """Draw many parts of 1 to 5 mm, all over the board."""
    x0, y0, x1, y1 = outline.box_mm
    spread = 0.15 if even else float(random.uniform(0.3, 3.0))
    parts = []
    for _ in range(int(random.integers(20, 200))):
        x, y = random.uniform([x0 + 4.0, y0 + 4.0], [x1 - 8.0, y1 - 8.0]).tolist()
        width, height = random.uniform(1.0, 5.0, 2).tolist()
        ends = np.array([[x - 2.0, y - 2.0], [x + 7.0, y + 7.0]])
        if np.all(outline.contains(ends[:, 0], ends[:, 1])):
            parts.append(Patch(x, y, width, height, float(random.normal(0.0, spread))))
    return tuple(parts)


def _overlap(part: Patch, mark: Mark) -> bool:
    x = max(part.x_mm - mark.x_mm, 0.0, mark.x_mm - part.x_mm - part.width_mm)
    y = max(part.y_mm - mark.y_mm, 0.0, mark.y_mm - part.y_mm - part.height_mm)
    return float(np.hypot(x, y)) < 4.0 + _CLEAR_MM
