"""Board files: read, checked whole, converted to `irspot.board.Board`."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from irspot.board import ELSEWHERE, Board, Mark, Site, Zone
from irspot.constants import DEFAULT_EMISSIVITY, DEFAULT_U_EMISSIVITY
from irspot.errors import Problem
from irspot.files import geometry
from irspot.files.board_keys import BOARD
from irspot.files.findings import Findings, Loc, known_or_list, show, unique_ids
from irspot.files.materials import MATERIALS
from irspot.files.quantities import junction_of, limit_of, warn_of_unlike_limits
from irspot.files.references import references_of
from irspot.files.toml import load
from irspot.files.validate import sound_part
from irspot.shapes import Polygon, Shape, rectangle

Tables = list[dict[str, Any]]

MAX_CORNERS: Final = 10_000
"""Of all zones together: far above any board, and checking them for crossings still takes seconds only."""

MAX_DETAIL: Final = 200_000
"""Zones times corners of the outline, for the same reason."""

_SAME_NAMES: Final = (
    "name",
    "role",
    "side",
    "height_mm",
    "emissivity_from",
    "material",
    "surface",
    "cover",
    "measures",
    "reflected_degc",
    "u_reflected_k",
)
"""Keys that are fields of `Zone` as they stand."""


def read_board_and_warnings(path: Path) -> tuple[Board, tuple[Problem, ...]]:
    """Read a board file.

    Returns
    -------
    Board
    tuple of Problem
        Warnings.

    Raises
    ------
    FileInvalid
        With everything that is wrong.
    """
    findings = Findings(str(path))
    board = board_of(load(path, findings), findings)
    return board, findings.problems


def board_of(document: dict[str, Any], findings: Findings) -> Board:
    """Check a parsed board file and convert it.

    Raises
    ------
    FileInvalid
        With everything that is wrong.
    """
    table = sound_part(document, BOARD, findings)
    outline = _outline(table.get("outline", {}), findings)
    zones = _zones(table.get("zone", []), outline, findings)
    sites = _sites(table.get("site", []), outline, findings)
    marks = _marks(table.get("mark", []), outline, findings)
    references = references_of(table.get("reference", []), zones, findings)
    findings.refuse_if_broken()
    assert outline is not None  # without one there was an error
    return Board(
        name=table["name"],
        outline=outline,
        zones=zones,
        sites=sites,
        marks=marks,
        references=references,
        coating=table.get("coating", ""),
        thickness_mm=table["outline"].get("thickness_mm"),
    )


def _outline(table: Mapping[str, Any], findings: Findings) -> Polygon | None:
    loc: Loc = ("outline",)
    sizes = [key for key in ("width_mm", "height_mm") if key in table]
    if any(findings.broken(*loc, key) for key in ("width_mm", "height_mm", "polygon_mm")):
        return None
    if "polygon_mm" in table and not sizes:
        polygon = geometry.polygon_of(table["polygon_mm"], (*loc, "polygon_mm"), findings)
        if polygon:
            geometry.check_outline_origin(polygon, (*loc, "polygon_mm"), findings)
        return polygon
    if "polygon_mm" not in table and len(sizes) == 2:
        return rectangle(0.0, 0.0, table["width_mm"], table["height_mm"])
    found = " and ".join(key for key in table if key != "thickness_mm") or "none"
    findings.error(loc, "needs one shape", found=found, wanted="width_mm and height_mm, or polygon_mm")
    return None


def _zones(tables: Tables, outline: Polygon | None, findings: Findings) -> tuple[Zone, ...]:
    unique_ids(tables, ("zone",), findings)
    corners = sum(len(table.get("polygon_mm", ())) for table in tables)
    if corners > MAX_CORNERS:
        findings.error(("zone",), "too many corners in all", found=str(corners), wanted=f"at most {MAX_CORNERS}")
        return ()
    detail = len(tables) * len(outline.vertices_mm) if outline else 0
    if detail > MAX_DETAIL:
        hint = "draw the outline with fewer corners"
        findings.error(("zone",), "too many zones for so detailed an outline", found=str(len(tables)), hint=hint)
        return ()
    made = {index: _zone(table, ("zone", index), outline, findings) for index, table in enumerate(tables)}
    zones = {index: zone for index, zone in made.items() if zone is not None}
    geometry.check_overlaps(zones, findings)
    warn_of_unlike_limits(zones, findings)
    if not tables and not findings.broken("zone"):
        findings.warn(("zone",), "the board has no zones, so only 'elsewhere' will be measured")
    return tuple(zones.values())


def _zone(table: Mapping[str, Any], loc: Loc, outline: Polygon | None, findings: Findings) -> Zone | None:
    """Make a zone; None where its shape or id is missing or wrong (the findings say what)."""
    if str(table.get("id", "")).lower() == ELSEWHERE:
        findings.error((*loc, "id"), f"'{ELSEWHERE}' is reserved: the outline less all zones", hint="choose another id")
    shape = geometry.shape_of(table, loc, findings)
    emissivity, u_emissivity = _emissivity(table, loc, findings)
    limit, junction = limit_of(table, loc, findings), junction_of(table, loc, findings)
    exclude = _exclude(table.get("exclude", []), shape, loc, findings)
    if "u_reflected_k" in table and "reflected_degc" not in table and not findings.broken(*loc, "reflected_degc"):
        findings.error((*loc, "u_reflected_k"), "stands without reflected_degc")
    if shape is None or "id" not in table:
        return None
    if outline is not None:
        geometry.check_inside(shape, outline, loc, findings)
    return Zone(
        id=table["id"],
        shape=shape,
        exclude=exclude,
        emissivity=emissivity,
        u_emissivity=u_emissivity,
        emissivity_assumed="emissivity" not in table and "material" not in table,
        limit=limit,
        junction=junction,
        **{key: table[key] for key in _SAME_NAMES if key in table},
    )


def _exclude(tables: Tables, shape: Shape | None, loc: Loc, findings: Findings) -> tuple[Shape, ...]:
    parts = []
    for index, table in enumerate(tables):
        place: Loc = (*loc, "exclude", index)
        part = geometry.shape_of(table, place, findings)
        if part is not None and shape is not None:
            geometry.check_exclude(part, shape, place, findings)
            parts.append(part)
    return tuple(parts)


def _emissivity(table: Mapping[str, Any], loc: Loc, findings: Findings) -> tuple[float, float]:
    value, u, name = table.get("emissivity"), table.get("u_emissivity"), table.get("material")
    if name is not None and "emissivity_from" in table:
        findings.error((*loc, "emissivity_from"), "contradicts material", hint="give emissivity, as it was measured")
    if value is not None and name is not None:
        hint = "a note on the surface may stand under 'surface'"
        findings.error((*loc, "material"), "contradicts emissivity", wanted="one of the two", hint=hint)
    elif name is not None:
        material = MATERIALS.get(name.strip().lower())
        if material is not None:
            return material.emissivity, material.u_emissivity if u is None else u
        hint = known_or_list(name, MATERIALS, "material")
        findings.error((*loc, "material"), "is not in the built-in list", found=show(name), hint=hint)
    elif value is None and "emissivity_from" in table and not findings.broken(*loc, "emissivity"):
        findings.error((*loc, "emissivity_from"), "stands without emissivity", hint="give what was measured")
    elif value is None and u is not None and not findings.broken(*loc, "emissivity"):
        findings.error((*loc, "u_emissivity"), "stands without emissivity or material")
    return (
        DEFAULT_EMISSIVITY if value is None else value,
        DEFAULT_U_EMISSIVITY if u is None else u,
    )


def _sites(tables: Tables, outline: Polygon | None, findings: Findings) -> tuple[Site, ...]:
    unique_ids(tables, ("site",), findings)
    sites = []
    for index, table in enumerate(tables):
        if _placed(table, ("site", index), outline, "site", findings):
            sites.append(Site(**{_SITE_FIELDS.get(key, key): value for key, value in table.items()}))
    return tuple(sites)


_SITE_FIELDS = {"class": "tolerance_class"}


def _marks(tables: Tables, outline: Polygon | None, findings: Findings) -> tuple[Mark, ...]:
    unique_ids(tables, ("mark",), findings)
    marks = []
    for index, table in enumerate(tables):
        if _placed(table, ("mark", index), outline, "mark", findings):
            marks.append(Mark(**table))
    return tuple(marks)


def _placed(table: Mapping[str, Any], loc: Loc, outline: Polygon | None, what: str, findings: Findings) -> bool:
    """Say whether a site or mark has an id and a place, and warn if the place is off the board."""
    if not {"id", "x_mm", "y_mm"} <= table.keys():
        return False
    if outline is not None:
        geometry.check_point(table["x_mm"], table["y_mm"], outline, loc, what, findings)
    return True
