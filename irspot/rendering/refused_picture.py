"""Why a board was not placed: the frame, its edges, the outlines that could be the board, the reason, the next step."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.errors import PlacementRefused
from irspot.registration.seen import Seen, SeenOutline
from irspot.rendering import theme
from irspot.rendering.heat import checked_size
from irspot.rendering.picture import Picture
from irspot.rendering.placement_page import Item, Mark, Plan, begun, grey_range, grey_words, plan_placement
from irspot.rendering.placement_strokes import CHIP, finished, label_box, strokes_of
from irspot.rendering.sheet import Line, set_text
from irspot.rendering.strokes import Image, closed, dot, double_lines
from irspot.rendering.text import clean
from irspot.rendering.theme import Color

# Colours of Okabe and Ito (2008), told apart by all common colour visions; the lines differ in kind as well.
OUTLINES: Final[tuple[tuple[Color, Mark], ...]] = (
    ((86, 180, 233), "solid"),
    ((230, 159, 0), "dashed"),
    ((240, 228, 66), "dotted"),
)
EDGES: Final[Color] = (0, 190, 140)
GIVEN: Final[Color] = (255, 132, 60)
_REASON, _STEP, _WORDS, _SMALL = 36.0, 33.0, 30.0, 25.0
_WIDTHS = (4.0, 3.2, 3.2)


def refused_picture(
    degc: NDArray[Any],
    board: Board,
    seen: Seen,
    refusal: PlacementRefused,
    *,
    subtitle: str = "",
    size: tuple[int, int] = (1920, 1080),
) -> Picture:
    """Draw what was seen in a frame in which a board was not placed.

    Parameters
    ----------
    degc : ndarray, shape (rows, columns)
        Radiance temperatures; NaN where not measured.
    board : Board
    seen : Seen
    refusal : PlacementRefused
    subtitle : str
        Frame, side and so on.
    size : tuple of int
        Width and height, px.

    Returns
    -------
    Picture
        Of exactly that size.

    Raises
    ------
    UsageError
        For a size too small to read or too large to hold.
    """
    plan = plan_refused(degc, board, seen, refusal, subtitle=subtitle, size=size)
    image = begun(plan, degc)
    view = image[plan.view]
    _draw_edges(view, plan, seen)
    for number in reversed(range(len(seen.outlines))):
        _draw_outline(view, plan, seen.outlines[number], number)
    chips = [_chip(view, plan, outline, number) for number, outline in enumerate(seen.outlines)]
    chips += _draw_given(view, plan, seen)
    set_text(view, [line for line in chips if line is not None])
    return finished(image, plan)


def plan_refused(
    degc: NDArray[Any],
    board: Board,
    seen: Seen,
    refusal: PlacementRefused,
    *,
    subtitle: str,
    size: tuple[int, int],
) -> Plan:
    """Decide what stands where; the parameters are those of `refused_picture`."""
    shape = (degc.shape[0], degc.shape[1])
    title = f"Not placed: {board.name}"
    return plan_placement(checked_size(size), shape, title, subtitle, _items(degc, seen, refusal))


def reason_of(refusal: PlacementRefused) -> str:
    """Say why a board was not placed, in one sentence."""
    details = [refusal.found, f"wanted: {refusal.wanted}" if refusal.wanted else ""]
    text = "; ".join(part for part in details if part)
    message = refusal.message[:1].upper() + refusal.message[1:]
    return f"{message} ({text})." if text else f"{message}."


def _items(degc: NDArray[Any], seen: Seen, refusal: PlacementRefused) -> list[Item]:
    items = [Item(reason_of(refusal), _REASON, "bold", theme.WARNING)]
    if refusal.hint:
        items += [Item("What to do", _WORDS, color=theme.MUTED), Item(_sentence(refusal.hint), _STEP)]
    if seen.outlines or len(seen.edges_px) or seen.given_px:
        items.append(Item("What shows", _WORDS, color=theme.MUTED))
    for number, outline in enumerate(seen.outlines):
        color, mark = OUTLINES[number]
        items.append(Item(_said_of(outline, number), _WORDS, mark=mark, mark_color=color))
    if len(seen.edges_px):
        items.append(Item("edges in the frame", _WORDS, mark="dots", mark_color=EDGES))
    if seen.given_px:
        items.append(Item("points as they were given", _WORDS, mark="solid", mark_color=GIVEN))
    low, high = grey_range(degc)
    if math.isnan(low):
        items.append(Item("nothing was measured in this frame", _SMALL, color=theme.MUTED))
    else:
        items.append(Item(grey_words(low, high), _SMALL, color=theme.MUTED))
    return items


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + "."


def _said_of(outline: SeenOutline, number: int) -> str:
    which = "likeliest place" if number == 0 else "also possible"
    ways = f", {outline.ways} ways round" if outline.ways > 1 else ""
    in_view = f", {100.0 * outline.in_view:.0f} % in view" if outline.in_view < 0.995 else ""
    share = f"edges along {100.0 * outline.on_edges:.0f} % of it"
    return f"{number + 1}: {which}, fit {100.0 * outline.fit:.0f} of 100; {share}{in_view}{ways}"


def _draw_edges(view: Image, plan: Plan, seen: Seen) -> None:
    radius = max(0.8, plan.px(1.7))
    for x, y in plan.on_image(seen.edges_px):
        dot(view, float(x), float(y), radius, EDGES)


def _draw_outline(view: Image, plan: Plan, outline: SeenOutline, number: int) -> None:
    color, mark = OUTLINES[number]
    border = plan.on_image(closed(outline.border_px))
    double_lines(view, strokes_of(border, mark, plan), plan.px(_WIDTHS[number]), color)


def _chip(view: Image, plan: Plan, outline: SeenOutline, number: int) -> Line | None:
    """Put an outline's number at a place of its border that shows, each number at another side of it."""
    color, _ = OUTLINES[number]
    rows, columns = view.shape[:2]
    places = plan.on_image(outline.border_px)
    half = 0.5 * plan.px(CHIP)
    inner = np.clip(places, half + 2.0, np.array([columns, rows]) - half - 2.0)
    shows = np.flatnonzero(np.all(np.abs(inner - places) <= half, axis=1))
    if not len(shows):
        return None
    x, y = inner[shows[(len(shows) * (2 * number + 1)) // 8]]
    return label_box(view, plan, str(number + 1), float(x), float(y), color)


def _draw_given(view: Image, plan: Plan, seen: Seen) -> list[Line | None]:
    """Draw points given by hand, joined in their order; give their names."""
    if not seen.given_px:
        return []
    places = plan.on_image(np.array([(x, y) for _, x, y in seen.given_px]))
    double_lines(view, [closed(places)], plan.px(3.0), GIVEN)
    return [
        label_box(view, plan, clean(name)[:12], float(x), float(y), GIVEN)
        for (name, _, _), (x, y) in zip(seen.given_px, places, strict=True)
    ]
