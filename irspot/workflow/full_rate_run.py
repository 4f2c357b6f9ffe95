"""A run's recording taken frame by frame, from its files to what writes its table."""

from __future__ import annotations

from irspot.errors import IrspotError, Problem
from irspot.frame import FrameSource
from irspot.readers.plain import plain_of
from irspot.workflow.full_rate import Counting, Extraction, extract, uncounted
from irspot.workflow.full_rate_table import FullRate
from irspot.workflow.opened import opened_sources
from irspot.workflow.readout import Joined
from irspot.workflow.stretches import stretches_of
from irspot.workflow.tasks import MeasureTask, RunSeries
from irspot.workflow.zone_series import every_frame, times_of, unplaced_warning


def full_rate_series(task: MeasureTask, counting: Counting = uncounted) -> tuple[RunSeries | None, tuple[Problem, ...]]:
    """Take every frame of a run's recording.

    Parameters
    ----------
    task : MeasureTask
        With `part`, where what was found is kept.
    counting : callable
        Told frames done, and frames in all.

    Returns
    -------
    RunSeries
    tuple of Problem
        What is worth a warning.

    Raises
    ------
    IrspotError
        If a file cannot be read, or nothing says when its frames were taken.
    """
    sources = opened_sources(task)
    source: FrameSource = sources[0] if len(sources) == 1 else Joined(sources)
    first = source.frame(0)
    if first.u_decode_k is not None:
        return every_frame(task)
    if task.part is None:
        raise IrspotError("every frame of a recording is taken into a folder, and none is given", key=task.run.id)
    times = times_of(task, sources)
    stretches = tuple(stretches_of(task, source, times))
    extraction = Extraction(task, source, plain_of(source), stretches)
    extract(extraction, task.part, task.processes, counting)
    made = FullRate(task, task.part, extraction.layout, first.stored.dtype, stretches, times.time_s)
    lost = [stretch.refusal for stretch in stretches if stretch.refusal is not None]
    frames = sum(stretch.stop - stretch.first for stretch in stretches if stretch.placement is None)
    return RunSeries(made.zones(), full_rate=made), unplaced_warning(lost, frames, source.count)
