"""Zones from a part position list: what ``irspot zones-from`` does."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from irspot.board import Board, Zone
from irspot.errors import FileInvalid, Problem
from irspot.files.board_edit import with_tables
from irspot.layout.chip_codes import Ambiguous
from irspot.layout.packages import chip_code_words, few
from irspot.layout.part import Part, PartList, Size
from irspot.layout.part_list import duplicated, read_part_list
from irspot.layout.placing import Placing
from irspot.layout.plausible import Reading, fit_of, proposals
from irspot.layout.roles import selected
from irspot.shapes import Circle, Shape
from irspot.workflow.zone_ground import Ground, ground_of
from irspot.workflow.zones_job import ZonesJob
from irspot.workflow.zones_placing import reading_of, stated


@dataclass(frozen=True, slots=True)
class MadeZones:
    """Zones, the board file that holds them, and what is worth knowing.

    Parameters
    ----------
    zones : tuple of Zone
        The new ones.
    board : Board
        With them.
    content : bytes
        Of the board file.
    notes, warnings : tuple of str
    problems : tuple of Problem
        Warnings of the board reader.
    """

    zones: tuple[Zone, ...]
    board: Board
    content: bytes
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()


class Misfit(FileInvalid):
    """Parts that do not lie on the board: with their zones, so that they can be shown.

    Parameters
    ----------
    problem : Problem
    zones : tuple of Zone
    board : Board
    notes : tuple of str
    """

    code = "misfit"

    def __init__(self, problem: Problem, zones: tuple[Zone, ...], board: Board, notes: tuple[str, ...]) -> None:
        super().__init__((problem,))
        self.zones = zones
        self.board = board
        self.notes = notes


def zones_from_list(job: ZonesJob) -> MadeZones:
    """Make zones of the parts of a list, and the board file that holds them; nothing is written.

    Parameters
    ----------
    job : ZonesJob

    Returns
    -------
    MadeZones

    Raises
    ------
    FileInvalid
        For whatever is wrong with a file; `Misfit` where parts do not lie on the board.
    UsageError
        If something must be said first: the unit, how the rear is given, what a chip code means.
    """
    parts = read_part_list(job.list_file, job.unit, job.list_side)
    ground = ground_of(job.ground, f"Zones of the parts in {job.list_file.name}.")
    unit_stated = bool(parts.unit) and not job.unit
    in_mm = stated(parts, ground)
    chosen = _chosen(in_mm, job)
    reading, notes = reading_of(in_mm, chosen, job, ground)
    assert reading.plane is not None
    placing = Placing(reading.plane, reading.rear, ground.outline.box_mm[2])
    named, warnings = _named(chosen, job)
    sized, unsized = _sized(named, job, in_mm)
    zones = tuple(_zone(part, size, placing, job) for part, size in sized)
    notes = (*ground.notes, *parts.notes, *notes)
    # Parts of a side that is not wanted may be given in whatever way.
    sides = {part.side for part in chosen}
    judged = replace(in_mm, parts=tuple(part for part in in_mm.parts if part.side in sides))
    _refuse_misfits(zones, judged, reading, ground, notes, unit_stated=unit_stated)
    tables = {"zone": [zone_table(zone) for zone in zones]}
    content, board, problems = with_tables(ground.text, ground.path, tables, replace=job.replace)
    warnings = (*parts.warnings, *warnings, *unsized, *_odd_turns([part for part, _ in sized]))
    return MadeZones(zones, board, content, notes, warnings, problems)


def _chosen(parts: PartList, job: ZonesJob) -> tuple[Part, ...]:
    chosen = selected(parts.parts, job.only, job.leave_out)
    chosen = tuple(part for part in chosen if job.side in (None, part.side))
    if not chosen:
        refs = few([part.ref for part in parts.parts])
        wanted = "a pattern such as 'Q*' that matches one"
        raise FileInvalid((Problem("none of the parts is wanted", parts.file, "", refs, wanted),))
    return chosen


def _named(parts: Sequence[Part], job: ZonesJob) -> tuple[tuple[Part, ...], tuple[str, ...]]:
    """Give every part a designator of its own that an id of a zone may be."""
    tidied = tuple(replace(part, ref=zone_id(part.ref)) for part in parts)
    pairs = zip(parts, tidied, strict=True)
    warnings = [f"'{old.ref}' becomes '{new.ref}'" for old, new in pairs if old.ref != new.ref]
    again = duplicated(tidied)
    same = {id(part) for first, part in again if replace(first, line=0) == replace(part, line=0)}
    differing = [(first, part) for first, part in again if id(part) not in same]
    if same:
        warnings.append(f"parts that stand twice at one place, taken once: {len(same)}")
    if differing and not job.number_duplicates:
        first, part = differing[0]
        more = f", and {len(differing) - 1} more" if len(differing) > 1 else ""
        apart = np.hypot(part.x_mm - first.x_mm, part.y_mm - first.y_mm)
        message = f"'{part.ref}' stands on line {first.line} too, {apart:.2f} mm away{more}"
        hint = "of a panel give the list of one board; or --duplicates number"
        raise FileInvalid((Problem(message, str(job.list_file), f"line {part.line}", hint=hint),))
    kept = [part for part in tidied if id(part) not in same]
    return _numbered(kept), tuple(warnings)


def _numbered(parts: Sequence[Part]) -> tuple[Part, ...]:
    taken: set[str] = set()
    named = []
    for part in parts:
        ref, number = part.ref, 1
        while ref.casefold() in taken:
            number += 1
            ref = f"{part.ref[:58]}-{number}"
        taken.add(ref.casefold())
        named.append(replace(part, ref=ref))
    return tuple(named)


def zone_id(ref: str) -> str:
    """Make an id of a zone of a designator.

    Examples
    --------
    >>> zone_id("Q12"), zone_id("U1/A"), zone_id("+12V"), zone_id("elsewhere")
    ('Q12', 'U1-A', 'x-12V', 'part-elsewhere')
    """
    tidy = re.sub(r"[^A-Za-z0-9._-]", "-", ref)[:60]
    if tidy.casefold() == "elsewhere":
        return f"part-{tidy}"
    return tidy if re.match(r"[A-Za-z0-9]", tidy) else f"x{tidy}"


def _sized(parts: Sequence[Part], job: ZonesJob, whole: PartList) -> tuple[list[tuple[Part, Size]], tuple[str, ...]]:
    sized, without = [], []
    for part in parts:
        size = job.sizes.size_of(part)
        if isinstance(size, Ambiguous):
            words = chip_code_words(size, [other.package for other in whole.parts])
            place = f"line {part.line}"
            raise FileInvalid(
                (Problem(f"the size of {part.ref} is open", whole.file, place, part.package, hint=words),)
            )
        if size is None:
            without.append(part)
        else:
            sized.append((part, size))
    if not without:
        return sized, ()
    packages = few(list(dict.fromkeys(f"'{part.package}'" if part.package else "none" for part in without)))
    refs = few([part.ref for part in without])
    words = f"parts without a size, left out: {len(without)} ({refs}); their packages: {packages}"
    hint = "give --packages FILE.csv with package, length_mm, width_mm, or --default-size-mm"
    if not sized:
        raise FileInvalid((Problem("no part has a size", whole.file, found=f"packages {packages}", hint=hint),))
    return sized, (f"{words}; {hint}",)


def _odd_turns(parts: Sequence[Part]) -> tuple[str, ...]:
    """Say that lists differ in which way parts of the rear turn; by quarters it is the same either way."""
    odd = [part.ref for part in parts if part.side == "rear" and part.rotation_deg % 90.0 != 0.0]
    if not odd:
        return ()
    way = "counter-clockwise on the side that places are seen from"
    return (f"parts of the rear that stand askew: {len(odd)} ({few(odd)}), taken as turned {way}: see the preview",)


def _zone(part: Part, size: Size, placing: Placing, job: ZonesJob) -> Zone:
    return Zone(
        id=part.ref,
        shape=placing.shape(part, size),
        role=job.roles.role_of(part.ref),
        side=part.side,
        height_mm=size.height_mm or 0.0,
        material=job.material,
        measures="case",
    )


def _refuse_misfits(
    zones: tuple[Zone, ...],
    parts: PartList,
    by: Reading,
    ground: Ground,
    notes: tuple[str, ...],
    *,
    unit_stated: bool,
) -> None:
    """Refuse zones outside the outline, and lists that all lie in one corner; say by what they would fit."""
    outside = [zone for zone in zones if not touches(zone.shape, ground)]
    fit = fit_of(parts, ground.outline, replace(by, origin=None))
    if not outside and (fit.good or fit.inside < 1.0):
        return
    others = proposals(parts, ground.outline, by, unit_stated=unit_stated)
    if not outside and not others:
        return
    if outside:
        x, y = middle_of(outside[0].shape)
        found = f"{outside[0].id} at {x:.1f}, {y:.1f} mm"
        message = f"{len(outside)} of {len(zones)} parts lie outside the outline"
    else:
        found = f"across {100.0 * fit.spread:.1f} % of it"
        message = "all parts lie in one corner of the board"
    hint = f"the list fits with {', or with '.join(others)}" if others else _no_way(parts, outside, ground)
    problem = Problem(message, parts.file, found=found, hint=hint)
    raise Misfit(problem, zones, ground.board, notes)


def _no_way(parts: PartList, outside: Sequence[Zone], ground: Ground) -> str:
    xy = np.array([(part.x_mm, part.y_mm) for part in parts.parts])
    width, height = np.ptp(xy, axis=0)
    _, _, board_width, board_height = ground.outline.box_mm
    reach = f"places reach over {width:.1f} x {height:.1f} mm, the board over {board_width:g} x {board_height:g} mm"
    if len(outside) < 0.03 * len(parts.parts):
        return f"leave them out with --leave-out '{outside[0].id}', or check the outline"
    return (
        f"no usual unit, side or corner puts them inside ({reach}); give two parts' places with --point REF=x_mm,y_mm"
    )


def touches(shape: Shape, ground: Ground) -> bool:
    """Say whether any of a shape's border lies on the board."""
    points = shape.border_points(0.5)
    return bool(ground.outline.contains(points[:, 0], points[:, 1]).any())


