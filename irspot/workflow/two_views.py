"""Two frames of one board from files, compared: what ``irspot twoview`` does."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from irspot.conditions import Conditions
from irspot.constants import METHOD
from irspot.two_views import ZoneInTwoViews
from irspot.version import __version__
from irspot.workflow.place_file import PlaceJob, PlaceResult, place_file
from irspot.workflow.provenance import file_digest, names_of, placement_json

if TYPE_CHECKING:
    from irspot.registration.placement import Placement

TABLE: Final = "two_views.csv"
_FEW: Final = 3


@dataclass(frozen=True, slots=True)
class TwoViewJob:
    """What to compare.

    Parameters
    ----------
    a, b : PlaceJob
        Of one board file, camera file and side.
    conditions : Conditions
        Of both.
    """

    a: PlaceJob
    b: PlaceJob
    conditions: Conditions

    @property
    def inputs(self) -> list[Path]:
        """Every file that is read."""
        return list(dict.fromkeys([*self.a.inputs, *self.b.inputs]))


@dataclass(frozen=True, slots=True)
class TwoViewResult:
    """What two views gave.

    Parameters
    ----------
    job : TwoViewJob
    a, b : PlaceResult
    pairs : tuple of ZoneInTwoViews
    """

    job: TwoViewJob
    a: PlaceResult
    b: PlaceResult
    pairs: tuple[ZoneInTwoViews, ...]


def compare_files(job: TwoViewJob) -> TwoViewResult:
    """Read, place and compare two frames.

    Parameters
    ----------
    job : TwoViewJob

    Returns
    -------
    TwoViewResult

    Raises
    ------
    IrspotError
        Whatever is wrong with a file or a placement, in one line.
    """
    from irspot.measurement.two_views import View, compare_views

    a, b = place_file(job.a), place_file(job.b)
    views = View(a.frame, placement_of(a)), View(b.frame, placement_of(b))
    return TwoViewResult(job, a, b, compare_views(*views, a.board, job.conditions))


def placement_of(result: PlaceResult) -> Placement:
    """Take the placement of a frame that needs one.

    Raises
    ------
    PlacementRefused
        With the reason.
    """
    if result.placement is None:
        assert result.refusal is not None
        raise result.refusal
    return result.placement


def notes_on(pairs: tuple[ZoneInTwoViews, ...]) -> Iterator[str]:
    """Say what all zones together make doubtful: the placements, or the board's state."""
    moved = [pair for pair in pairs if pair.verdict == "moved"]
    if len(moved) >= _FEW and not any(pair.verdict == "steady" for pair in pairs):
        yield "no hot spot stayed where it was: check both placements (irspot place -o), tops and sides"
    stayed = [pair for pair in pairs if pair.verdict != "moved" and math.isfinite(pair.difference_k)]
    hotter = [pair.difference_k > 0.0 for pair in stayed if pair.view_dependent]
    if len(hotter) >= _FEW and 2 * len(hotter) > len(stayed) and len(set(hotter)) == 1:
        yield f"most zones read hotter in {'A' if hotter[0] else 'B'}: was the board in the same state both times?"


def two_view_document(result: TwoViewResult, outputs: dict[str, str]) -> dict[str, Any]:
    """Make the JSON of a comparison.

    Parameters
    ----------
    result : TwoViewResult
    outputs : dict of str to str
        Name → SHA-256 of files written.
    """
    from irspot.columns import TWO_VIEW_COLUMNS
    from irspot.exports.cells import json_value
    from irspot.exports.json_results import dictionary_json

    inputs = result.job.inputs
    return {
        "irspot": __version__,
        "method": METHOD,
        "inputs": {name: file_digest(file) for name, file in zip(names_of(inputs), inputs, strict=True)},
        "frames": [
            {
                "frame": view.frame.name,
                "time": view.frame.time_text,
                "reader_notes": list(view.frame.notes),
                "placement": placement_json(placement_of(view)),
            }
            for view in (result.a, result.b)
        ],
        "columns": dictionary_json(TWO_VIEW_COLUMNS),
        "rows": [{column.name: json_value(column, pair) for column in TWO_VIEW_COLUMNS} for pair in result.pairs],
        "notes": list(notes_on(result.pairs)),
        "outputs": outputs,
    }


def write_two_views(
    result: TwoViewResult, folder: Path, *, scale_degc: tuple[float, float] | None, cmap: str, size: tuple[int, int]
) -> dict[str, Any]:
    """Write the table, a picture of each view on one colour scale, and results.json.

    Parameters
    ----------
    result : TwoViewResult
    folder : Path
    scale_degc : tuple of float or None
    cmap : str
    size : tuple of int

    Returns
    -------
    dict
        What results.json says.

    Raises
    ------
    OutputRefused
        If writing would go over an input or a stranger's file.
    """
    from irspot.exports.json_results import dumps
    from irspot.exports.tables import two_views_csv
    from irspot.workflow.outputs import RESULTS, finish, refuse_inputs, refuse_strangers, write_set

    pictures = ("pictures/a.png", "pictures/b.png")
    refuse_inputs(folder, (TABLE, *pictures, RESULTS), result.job.inputs)
    refuse_strangers(folder, (TABLE, *pictures))
    files = {TABLE: two_views_csv(result.pairs)}
    files |= zip(pictures, _pictures(result, scale_degc, cmap, size), strict=True)
    document = two_view_document(result, write_set(folder, files))
    finish(folder, dumps(document))
    return document


def _pictures(
    result: TwoViewResult, scale_degc: tuple[float, float] | None, cmap: str, size: tuple[int, int]
) -> list[bytes]:
    from irspot.api import picture
    from irspot.measurement import measure_zones, surface_map
    from irspot.rendering import auto_scale
    from irspot.workflow.measure_run import robust_extremes

    board, conditions = result.a.board, result.job.conditions
    placed = [(view.frame, placement_of(view)) for view in (result.a, result.b)]
    readings = [measure_zones(frame, board, placement, conditions) for frame, placement in placed]
    if scale_degc is None:
        maps = [surface_map(frame, board, placement, conditions) for frame, placement in placed]
        scale_degc = auto_scale([robust_extremes(*each) for each in zip(maps, readings, strict=True)])
    moved = ", ".join(pair.zone for pair in result.pairs if pair.verdict == "moved")
    return [
        picture(
            frame,
            board,
            placement,
            own,
            scale_degc=scale_degc,
            cmap=cmap,
            size=size,
            load=f"view {name}; moved between the views: {moved or 'none'}",
        ).png_bytes()
        for (frame, placement), own, name in zip(placed, readings, "AB", strict=True)
    ]
