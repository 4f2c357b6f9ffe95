"""Zones of one board fitted onto another of the same layout family."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from irspot.board import Board, Side, Zone
from irspot.errors import FileInvalid, Problem
from irspot.files.board_edit import board_text, with_tables
from irspot.files.board_keys import SHAPE_KEYS
from irspot.files.findings import known_or_list
from irspot.layout.fitting import Fitted, NotFitted, carried, fitted, is_move
from irspot.layout.fitting import Mapping as Kind
from irspot.layout.packages import few
from irspot.layout.placing import CORNERS
from irspot.layout.plane import Plane
from irspot.layout.roles import matches
from irspot.shapes import Circle, Polygon, Shape, rectangle
from irspot.workflow.zone_ground import Ground, GroundWish, ground_of
from irspot.workflow.zones_from import MadeZones, Misfit, middle_of, shape_keys, touches
from irspot.workflow.zones_job import NamedPoint


@dataclass(frozen=True, slots=True)
class FitJob:
    """Which zones to fit onto which board, and by what.

    Parameters
    ----------
    template : Path
        Board file whose zones are taken.
    ground : GroundWish
        The board they go onto.
    kind : {"similarity", "affine"}
    points : tuple of (str, float, float)
        Names in the template (a mark, a site, a zone's middle, a corner of the outline) and their places on the board.
        Marks that both boards have, where none are given.
    only, leave_out : tuple of str
        Patterns of ids.
    side : {"front", "rear"} or None
        Zones of this side only.
    with_sites, with_marks : bool
        Carry these along.
    replace : bool
        Whether what has the same id is replaced, or an error.
    """

    template: Path
    ground: GroundWish
    kind: Kind = "similarity"
    points: tuple[NamedPoint, ...] = ()
    only: tuple[str, ...] = ()
    leave_out: tuple[str, ...] = ()
    side: Side | None = None
    with_sites: bool = False
    with_marks: bool = False
    replace: bool = False


def fit_zones(job: FitJob) -> MadeZones:
    """Carry a board's zones onto another board; nothing is written.

    Parameters
    ----------
    job : FitJob

    Returns
    -------
    MadeZones

    Raises
    ------
    FileInvalid
        For whatever is wrong with a file, points that make no mapping, zones that would lie beside the board.
    """
    text = board_text(job.template)
    _, template, _ = with_tables(text, job.template, {})
    document = tomllib.loads(text)
    ground = ground_of(job.ground, f"Zones fitted from {job.template.name}.")
    found = _mapping(job, template, ground)
    wanted = [table for table in document.get("zone", []) if _is_wanted(table, job)]
    if not wanted:
        refs = few([zone.id for zone in template.zones])
        raise FileInvalid((Problem("none of the zones is wanted", str(job.template), "zone", refs),))
    zones = {zone.id: zone for zone in template.zones}
    moved = [_moved(table, zones[table["id"]], found.plane) for table in wanted]
    notes = (*ground.notes, found.words)
    _refuse_misfits([zones[table["id"]] for table in wanted], found.plane, job, ground, notes)
    added = {"zone": moved, **_others(job, document, found.plane, ground)}
    content, board, problems = with_tables(ground.text, ground.path, added, replace=job.replace)
    new = {table["id"] for table in moved}
    return MadeZones(
        tuple(zone for zone in board.zones if zone.id in new),
        board,
        content,
        (*notes, *(f"{len(tables)} {kind}s carried along" for kind, tables in added.items() if kind != "zone")),
        (*found.warnings, *_left_behind(template, job)),
        problems,
    )


def _is_wanted(table: Mapping[str, Any], job: FitJob) -> bool:
    named = not job.only or matches(table["id"], job.only)
    return named and not matches(table["id"], job.leave_out) and job.side in (None, table.get("side", "front"))


def _mapping(job: FitJob, template: Board, ground: Ground) -> Fitted:
    source, target, names = _points(job, template, ground)
    found = fitted(np.array(source), np.array(target), names, job.kind)
    if isinstance(found, NotFitted):
        message = "cannot be fitted"
        raise FileInvalid((Problem(message, str(job.template), found=found.reason, hint=found.hint),))
    return found


Places = list[tuple[float, float]]


def _points(job: FitJob, template: Board, ground: Ground) -> tuple[Places, Places, list[str]]:
    """Give the points to fit by: those named, or the marks of one name on both boards."""
    known = _named_places(template)
    if job.points:
        for name, _, _ in job.points:
            if name.casefold() not in known:
                hint = known_or_list(name, known, "mark, site or zone")
                raise FileInvalid((Problem(f"has no '{name}', which --point names", str(job.template), hint=hint),))
        names = [name for name, _, _ in job.points]
        return [known[name.casefold()] for name in names], [(x, y) for _, x, y in job.points], names
    marks = {mark.id.casefold(): (mark.x_mm, mark.y_mm) for mark in template.marks}
    shared = [mark for mark in ground.board.marks if mark.id.casefold() in marks]
    if len(shared) < 2:
        found = few([mark.id for mark in shared]) or "none"
        hint = (
            "give --point NAME=x_mm,y_mm twice or more: a mark, site, zone or corner of it, and its place on the board"
        )
        raise FileInvalid(
            (Problem("shares too few marks with the board", str(job.template), "mark", found, hint=hint),)
        )
    source = [marks[mark.id.casefold()] for mark in shared]
    return source, [(mark.x_mm, mark.y_mm) for mark in shared], [mark.id for mark in shared]


def _named_places(template: Board) -> dict[str, tuple[float, float]]:
    """Give the places a point may name; of one name on several things, the mark's, then the site's, count."""
    _, _, width, height = template.outline.box_mm
    corners: dict[str, tuple[float, float]] = {
        name: (width if name.endswith("right") else 0.0, height if name.startswith("upper") else 0.0)
        for name in CORNERS
    }
    zones = {zone.id.casefold(): middle_of(zone.shape) for zone in template.zones}
    sites = {site.id.casefold(): (site.x_mm, site.y_mm) for site in template.sites}
    marks = {mark.id.casefold(): (mark.x_mm, mark.y_mm) for mark in template.marks}
    return {**corners, **zones, **sites, **marks}


def _moved(table: Mapping[str, Any], zone: Zone, plane: Plane) -> dict[str, Any]:
    """Give a zone's table with its shapes carried; every other key stays."""
    moved: dict[str, Any] = {}
    for key, value in table.items():
        if key in SHAPE_KEYS:
            moved |= _shape_keys(zone.shape, plane)
        elif key == "exclude":
            moved[key] = [_shape_keys(part, plane) for part in zone.exclude]
        else:
            moved[key] = value
    return moved


def _shape_keys(shape: Shape, plane: Plane) -> dict[str, Any]:
    there = carried(shape, plane)
    if isinstance(there, Polygon) and not isinstance(shape, Circle) and is_move(plane):
        # By its box, so that rounding of the mapping cannot cost a rectangle its right angles.
        x0, y0, x1, y1 = there.box_mm
        if len(there.vertices_mm) == 4 and _is_rectangle(shape):
            return shape_keys(rectangle(x0, y0, round(x1 - x0, 9), round(y1 - y0, 9)))
    return shape_keys(there)


def _is_rectangle(shape: Polygon) -> bool:
    x0, y0, x1, y1 = shape.box_mm
    return shape.vertices_mm == ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def _refuse_misfits(zones: Sequence[Zone], plane: Plane, job: FitJob, ground: Ground, notes: tuple[str, ...]) -> None:
    there = tuple(Zone(zone.id, carried(zone.shape, plane), side=zone.side) for zone in zones)
    outside = [zone for zone in there if not touches(zone.shape, ground)]
    if outside:
        x, y = middle_of(outside[0].shape)
        message = f"{len(outside)} of {len(there)} zones would lie outside the outline of {ground.path}"
        hint = "check the points; what this board does not have is left out with --leave-out or --only"
        found = f"{outside[0].id} at {x:.1f}, {y:.1f} mm"
        raise Misfit(Problem(message, str(job.template), found=found, hint=hint), there, ground.board, notes)


def _others(job: FitJob, document: Mapping[str, Any], plane: Plane, ground: Ground) -> dict[str, list[dict[str, Any]]]:
    """Give sites and marks to carry along; marks that the board has already hold the fit and stay as they are."""
    there = {mark.id.casefold() for mark in ground.board.marks}
    kinds = {"site": job.with_sites, "mark": job.with_marks}
    carried_along = {}
    for kind in (kind for kind, is_wanted in kinds.items() if is_wanted):
        tables = [_moved_point(table, plane) for table in document.get(kind, [])]
        carried_along[kind] = [t for t in tables if kind != "mark" or t["id"].casefold() not in there]
    return {kind: tables for kind, tables in carried_along.items() if tables}


def _moved_point(table: Mapping[str, Any], plane: Plane) -> dict[str, Any]:
    x, y = plane.at(float(table["x_mm"]), float(table["y_mm"]))
    return {**table, "x_mm": round(x, 9), "y_mm": round(y, 9)}


def _left_behind(template: Board, job: FitJob) -> tuple[str, ...]:
    if not template.references:
        return ()
    return (f"references of {job.template.name} are not carried along: they belong to its frames",)
