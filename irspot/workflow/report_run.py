"""report.html of a study: its values gathered from what measuring, drawing and concluding gave."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from irspot.columns import TableRow
from irspot.results import Row
from irspot.study import Run, Study
from irspot.uncertain import expanded, with_uncertainty
from irspot.version import __version__
from irspot.workflow.charts import ChartDrawn
from irspot.workflow.conclusions import Conclusions
from irspot.workflow.crosscheck_study import place_lines
from irspot.workflow.report_curves import timelines
from irspot.workflow.report_method import (
    camera_table,
    cautions,
    digest_table,
    emissivity_table,
    method_facts,
    when_table,
)
from irspot.workflow.tasks import FrameFacts, RunResult

if TYPE_CHECKING:
    from irspot.compare.values import Comparison
    from irspot.rendering.report.shown import ShownFrame
    from irspot.rendering.report.values import Report, ReportFrame

REPORT: Final = "report.html"
MOST_IMAGES: Final = 3
"""Frames of a run that the report shows, its last ones: a page that holds a film would not open on a phone."""
MOST_CHARTS: Final = 12
"""Embedded: each takes about 0.15 MB."""

Shown = Mapping[tuple[str, int], "ShownFrame"]
"""Run id and file index → what the page shows of that frame."""


def frames_in_report(frames: Sequence[FrameFacts]) -> frozenset[int]:
    """Choose the frames of a run that are shown, by their file index."""
    return frozenset(sorted(fact.file_index for fact in frames)[-MOST_IMAGES:])


def study_report(
    study: Study,
    made: tuple[Sequence[RunResult], Conclusions, Comparison | None],
    shown: Shown,
    found: tuple[Sequence[str], Sequence[str]],
    digests: Mapping[str, str],
    settings: Mapping[str, Any],
    *,
    charts: Sequence[ChartDrawn] = (),
) -> bytes:
    """Make report.html.

    Parameters
    ----------
    study : Study
    made : tuple of sequence of RunResult, Conclusions, and Comparison or None
        What measuring gave, of each run; what was concluded from it; how the boards compare, where several can be.
    shown : mapping
    found : tuple of two sequences of str
        What failed, and warnings.
    digests : mapping of str to str
        Input → SHA-256.
    settings : mapping
        Of results.json.
    charts : sequence of ChartDrawn
        Those meant for the report are in it.
    """
    from irspot.rendering.report.page import report_html
    from irspot.rendering.report.values import Chart

    chosen = [each.chart for each in charts if each.chart is not None and each.in_report][:MOST_CHARTS]
    shown_charts = tuple(Chart(each.title, each.alt, each.svg) for each in chosen)
    return report_html(replace(_report(study, made, shown, found, digests, settings), charts=shown_charts))


def _report(
    study: Study,
    made: tuple[Sequence[RunResult], Conclusions, Comparison | None],
    shown: Shown,
    found: tuple[Sequence[str], Sequence[str]],
    digests: Mapping[str, str],
    settings: Mapping[str, Any],
) -> Report:
    from irspot.rendering.colors import color_scale
    from irspot.rendering.report.conclusions import crosscheck_table, soak_table
    from irspot.rendering.report.flag_notes import flags_explained
    from irspot.rendering.report.rankings import comparison_tables, said_of_limits
    from irspot.rendering.report.values import Report

    results, concluded, comparison = made
    rows = [row for result in results for row in result.rows]
    concluding: list[TableRow] = [*rows, *concluded.soaks, *concluded.crosschecks]
    low, high = settings["scale_degc"]
    scale = None if low is None else color_scale(settings["cmap"], (low, high))
    frames = tuple(
        frame
        for run, result in zip(study.runs, results, strict=True)
        for frame in _frames(study, run, result, {} if scale is None else shown)
    )
    return Report(
        title=study.title,
        version=__version__,
        done=(*_done(study, results, rows), *([] if comparison is None else said_of_limits(comparison))),
        counts=_counts(rows),
        problems=tuple(found[0]),
        warnings=tuple(found[1]),
        frames=frames,
        scale=scale,
        rankings=() if comparison is None else comparison_tables(comparison),
        soaks=(soak_table(concluded.soaks),) if concluded.soaks else (),
        checks=(crosscheck_table(concluded.crosschecks, place_lines(concluded.places)),)
        if concluded.crosschecks
        else (),
        charts=(),
        timelines=timelines(results, concluded),
        when=when_table(study.runs, results),
        method=method_facts(study, results, settings),
        cameras=camera_table(study.runs),
        emissivities=emissivity_table(study),
        digests=digest_table(digests),
        flags=flags_explained(name for row in concluding for name in row.reading.flags),
        cautions=cautions(),
    )


def _done(study: Study, results: Sequence[RunResult], rows: Sequence[Row]) -> tuple[str, ...]:
    runs = len(study.runs) + len(study.bad_runs)
    boards = len({run.board for run in study.runs})
    loads = len({run.load for run in study.runs})
    sides = " and ".join(dict.fromkeys(run.side for run in study.runs))
    frames = sum(len(result.frames) for result in results)
    measured = (
        f"{_many(boards, 'board')} under {_many(loads, 'load')}, {sides or 'no side'}: {_many(runs, 'run')}, "
        f"{_many(frames, 'frame')}, {_many(len(rows), 'reading')}."
    )
    failed = len(study.bad_runs) + sum(not result.rows for result in results)
    if failed:
        return measured, f"{_many(failed, 'run')} could not be evaluated; the summary says why."
    return (measured,)


def _many(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _counts(rows: Sequence[Row]) -> tuple[tuple[str, int], ...]:
    from irspot.flags import VERDICTS

    return tuple((verdict, sum(row.reading.verdict == verdict for row in rows)) for verdict in VERDICTS)


def _frames(study: Study, run: Run, result: RunResult, shown: Shown) -> list[ReportFrame]:
    """Give the frames of a run that the report tells of: those shown, or all where none was measured."""
    facts = {fact.name: fact for fact in result.frames}
    names = dict.fromkeys(row.reading.frame for row in result.rows)
    if facts:
        chosen = frames_in_report(result.frames)
        names = dict.fromkeys(name for name in names if name in facts and facts[name].file_index in chosen)
    return [_frame(study, run, result, name, facts.get(name), shown) for name in names]


def _frame(study: Study, run: Run, result: RunResult, name: str, fact: FrameFacts | None, shown: Shown) -> ReportFrame:
    from irspot.rendering.report.values import ReportFrame

    load = study.load(run.load)
    return ReportFrame(
        run=run.id,
        frame=name,
        board=run.board,
        board_name=study.board(run.board).board.name,
        load=run.load,
        side=run.side,
        facts=_facts(run, result, name, fact, load.description),
        rows=tuple(row for row in result.rows if row.reading.frame == name),
        shown=None if fact is None else shown.get((run.id, fact.file_index)),
        refusal="" if fact is None or fact.refusal is None else str(fact.refusal),
        set_aside=_set_aside(study, run),
    )


def _set_aside(study: Study, run: Run) -> str:
    by = [other.id for other in study.runs if other.replaces == run.id]
    told = [f"rejected, {run.rejected}" if run.rejected else "", f"replaced by {', '.join(by)}" if by else ""]
    return "; ".join(part for part in told if part)


def _facts(run: Run, result: RunResult, name: str, fact: FrameFacts | None, load: str) -> tuple[tuple[str, str], ...]:
    ambient = run.ambient_degc
    facts = [
        ("run", run.id),
        ("load", load),
        (
            "frame",
            name if len(result.frames) <= MOST_IMAGES else f"{name}, of {len(result.frames)}; the last are shown",
        ),
        ("taken", "" if fact is None else fact.time.replace("T", " ").replace("Z", " UTC")),
        ("ambient", "" if ambient is None else with_uncertainty(ambient, expanded(run.u_ambient_k), "°C")),
        ("power", "" if run.power_w is None else f"{run.power_w:g} W{_at(run)}"),
        ("sustained clock", "" if run.sustained_clock_ghz is None else f"{run.sustained_clock_ghz:g} GHz"),
        ("camera", run.camera.name),
        ("replaces", run.replaces),
        ("notes", run.notes),
    ]
    return tuple((name, value) for name, value in facts if value)


def _at(run: Run) -> str:
    return f" at the {run.power_point}" if run.power_point else ""
