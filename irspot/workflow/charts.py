"""The charts of a study's conclusions: which there are, and each drawn as a task of its own."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Final

from irspot.errors import IrspotError, Problem
from irspot.results import RunLabel
from irspot.workflow.outputs import Content

if TYPE_CHECKING:
    from irspot.compare.values import Comparison, Ranking
    from irspot.rendering.charts import Chart
    from irspot.workflow.crosscheck_run import RunCrosscheck
    from irspot.workflow.soak_study import RunSoak

_LEAST_SAMPLES: Final = 5
"""Of a curve that is worth a chart."""


@dataclass(frozen=True, slots=True)
class ChartLook:
    """How charts are drawn.

    Parameters
    ----------
    size : tuple of int
        Width and height in px.
    theme : str
    """

    size: tuple[int, int] = (1920, 1080)
    theme: str = "dark"


DEFAULT_LOOK: Final = ChartLook()


@dataclass(frozen=True, slots=True)
class ChartTask:
    """A chart to be drawn.

    Parameters
    ----------
    what : str
        For progress and messages.
    draw : callable
    in_report : bool
        Whether the report shows it.
    """

    what: str
    draw: Callable[[], Chart]
    in_report: bool = False


@dataclass(frozen=True, slots=True)
class ChartDrawn:
    """A chart, or why there is none."""

    chart: Chart | None = None
    problems: tuple[Problem, ...] = ()
    in_report: bool = False


def draw_chart(task: ChartTask) -> ChartDrawn:
    """Draw one chart; whatever fails becomes a problem, never an error."""
    from irspot.workflow.measure_run import internal_problem

    try:
        return ChartDrawn(task.draw(), in_report=task.in_report)
    except IrspotError as error:
        return ChartDrawn(problems=error.problems())
    except Exception as error:  # a fault of ours in one chart must not take the others down; it is reported as such
        return ChartDrawn(problems=(internal_problem(error, task.what),))


def chart_died(task: ChartTask, reason: str) -> ChartDrawn:
    """Say of a chart that its worker ended abruptly."""
    return ChartDrawn(problems=(Problem(reason, key=f"chart {task.what}"),))


def chart_files(drawn: Sequence[ChartDrawn]) -> dict[str, Content]:
    """Give charts/NAME.svg and charts/NAME.png of every chart; names alike but for case are numbered."""
    files: dict[str, Content] = {}
    taken: set[str] = set()
    for each in drawn:
        if each.chart is not None:
            name, number = each.chart.name, 2
            while name.lower() in taken:
                name, number = f"{each.chart.name}-{number}", number + 1
            taken.add(name.lower())
            files[f"charts/{name}.svg"] = each.chart.svg
            files[f"charts/{name}.png"] = each.chart.png
    return files


def chart_problems(drawn: Sequence[ChartDrawn]) -> tuple[Problem, ...]:
    """Give what failed."""
    return tuple(problem for each in drawn for problem in each.problems)


def comparison_charts(made: Comparison | None, batch_now: str, look: ChartLook) -> Iterator[ChartTask]:
    """List a ranking for every load, role and side that several boards have, and prices of the hottest role."""
    from irspot.rendering.charts import price_chart, ranking_chart
    from irspot.rendering.charts.price import priced

    rankings = () if made is None else made.rankings
    for ranking in rankings:
        if len(ranking.rows) + len(ranking.apart) < 2 or not ranking.rows:
            continue
        what, hottest = f"{ranking.load} {ranking.role} {ranking.side}", _is_hottest(ranking, rankings)
        draw = partial(ranking_chart, ranking, batch_now, size=look.size, theme=look.theme)
        yield ChartTask(f"ranking {what}", draw, hottest)
        if hottest and len(priced(ranking)) > 1 and len({row.currency for row in priced(ranking)}) == 1:
            yield ChartTask(f"price {what}", partial(price_chart, ranking, batch_now, size=look.size, theme=look.theme))


def _is_hottest(ranking: Ranking, rankings: Sequence[Ranking]) -> bool:
    """Say whether no other role under the load gets as hot."""
    return _peak(ranking) >= max(_peak(other) for other in rankings if other.load == ranking.load)


def _peak(ranking: Ranking) -> float:
    return max((row.value_degc for row in ranking.rows if row.value_degc == row.value_degc), default=float("-inf"))


def batch_of(batches: Sequence[str]) -> str:
    """Give the batch that today's boards are of: that of most of them; empty where none is stated."""
    stated = [batch for batch in batches if batch]
    return max(dict.fromkeys(stated), key=stated.count) if stated else ""


def soak_charts(soaks: Sequence[RunSoak], look: ChartLook) -> Iterator[ChartTask]:
    """List a chart for every run that was watched over time."""
    from irspot.rendering.charts import SoakShown, soak_chart
    from irspot.rendering.charts.soak import has_curve

    for each in soaks:
        if not each.rows or max((len(series.time_s) for series in each.zones), default=0) < _LEAST_SAMPLES:
            continue
        readings = tuple(row.reading for row in each.rows)
        shown = SoakShown(each.run_id, _title(each.rows[0].label), each.zones, readings, each.ambient)
        if has_curve(shown):
            draw = partial(soak_chart, shown, size=look.size, theme=look.theme)
            yield ChartTask(f"soak {each.run_id}", draw, in_report=True)


def _title(label: RunLabel) -> str:
    return f"{label.board}, {label.load}, {label.side}: the soak"


def bead_charts(checked: Sequence[RunCrosscheck], look: ChartLook) -> Iterator[ChartTask]:
    """List a chart for every bead that was watched beside the image."""
    from irspot.rendering.charts import bead_chart
    from irspot.workflow.crosscheck_bead import sentence

    for each in checked:
        by_name = {(series.kind, series.name): series for series in each.timeline}
        for reading in dict.fromkeys(row.reading for row in each.rows):
            bead, zone = by_name.get(("bead", reading.site)), by_name.get(("zone", reading.hot_zone))
            if bead is None or zone is None or len(zone.known.time_s) < _LEAST_SAMPLES:
                continue
            draw = partial(bead_chart, each.run_id, bead, zone, sentence(reading), size=look.size, theme=look.theme)
            yield ChartTask(f"bead {each.run_id} {reading.site}", draw, in_report=True)
