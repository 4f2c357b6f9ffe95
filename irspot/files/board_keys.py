"""The keys of a board file, and what each means."""

from __future__ import annotations

from typing import Final

from irspot.files.grammar import (
    MAX_LENGTH_MM,
    SCHEMA_NUMBER,
    Key,
    Table,
    choice,
    fraction,
    ident,
    integer,
    length_mm,
    number,
    numbers,
    one,
    place_mm,
    rows,
    several,
    temperature_degc,
    text,
    u_fraction,
    u_k,
)

SHAPE_KEYS: Final = ("polygon_mm", "rect_mm", "circle_mm")


def _shape_keys() -> dict[str, Key]:
    bound = MAX_LENGTH_MM
    return {
        "polygon_mm": rows("Corners.", 2, "three or more corners [[x, y], ...] in mm", least=3, bound=bound),
        "rect_mm": numbers("Rectangle by its lower-left corner and size.", 4, "[x, y, width, height] in mm", bound),
        "circle_mm": numbers("Circle by its centre and radius.", 3, "[x, y, radius] in mm", bound),
    }


def _side(about: str) -> Key:
    return choice(about, "front", "rear")


_OUTLINE: Final = Table(
    {
        "width_mm": length_mm("Width of a rectangular board."),
        "height_mm": length_mm("Height of a rectangular board."),
        "polygon_mm": _shape_keys()["polygon_mm"],
        "thickness_mm": length_mm("Thickness of the bare board."),
    }
)

_ZONE: Final = Table(
    {
        "id": ident("Name in tables.").needed(),
        "name": text("Name for people."),
        "role": text("What ties zones of different boards together, such as power-stage or inductor."),
        "side": _side("Side the zone is on; 'front' (the components' side) where not given."),
        **_shape_keys(),
        "exclude": several("Parts of the zone that do not count: screws, beads.", Table(_shape_keys(), SHAPE_KEYS)),
        "height_mm": number("Height of the surface above the board.", ge=-MAX_LENGTH_MM, le=MAX_LENGTH_MM, unit="mm"),
        "emissivity": fraction("Emissivity of the surface in the camera's band."),
        "u_emissivity": u_fraction("Its standard uncertainty."),
        "emissivity_from": choice("How the emissivity was measured on this surface.", "contact", "tape"),
        "material": text("A surface of the built-in list, instead of emissivity."),
        "surface": text("A note on the surface."),
        "cover": choice("Whether the part is bare, under a heatsink or obscured.", "bare", "heatsink", "obscured"),
        "measures": choice("What the surface is.", "case", "board", "heatsink", "other"),
        "reflected_degc": temperature_degc("Reflected temperature of this zone, instead of the run's."),
        "u_reflected_k": u_k("Its standard uncertainty."),
        "limit_degc": temperature_degc("A temperature not to be passed."),
        "limit_kind": choice("What the limit is a temperature of.", "surface", "case", "board", "junction"),
        "limit_source": text("Where the limit comes from: sheet and revision."),
        "psi_jt_k_per_w": number("Junction-to-top characterisation parameter.", ge=0.0, le=1000.0, unit="K/W"),
        "u_psi_jt_k_per_w": number("Its standard uncertainty.", ge=0.0, le=1000.0, unit="K/W"),
        "power_w": number("Power lost in the part.", ge=0.0, le=100_000.0, unit="W"),
        "u_power_w": number("Its standard uncertainty.", ge=0.0, le=100_000.0, unit="W"),
    },
    SHAPE_KEYS,
)

_SITE: Final = Table(
    {
        "id": ident("Name of the thermocouple's place, as in its log.").needed(),
        "x_mm": place_mm("Place, from the left edge seen from the front.").needed(),
        "y_mm": place_mm("Place, from the lower edge.").needed(),
        "side": _side("Side the bead sits on; 'rear' where not given."),
        "type": choice("Thermocouple type; 'K' where not given.", "K", "J", "T", "E", "N", "R", "S", "B"),
        "class": integer("Tolerance class.", ge=1, le=3),
        "wire_mm": number("Wire diameter.", gt=0.0, le=10.0, unit="mm"),
        "attachment": text("How the bead is held."),
        "footprint_mm": number("Diameter of what bead and tape cover.", gt=0.0, le=100.0, unit="mm"),
        "cover_emissivity": fraction("Emissivity of the tape over the bead, where the camera sees it."),
    }
)

_MARK: Final = Table(
    {
        "id": ident("Name of the mark.").needed(),
        "x_mm": place_mm("Place, from the left edge seen from the front.").needed(),
        "y_mm": place_mm("Place, from the lower edge.").needed(),
    }
)

_REFERENCE: Final = Table(
    {
        "id": ident("Name of the reference.").needed(),
        "zone": ident("The zone that is the patch; a patch beside the board is given by px."),
        "px": numbers("The patch as a disc in the frame; its border is left out.", 3, "[x, y, radius] in px"),
        "side": _side("The side whose frames show a patch given by px; both where not given."),
        "temperature_degc": temperature_degc("Its temperature."),
        "log_column": text("The log column that holds its temperature."),
        "u_k": u_k("Standard uncertainty of its temperature; 0.5 K where not given."),
        "emissivity": number("Its emissivity; its zone's, or 0.95, where not given.", ge=0.5, le=1.0),
        "u_emissivity": u_fraction("Standard uncertainty of its emissivity; 0.01 where not given."),
    },
    ("zone", "px"),
)

BOARD: Final = Table(
    {
        "schema": SCHEMA_NUMBER,
        "name": text("Name of the board model.").needed(),
        "coating": text("A note on the coating, compared between boards."),
        "outline": one("The board's edge.", _OUTLINE).needed(),
        "zone": several("A named region of one side.", _ZONE),
        "site": several("Where a thermocouple bead sits.", _SITE),
        "mark": several("A point of known place that shows in the frame: a mounting hole, a foil dot.", _MARK),
        "reference": several("A patch of known temperature in view.", _REFERENCE),
    }
)
"""A board file: millimetres from the lower-left corner of the outline's bounding box, seen from the front, y up."""
