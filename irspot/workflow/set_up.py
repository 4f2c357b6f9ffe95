"""What a run's set-up can and cannot tell, in sentences."""

from __future__ import annotations

import math
from dataclasses import dataclass

from irspot.board import Board, Zone
from irspot.constants import GOOD_PIXELS_ACROSS
from irspot.measurement.outlook import Outlook, ZoneOutlook
from irspot.study import Run
from irspot.uncertain import decimals_of, rounded


@dataclass(frozen=True, slots=True)
class SetUp:
    """What a run can and cannot tell.

    Parameters
    ----------
    run, board, side : str
    framed : bool
        Whether its scale is that of a frame; else that of a board that fills most of one.
    outlook : Outlook
    can, cannot : tuple of str
        Sentences.
    """

    run: str
    board: str
    side: str
    framed: bool
    outlook: Outlook
    can: tuple[str, ...]
    cannot: tuple[str, ...]


def set_up_of(run: Run, board: Board, outlook: Outlook, *, framed: bool) -> SetUp:
    """Say what a run can and cannot tell.

    Parameters
    ----------
    run : Run
    board : Board
    outlook : Outlook
    framed : bool
        Whether the scale was taken from a frame.
    """
    can = (*_sizes(run, outlook, framed=framed), *_expected_of([each for each in outlook.zones if _plain(each.zone)]))
    return SetUp(run.id, run.board, run.side, framed, outlook, can, tuple(_cannot(run, board, outlook)))


def _sizes(run: Run, outlook: Outlook, *, framed: bool) -> list[str]:
    if math.isnan(outlook.px_per_mm):
        return []
    good, least = (_two(px / outlook.px_per_mm) for px in (outlook.good_px, outlook.least_px))
    where = "in its first frame" if framed else "if the board fills the frame"
    stated = "corrected" if run.camera.optics.blur_px is not None else "read with a wider uncertainty"
    away = "" if math.isnan(outlook.distance_mm) else f", the camera {outlook.distance_mm:.0f} mm away"
    scale = f"{_two(1.0 / outlook.px_per_mm)} mm a pixel {where}{away}"
    sizes = f"hot spots {good} mm across are read as they are, from {least} mm on {stated}"
    return [f"{scale}: {sizes}, smaller ones give lower bounds"]


def _two(value: float) -> str:
    """Write a number with two significant digits."""
    return rounded(value, decimals_of(value))


def _expected_of(zones: list[ZoneOutlook]) -> list[str]:
    """Say what to expect of zones, together where it is the same."""
    said: dict[str, list[str]] = {}
    for each in zones:
        said.setdefault(_expected(each), []).append(f"'{each.zone.id}'")
    return [f"{', '.join(names)}: {text}" for text, names in said.items()]


def _expected(each: ZoneOutlook) -> str:
    text = f"at {each.at_degc:g} °C ± {_two(each.U_k)} K, mostly {each.dominant_term}"
    text += f"; differences between boards of one session from {_two(each.apart_k)} K on"
    if each.across_px < GOOD_PIXELS_ACROSS:
        text += f"; {each.across_px:.1f} px across"
        if math.isfinite(each.distance_mm):
            text += f", {GOOD_PIXELS_ACROSS:g} from at most {each.distance_mm:.0f} mm away"
    return text


def _plain(zone: Zone) -> bool:
    """Whether a zone can give a plain maximum."""
    return zone.cover != "obscured" and not zone.bare_metal


def _cannot(run: Run, board: Board, outlook: Outlook) -> list[str]:
    said = [_of_zone(each) for each in outlook.zones]
    said += [_of_limit(each.zone) for each in outlook.zones]
    if run.ambient_degc is None:
        said.append("how far anything rises over the ambient: none is given")
    if not any(site.side == run.side for site in board.sites):
        said.append(f"whether a thermocouple agrees: the {run.side} has no site")
    if run.camera.accuracy.warm_up_min is not None and run.camera_on_min is None:
        said.append("whether the camera had warmed up: camera_on_min is not noted")
    if math.isnan(outlook.px_per_mm):
        said.append("how small a hot spot may be: without a frame, the camera file's size_px would tell")
    return [sentence for sentence in said if sentence]


def _of_zone(each: ZoneOutlook) -> str:
    zone = each.zone
    if zone.bare_metal:
        return (
            f"how hot '{zone.id}' is: bare metal ({zone.emissivity:g}) whose emissivity was not measured gives a lower "
            "bound, or nothing where something hotter is mirrored; a strip of tape settles it"
        )
    if zone.cover == "obscured":
        return f"how hot '{zone.id}' is: it is obscured, so that it gives a lower bound"
    if zone.cover == "heatsink":
        return f"how hot the parts under '{zone.id}' are: the camera sees the heatsink"
    return ""


def _of_limit(zone: Zone) -> str:
    if zone.limit is None or zone.limit.kind in zone.quantities:
        return ""
    return f"whether '{zone.id}' keeps its limit: the {zone.limit.kind} has it, the zone measures '{zone.measures}'"
