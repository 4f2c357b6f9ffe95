"""Phase two: the pictures of a run, drawn from the readings of phase one on the study's scale."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Side
from irspot.conditions import Conditions
from irspot.errors import IrspotError, PlacementRefused
from irspot.frame import Frame
from irspot.uncertain import expanded, with_uncertainty
from irspot.workflow.camera_state import in_that_state
from irspot.workflow.even_frames import map_of_run
from irspot.workflow.measure_run import internal_problem, one_opencv_thread, still_frame
from irspot.workflow.opened import Opened, conditions_of, opened_files, wish_of
from irspot.workflow.photos import underlay_of
from irspot.workflow.tasks import Drawn, DrawTask, FrameFacts

if TYPE_CHECKING:
    from irspot.measurement import EmissivityMap
    from irspot.rendering import Caption, Underlay
    from irspot.rendering.report.shown import ShownFrame


def draw_run(task: DrawTask) -> Drawn:
    """Draw every frame of a run: its heat image, or what was seen where the board was not placed.

    Parameters
    ----------
    task : DrawTask

    Returns
    -------
    Drawn
        Its readings are those of phase one, so a picture says what the table says.
    """
    one_opencv_thread()
    try:
        return _drawn_run(task)
    except IrspotError as error:
        return Drawn(problems=error.problems())
    except Exception as error:  # as in phase one: reported, and the other runs go on
        return Drawn(problems=(internal_problem(error, task.task.run.id),))


@dataclass(frozen=True, slots=True, eq=False)
class Reread:
    """A frame that phase one measured, read once more to be drawn.

    Parameters
    ----------
    fact : FrameFacts
    name : str
        Of its picture.
    frame : Frame
    underlay : Underlay or None
    mapped : EmissivityMap or None
    """

    fact: FrameFacts
    name: str
    frame: Frame
    underlay: Underlay | None
    mapped: EmissivityMap | None

    def surface(self, task: DrawTask) -> NDArray[np.float32]:
        """Give the surface temperatures of its pixels."""
        from irspot.measurement import surface_map

        mapped = None if self.fact.placed is None else self.mapped
        board = self.fact.board or task.task.board
        return surface_map(self.frame, board, self.fact.placed, conditions_of(task.task.run), mapped)

    def caption(self, task: DrawTask) -> Caption:
        """Say what it shows."""
        run, mapped = task.task.run, self.mapped is not None
        return caption_of(task.task.board, task.load_label, run.side, conditions_of(run), self.frame, mapped=mapped)


def reread_frames(task: DrawTask) -> Iterator[Reread]:
    """Read the frames of a run that are to be drawn.

    Yields
    ------
    Reread
        In the order of the run's files.
    """
    wanted = {fact.file_index: (fact, name) for fact, name in zip(task.frames, task.names, strict=True)}
    run = task.task.run
    underlay = underlay_of(run.photo_file, run.photo, task.photo)
    mapped = None if task.even is None else map_of_run(run, task.task.board, wish_of(run), task.cold, task.even)
    for opened in opened_files(task.task):
        if opened.source is None or opened.file_index not in wanted:
            continue
        fact, name = wanted[opened.file_index]
        frame, _ = in_that_state(_frame_of(task, fact, opened), task.cold, run.camera_on_min)
        yield Reread(fact, name, frame, underlay, mapped)


def _drawn_run(task: DrawTask) -> Drawn:
    pictures, shown = [], []
    for each in reread_frames(task):
        fact = each.fact
        in_report = fact.file_index in task.in_report
        # One map of temperatures for both: a refused frame's picture draws the frame itself.
        surface = each.surface(task) if in_report or fact.placed is not None else None
        pictures.append((each.name, _drawn(task, each, surface)))
        if in_report and surface is not None:
            shown.append((fact.file_index, _shown(task, fact, surface)))
    return Drawn(tuple(pictures), tuple(shown))


def _shown(task: DrawTask, fact: FrameFacts, surface: NDArray[np.float32]) -> ShownFrame:
    from irspot.rendering.report.shown import shown_frame

    return shown_frame(surface, task.task.board, fact.placed, fact.readings)


def _frame_of(task: DrawTask, fact: FrameFacts, opened: Opened) -> Frame:
    """Read the frame that phase one measured once more."""
    from irspot.workflow.readout import span_frame

    assert opened.source is not None
    if fact.kept is None:
        return still_frame(opened.source, task.task)
    return span_frame(opened.source, fact.kept, task.task.utc_offset, opened.name)


def _drawn(task: DrawTask, each: Reread, surface: NDArray[np.float32] | None) -> bytes:
    if each.fact.placed is not None and surface is not None:
        return _picture(task, each, surface)
    assert each.fact.refusal is not None
    return _refused(task, each.frame, each.fact.refusal)


def _refused(task: DrawTask, frame: Frame, refusal: PlacementRefused) -> bytes:
    """Draw what was seen in a frame in which the board was not placed."""
    from irspot.workflow.placement_pictures import refused_png

    run, board = task.task.run, task.task.board
    return refused_png(frame, board, run.placement, refusal, side=run.side, top=run.top, size=task.size)


def _picture(task: DrawTask, each: Reread, surface: NDArray[np.float32]) -> bytes:
    from irspot.rendering import heat_picture

    picture = heat_picture(
        surface,
        task.task.board,
        each.fact.placed,
        each.fact.readings,
        caption=each.caption(task),
        scale_degc=task.scale_degc,
        cmap=task.cmap,
        size=task.size,
        underlay=each.underlay,
    )
    return picture.png_bytes()


def caption_of(
    board: Board, load: str, side: Side, conditions: Conditions, frame: Frame, *, mapped: bool = False
) -> Caption:
    """Say above a picture what it shows: board, load, side, ambient, date, camera.

    Parameters
    ----------
    board : Board
    load : str
    side : {"front", "rear"}
    conditions : Conditions
    frame : Frame
    mapped : bool
        Whether every pixel has its own emissivity.

    Returns
    -------
    Caption
    """
    from irspot.rendering import Caption

    ambient = conditions.ambient_degc
    caption = Caption(
        title=board.name,
        load=load,
        side=side,
        ambient="" if ambient is None else with_uncertainty(ambient, expanded(conditions.u_ambient_k), "°C"),
        date=frame.time_text.replace("T", " ").replace("Z", " UTC"),
        camera=frame.camera.name,
    )
    return replace(caption, emissivity="per pixel, by a map") if mapped else caption