def middle_of(shape: Shape) -> tuple[float, float]:
    """Give the middle of a shape's box."""
    x0, y0, x1, y1 = shape.box_mm
    return 0.5 * (x0 + x1), 0.5 * (y0 + y1)


def zone_table(zone: Zone) -> dict[str, Any]:
    """Write a zone of a part as a board file has it."""
    table: dict[str, Any] = {"id": zone.id}
    if zone.role:
        table["role"] = zone.role
    table["side"] = zone.side
    table |= shape_keys(zone.shape)
    if zone.height_mm:
        table["height_mm"] = zone.height_mm
    if zone.material:
        table["material"] = zone.material
    table["measures"] = zone.measures
    return table


def shape_keys(shape: Shape) -> dict[str, Any]:
    """Write a shape as a board file has it: a rectangle along the axes by its corner and size."""
    if isinstance(shape, Circle):
        return {"circle_mm": [shape.x_mm, shape.y_mm, shape.radius_mm]}
    x0, y0, x1, y1 = shape.box_mm
    if shape.vertices_mm == ((x0, y0), (x1, y0), (x1, y1), (x0, y1)):
        return {"rect_mm": [x0, y0, round(x1 - x0, 9), round(y1 - y0, 9)]}
    return {"polygon_mm": [list(corner) for corner in shape.vertices_mm]}
