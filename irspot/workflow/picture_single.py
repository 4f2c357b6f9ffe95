"""Pictures of one shot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from irspot.board import Limit, Zone
from irspot.errors import UsageError
from irspot.workflow.picture_made import Look, Made, Seen
from irspot.workflow.picture_source import Shot

if TYPE_CHECKING:
    from irspot.rendering import Caption, Picture


def _single(shot: Shot, seen: Seen, look: Look, scale: tuple[float, float]) -> Made:
    from irspot.rendering import heat_picture

    picture = heat_picture(
        seen.surface_degc,
        seen.board,
        seen.placement,
        shot.readings,
        caption=shot.caption,
        scale_degc=scale,
        cmap=look.map,
        size=look.size,
        underlay=shot.underlay,
    )
    return made_of("Heat image", shot, picture, scale)


def _numbers(shot: Shot, seen: Seen, look: Look, _scale: tuple[float, float]) -> Made:
    from irspot.rendering.numbers_picture import numbers_picture

    picture = numbers_picture(seen.board, seen.placement, shot.readings, caption=shot.caption, size=look.size)
    return made_of("Zone temperatures", shot, picture, None)


def _board(shot: Shot, seen: Seen, look: Look, scale: tuple[float, float]) -> Made:
    from irspot.rendering.board_view import board_picture

    picture = board_picture(
        seen.surface_degc,
        seen.board,
        seen.placement,
        shot.readings,
        caption=shot.caption,
        scale_degc=scale,
        cmap=look.map,
        size=look.size,
        axes=look.axes,
        underlay=shot.underlay,
    )
    return made_of("Heat image, seen straight on,", shot, picture, scale)


def _overlay(shot: Shot, seen: Seen, look: Look, scale: tuple[float, float]) -> Made:
    from irspot.rendering.overlay import overlay_picture

    picture = overlay_picture(
        seen.surface_degc,
        seen.board,
        seen.placement,
        shot.readings,
        caption=shot.caption,
        scale_degc=scale,
        cmap=look.map,
        size=look.size,
        safe=look.safe,
        opacity=look.opacity,
        underlay=shot.underlay,
    )
    return made_of("Overlay", shot, picture, scale)


def _isotherm(shot: Shot, seen: Seen, look: Look, scale: tuple[float, float]) -> Made:
    from irspot.exports.json_results import number
    from irspot.measurement.area_above import area_above
    from irspot.rendering.isotherm_picture import isotherm_picture, with_area

    limit = look.limit_degc if look.limit_degc is not None else _own_limit(seen)
    area = area_above(seen.surface_degc, seen.board, seen.placement, shot.readings, limit)
    picture = isotherm_picture(
        seen.surface_degc,
        seen.board,
        seen.placement,
        shot.readings,
        area,
        caption=shot.caption,
        scale_degc=scale,
        cmap=look.map,
        size=look.size,
    )
    made = made_of("Heat image", shot, picture, scale, with_area(shot.caption, area))
    told = {name: number(getattr(area, name)) for name in area.__slots__}
    return replace(made, further={"area": told})


def _own_limit(seen: Seen) -> float:
    """Take the limit that a board's zones of the side state, where they state one."""
    limits = {limit.limit_degc for zone in seen.board.zones_of(seen.placement.side) for limit in _of_surface(zone)}
    if len(limits) == 1:
        return limits.pop()
    found = ", ".join(f"{limit:g}" for limit in sorted(limits))
    raise UsageError(
        "which temperature the line is to follow is not clear",
        found=f"limits of {found} °C in the board file" if limits else "no limit of a surface in the board file",
        wanted="--limit-degc",
    )


def _of_surface(zone: Zone) -> tuple[Limit, ...]:
    """Give a zone's limit if it is one of what its surface is."""
    return (zone.limit,) if zone.limit is not None and zone.limit.kind in zone.quantities - {"junction"} else ()


ONE_SHOT: Final[dict[str, Callable[[Shot, Seen, Look, tuple[float, float]], Made]]] = {
    "single": _single,
    "isotherm": _isotherm,
    "board": _board,
    "numbers": _numbers,
    "overlay": _overlay,
}


def made_of(
    what: str, shot: Shot, picture: Picture, scale: tuple[float, float] | None, caption: Caption | None = None
) -> Made:
    """Put a picture of one shot into words.

    Parameters
    ----------
    what : str
        It is.
    shot : Shot
    picture : Picture
    scale : tuple of float or None
    caption : Caption, optional
        As drawn, where it says more than the shot's own.
    """
    from irspot.rendering.alt_text import scale_in_words, values_of, words_of

    told = () if scale is None else (scale_in_words(scale),)
    words = words_of(what, caption or shot.caption, values_of(shot.readings), *told)
    return Made(replace(picture, alt=words.alt), words, shot.rows, scale)
