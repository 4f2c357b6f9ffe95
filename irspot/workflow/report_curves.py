"""What a report draws of runs over time: zones, beads, air, power and sensors on one clock."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

from irspot.series import Series
from irspot.workflow.conclusions import Conclusions
from irspot.workflow.tasks import RunResult

if TYPE_CHECKING:
    from irspot.rendering.report.values import Curve, Curves

_UNITS: Final = {"degC": "°C"}


def timelines(results: Sequence[RunResult], concluded: Conclusions) -> tuple[Curves, ...]:
    """Give the curves of every run that was watched over time, one drawing a unit.

    Parameters
    ----------
    results : sequence of RunResult
    concluded : Conclusions
    """
    return tuple(curves for result in results for curves in _of_run(result, concluded))


def _of_run(result: RunResult, concluded: Conclusions) -> Iterator[Curves]:
    from irspot.rendering.report.values import Curves

    by_unit: dict[str, list[Series]] = {}
    for series in _series(result, concluded):
        if series.time_s.size > 1:
            by_unit.setdefault(series.unit, []).append(series)
    for unit, found in by_unit.items():
        kinds = ", ".join(dict.fromkeys(_KINDS[series.kind] for series in found))
        yield Curves(f"{result.run_id}: {kinds}", _UNITS.get(unit, unit), tuple(_curve(series) for series in found))


_KINDS: Final = {
    "zone": "maxima of its zones",
    "bead": "beads",
    "ambient": "air",
    "power": "power",
    "clock": "clock",
    "sensor": "the board's own sensors",
}


def _series(result: RunResult, concluded: Conclusions) -> Iterator[Series]:
    """Give a run's zones, as its own table has them where there is one, and what was logged beside them."""
    logged = [series for each in concluded.checked if each.run_id == result.run_id for series in each.timeline]
    zones = () if result.series is None else result.series.zones
    yield from zones or (series for series in logged if series.kind == "zone")
    yield from (series for series in logged if series.kind != "zone")


def _curve(series: Series) -> Curve:
    from irspot.rendering.report.values import Curve

    return Curve(series.name, series.kind, tuple(series.time_s.tolist()), tuple(series.value.tolist()))
