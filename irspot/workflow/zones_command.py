"""Zones made, shown and written: the steps round what makes them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from irspot.atomic import write_atomic
from irspot.board import Zone
from irspot.errors import Problem, UsageError
from irspot.layout.outline import kind_of
from irspot.workflow.zone_ground import GroundWish, ground_of
from irspot.workflow.zone_preview import refuse_preview, write_preview
from irspot.workflow.zones_fit import FitJob, fit_zones
from irspot.workflow.zones_from import MadeZones, Misfit, shape_keys, zones_from_list
from irspot.workflow.zones_job import ZonesJob

_MOST_SAID: Final = 6


@dataclass(frozen=True, slots=True)
class Done:
    """What was made and written.

    Parameters
    ----------
    zones : tuple of Zone
    notes, warnings : tuple of str
    problems : tuple of Problem
        Warnings of the board reader.
    written : tuple of Path
    """

    zones: tuple[Zone, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    problems: tuple[Problem, ...]
    written: tuple[Path, ...]

    def table(self) -> list[list[str]]:
        """Give the zones as lines of cells below a header: middle and extent along x and y."""
        rows = [["zone", "side", "role", "x_mm", "y_mm", "across_x_mm", "across_y_mm", "height_mm"]]
        for zone in self.zones:
            x0, y0, x1, y1 = zone.shape.box_mm
            numbers = (0.5 * (x0 + x1), 0.5 * (y0 + y1), x1 - x0, y1 - y0, zone.height_mm)
            rows.append([zone.id, zone.side, zone.role, *(f"{number:.3f}" for number in numbers)])
        return rows

    def document(self) -> dict[str, Any]:
        """Give the zones and what was said for a script."""
        zones = [
            {"id": zone.id, "side": zone.side, "role": zone.role, **shape_keys(zone.shape), "height_mm": zone.height_mm}
            for zone in self.zones
        ]
        return {
            "zones": zones,
            "notes": list(self.notes),
            "warnings": [*self.warnings, *map(str, self.problems)],
            "written": [str(path) for path in self.written],
        }


def make_zones(job: ZonesJob | FitJob, *, preview: Path | None, size: tuple[int, int]) -> Done:
    """Make zones, draw them, and write the board file.

    Parameters
    ----------
    job : ZonesJob or FitJob
        A list of parts, a profile layer or drawing alone, which makes a board without zones, or another board's zones.
    preview : Path or None
        Picture to write, also of zones that are refused.
    size : tuple of int
        Of the picture, px.

    Raises
    ------
    IrspotError
        Whatever is wrong; nothing but the picture is written then.
    """
    if preview is not None:
        refuse_preview(preview)
    source = job.template if isinstance(job, FitJob) else job.list_file
    try:
        made = fit_zones(job) if isinstance(job, FitJob) else _of_layout_file(job)
    except Misfit as misfit:
        if preview is not None:
            words = str(misfit).split(": ", 1)[-1]
            shown = (misfit.board, misfit.zones)
            write_preview(preview, *shown, facts=misfit.notes, subtitle=source.name, size=size, refused=words)
        raise
    written = []
    if preview is not None:
        write_preview(preview, made.board, made.zones, facts=made.notes, subtitle=source.name, size=size)
        written.append(preview)
    if job.ground.output is not None:
        write_atomic(job.ground.output, made.content)
        written.append(job.ground.output)
    return Done(made.zones, made.notes, made.warnings, _first(made.problems), tuple(written))


def _of_layout_file(job: ZonesJob) -> MadeZones:
    if job.list_file.suffix.lower() == ".toml":
        hint = "--fit fits a board file's zones onto another board"
        raise UsageError("FILE is a board file", file=str(job.list_file), hint=hint)
    return _outline_alone(job) if kind_of(job.list_file) else zones_from_list(job)


def _first(problems: Sequence[Problem]) -> tuple[Problem, ...]:
    """Leave it at the first few warnings of the board reader, and say how many more there are."""
    if len(problems) <= _MOST_SAID:
        return tuple(problems)
    more = f"{len(problems) - _MOST_SAID} more warnings"
    hint = "irspot check of a study with this board lists them all"
    return (*problems[:_MOST_SAID], Problem(more, problems[0].file, hint=hint, severity="warning"))


def _outline_alone(job: ZonesJob) -> MadeZones:
    """Make a board of a profile layer or drawing."""
    wish = job.ground
    if wish.board_file or wish.outline_file or wish.size_mm or (wish.output is not None and wish.output.exists()):
        hint = "give a part position list for zones, or an output that is not there yet for the outline"
        raise UsageError("FILE is an outline, and the board has one already", file=str(job.list_file), hint=hint)
    only = GroundWish(output=wish.output, outline_file=job.list_file, outline_layer=wish.outline_layer, name=wish.name)
    ground = ground_of(only, f"Outline from {job.list_file.name}.")
    return MadeZones((), ground.board, ground.text.encode(), ground.notes)
