"""How places of a part position list become places of the board: what is stated, and what must be asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, NoReturn

import numpy as np

from irspot.errors import FileInvalid, Problem, UsageError
from irspot.layout.part import Part, PartList
from irspot.layout.placing import CORNERS, REAR_WAYS, Rear, corner_plane, plane_by_points
from irspot.layout.plane import Plane, shifted
from irspot.layout.plausible import Reading, fit_of, units_of_about
from irspot.workflow.zone_ground import Ground
from irspot.workflow.zones_job import ZonesJob


def stated(parts: PartList, ground: Ground) -> PartList:
    """Give the list; one whose unit nobody has stated is refused, the likely one proposed.

    Raises
    ------
    FileInvalid
    """
    if parts.unit:
        return parts
    hint = "say --unit mm, mil or inch"
    fitting = units_of_about(parts, ground.outline)
    if len(fitting) == 1:
        hint = f"on this board they can only be in {fitting[0]}: say --unit {fitting[0]}"
    elif fitting:
        hint = f"on this board they can be in {' or '.join(fitting)}: say which with --unit"
    found = ", ".join(f"{part.ref} at {part.x_mm:g}, {part.y_mm:g}" for part in parts.parts[:2])
    raise FileInvalid((Problem("states no unit of its places", parts.file, "", found, hint=hint),))


def reading_of(
    parts: PartList, chosen: Sequence[Part], job: ZonesJob, ground: Ground
) -> tuple[Reading, tuple[str, ...]]:
    """Decide how places of the list become places of the board, and say so.

    Parameters
    ----------
    parts : PartList
    chosen : sequence of Part
        Those wanted: of others nobody must say how they are given.
    job : ZonesJob
    ground : Ground

    Raises
    ------
    FileInvalid
        If the points given contradict the list.
    UsageError
        If it must be said how the list gives parts of the rear.
    """
    has_rear = any(part.side == "rear" for part in chosen)
    rear = job.rear or "as-listed"
    unit = parts.unit
    words: tuple[str, ...] = ()
    if job.points:
        plane, found = _by_points(parts, rear, job, ground)
        by = Reading(unit, rear, None, plane)
        words = (found,)
    elif isinstance(job.origin, tuple):
        by = Reading(unit, rear, None, shifted(*job.origin))
        words = (f"the list counts from {job.origin[0]:g}, {job.origin[1]:g} mm on the board",)
    elif job.origin is None and ground.drawing is not None:
        by = Reading(unit, rear, None, ground.drawing)
        words = ("the list counts from where the outline's drawing does",)
    else:
        corner = job.origin or CORNERS[0]
        by = Reading(unit, rear, corner, corner_plane(corner, ground.outline))
        words = (f"the list counts from the outline's {corner} corner",)
    if has_rear and job.rear is None:
        _ask_how_rear(parts, by, ground)
    if has_rear:
        words = (*words, f"parts of the rear are {_REAR_WORDS[rear]}")
    return by, words


_REAR_WORDS: Final[dict[Rear, str]] = {
    "as-listed": "taken as seen from the front (as-listed)",
    "mirrored": "taken as seen from behind and turned over about the board's middle (mirrored)",
    "negated": "taken with the sign of x turned round (negated)",
}


def _by_points(parts: PartList, rear: Rear, job: ZonesJob, ground: Ground) -> tuple[Plane, str]:
    if len(job.points) < 2:
        raise UsageError("one --point tells no turn", wanted="two parts far from one another")
    by_ref = {part.ref.casefold(): part for part in reversed(parts.parts)}
    source, target = [], []
    for ref, x_mm, y_mm in job.points:
        part = by_ref.get(ref.casefold())
        if part is None:
            from irspot.files.findings import known_or_list

            hint = known_or_list(ref, [part.ref for part in parts.parts], "part")
            raise FileInvalid((Problem(f"has no part '{ref}', which --point names", parts.file, hint=hint),))
        on_rear = part.side == "rear"
        source.append((-part.x_mm if on_rear and rear == "negated" else part.x_mm, part.y_mm))
        # A part seen from behind is turned over last, so its place is turned over first.
        over = on_rear and rear == "mirrored"
        target.append((ground.outline.box_mm[2] - x_mm if over else x_mm, y_mm))
    names = [ref for ref, _, _ in job.points]
    plane, words = plane_by_points(np.array(source), np.array(target), names, parts.unit)
    if plane is None:
        raise FileInvalid((Problem("cannot be placed by --point", parts.file, found=words),))
    return plane, words


def _ask_how_rear(parts: PartList, by: Reading, ground: Ground) -> NoReturn:
    ways = [way for way in REAR_WAYS if fit_of(parts, ground.outline, replace(by, origin=None, rear=way)).good]
    count = sum(part.side == "rear" for part in parts.parts)
    hint = "give --bottom as-listed, mirrored or negated"
    if len(ways) == 1:
        hint = f"on this board only --bottom {ways[0]} puts them inside the outline"
    elif ways:
        hint = f"--bottom {' or --bottom '.join(ways)}; look at --preview, or --leave-out them"
    raise UsageError(
        f"{count} parts are on the rear, and lists differ in how they give these", file=parts.file, hint=hint
    )
