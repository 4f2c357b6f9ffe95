"""A picture to lay over others in a video editor: straight alpha, everything inside the title-safe area."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.errors import UsageError
from irspot.opencv import load_cv2
from irspot.registration.placement import Placement
from irspot.rendering import theme
from irspot.rendering.callouts import Box
from irspot.rendering.caption import Caption
from irspot.rendering.frame_layer import draw_frame, draw_outlines, view_of
from irspot.rendering.heat import LEAST_SIZE, Plan, checked_size, finished, plan_picture
from irspot.rendering.picture import Picture
from irspot.rendering.strokes import Image
from irspot.rendering.underlay import Underlay
from irspot.results import Reading

Safe = Literal[5, 10]
"""Per cent of the width, and of the height, that stay clear at each edge.

5: the safe title area of SMPTE ST 2046-1:2009, 90 % of either length; 10: the 80 % that were usual before it
(SMPTE RP 27.3). Both from memory.
"""
_PLATE: Final = 0.8
"""Opacity of the dark plates beneath text, so that it can be read on any picture."""
_SURE: Final = 10
"""Alpha from which on a colour can be told from what two backgrounds leave of it; below, its neighbour's is taken."""


@dataclass(frozen=True, slots=True)
class _Scene:
    """What is drawn, whatever lies beneath."""

    plan: Plan
    surface_degc: NDArray[Any]
    board: Board
    placement: Placement
    underlay: Underlay | None
    opacity: float


def overlay_picture(
    surface_degc: NDArray[Any],
    board: Board,
    placement: Placement,
    readings: Sequence[Reading],
    *,
    caption: Caption,
    scale_degc: tuple[float, float],
    cmap: str = "inferno",
    size: tuple[int, int] = (1920, 1080),
    safe: Safe = 5,
    opacity: float = 1.0,
    underlay: Underlay | None = None,
) -> Picture:
    """Draw a heat image to lie over another picture.

    Parameters
    ----------
    surface_degc, board, placement, readings, caption, scale_degc, cmap, size, underlay
        See `irspot.rendering.heat_picture`.
    safe : {5, 10}
        Per cent of width and height that stay empty at each edge.
    opacity : float
        Of the frame itself, 0 to 1; 0 leaves outlines, hot spots, callouts and scale.

    Returns
    -------
    Picture
        Red, green, blue and straight alpha. What is transparent has the colour of the nearest thing that is not, so
        that no dark seam shows where an editor scales it.
    """
    width, height = checked_size(size)
    left, top = -(-width * safe // 100), -(-height * safe // 100)
    inner = (width - 2 * left, height - 2 * top)
    if inner[0] < LEAST_SIZE[0] or inner[1] < LEAST_SIZE[1]:
        found = f"{inner[0]} x {inner[1]} inside the margins of {safe} %"
        wanted = "{} x {} or more".format(*LEAST_SIZE)
        raise UsageError(
            "the overlay would be too small to read", found=found, wanted=wanted, hint="give a larger size"
        )
    plan = plan_picture(
        surface_degc, board, placement, readings, caption=caption, scale_degc=scale_degc, cmap=cmap, size=inner
    )
    scene = _Scene(plan, surface_degc, board, placement, underlay, opacity)
    drawn = [_drawn_on(scene, level) for level in (0, 255)]
    image = np.zeros((height, width, 4), np.uint8)
    image[top : top + inner[1], left : left + inner[0]] = straight_alpha(*drawn)
    return Picture(image, tuple(line.text for line in plan.lines if line.text))


def straight_alpha(on_black: Image, on_white: Image) -> NDArray[np.uint8]:
    """Find colour and alpha of what was drawn alike on black and on white.

    Parameters
    ----------
    on_black, on_white : ndarray of uint8, shape (rows, columns, 3)

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 4)
        ``alpha = 255 - (white - black)``, ``colour = 255 black / alpha``: the inverse of ``alpha F + (1 - alpha) B``.
    """
    cv2 = load_cv2()
    gap = np.rint(np.mean(on_white.astype(np.float32) - on_black, axis=-1))
    alpha = np.clip(255.0 - gap, 0.0, 255.0).astype(np.uint8)
    color = np.clip(np.rint(255.0 * on_black / np.maximum(alpha, 1)[..., None]), 0, 255).astype(np.uint8)
    unsure = (alpha < _SURE).astype(np.uint8)
    if unsure.any() and not unsure.all():
        # Labels count the sure pixels; each unsure one is told which of them is nearest.
        _, nearest = cv2.distanceTransformWithLabels(unsure, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL)
        sure = np.empty((int(nearest.max()) + 1, 3), np.uint8)
        known = unsure == 0
        sure[nearest[known]] = color[known]
        color[~known] = sure[nearest[~known]]
    return np.dstack([color, alpha])


def _drawn_on(scene: _Scene, level: int) -> Image:
    """Draw everything over a plain grey."""
    plan, page = scene.plan, scene.plan.page
    image = np.full((page.size[1], page.size[0], 3), level, np.uint8)
    for box in _plates(plan):
        part = view_of(image, box)
        part[:] = _mixed(part, np.array(theme.PAGE, np.uint8), _PLATE)
    if scene.opacity > 0.0:
        opaque = image.copy()
        beneath = None if scene.underlay is None else (scene.underlay, scene.placement)
        draw_frame(opaque, page, scene.surface_degc, plan.scale, beneath)
        part = view_of(image, page.image)
        part[:] = _mixed(part, view_of(opaque, page.image), scene.opacity)
    draw_outlines(image, page, scene.board, scene.placement, scene.surface_degc.shape)
    finished(image, plan)
    return image


def _mixed(below: Image, above: Image, share: float) -> Image:
    mixed: Image = np.rint((1.0 - share) * below.astype(np.float32) + share * above.astype(np.float32)).astype(np.uint8)
    return mixed


def _plates(plan: Plan) -> list[Box]:
    """Where text stands: the header, what is below the frame, and each callout; whole px, none over another."""
    page = plan.page
    width, height = page.size
    gap = page.px(8.0)
    below = min(page.legend.y0 - page.px(30.0), page.strip.box.y0 - gap if page.strip else page.legend.y0)
    above = min([page.image.y0, *(place.box.y0 - gap for _, place in page.callouts)])
    boxes = [Box(0, 0, width, round(above) - 1), Box(0, round(below), width, height)]
    for _, place in page.callouts:
        box = place.box
        x0 = max(0.0, box.x0 - gap)
        boxes.append(Box(round(x0), round(box.y0), round(min(width, box.x1 + gap)), round(box.y1)))
    return boxes
