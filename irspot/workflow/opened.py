"""A run's files opened, and what the study says about reading them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from irspot.color_wish import BarScale, ColorWish, ScaleLog
from irspot.conditions import Conditions
from irspot.constants import DEFAULT_U_REFLECTED_K
from irspot.errors import IrspotError, Problem
from irspot.frame import FrameSource
from irspot.study import Run
from irspot.workflow.tasks import MeasureTask


def conditions_of(run: Run) -> Conditions:
    """Gather a run's conditions."""
    return Conditions(
        ambient_degc=run.ambient_degc,
        u_ambient_k=run.u_ambient_k,
        reflected_degc=run.reflected_degc,
        u_reflected_k=DEFAULT_U_REFLECTED_K if run.u_reflected_k is None else run.u_reflected_k,
        transmission=run.transmission,
        u_transmission=run.u_transmission,
        window_degc=run.window_degc,
    )


def wish_of(run: Run) -> ColorWish:
    """Gather what a run says about colour bars: labels are read only where the study asks for it."""
    given = run.color_scale_degc
    scale = BarScale.of_ends(*given) if isinstance(given, tuple) else None
    log = given if isinstance(given, ScaleLog) else None
    return ColorWish(scale=scale, printed=given == "printed", ambient_degc=run.ambient_degc, log=log)


@dataclass(frozen=True, slots=True)
class Opened:
    """One of a run's stills or recordings, or why there is none.

    Parameters
    ----------
    file_index : int
    name : str
        How tables name it if it is a recording.
    source : FrameSource or None
    problems : tuple of Problem
    """

    file_index: int
    name: str
    source: FrameSource | None
    problems: tuple[Problem, ...] = ()


def opened_files(task: MeasureTask) -> Iterator[Opened]:
    """Open what a run reports: each still, or its recording.

    Yields
    ------
    Opened
        A file that cannot be opened is a problem; the others follow all the same.
    """
    from irspot.workflow.open_any import open_any
    from irspot.workflow.readout import Joined

    run, wish = task.run, wish_of(task.run)
    if run.recording and len(run.frame_files) > 1:
        joined = Joined(tuple(open_any(file, run.camera, wish) for file in run.frame_files))
        yield Opened(0, f"{run.frame_files[0].name}..{run.frame_files[-1].name}", joined)
        return
    for index, file in enumerate(run.frame_files):
        try:
            yield Opened(index, file.name, open_any(file, run.camera, wish))
        except IrspotError as error:
            yield Opened(index, file.name, None, error.problems())


def opened_sources(task: MeasureTask) -> tuple[FrameSource, ...]:
    """Open all files of a run.

    Raises
    ------
    IrspotError
        If one cannot be opened.
    """
    from irspot.workflow.open_any import open_any

    return tuple(open_any(file, task.run.camera, wish_of(task.run)) for file in task.run.frame_files)
