"""Phase two: the pictures of a run, drawn from the readings of phase one on the study's scale."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

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
    from irspot.registration.placement import Placement
    from irspot.rendering import Caption, Underlay


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
        return Drawn(tuple(_pictures(task)))
    except IrspotError as error:
        return Drawn(problems=error.problems())
    except Exception as error:  # as in phase one: reported, and the other runs go on
        return Drawn(problems=(internal_problem(error, task.task.run.id),))


def _pictures(task: DrawTask) -> list[tuple[str, bytes]]:
    wanted = {fact.file_index: (fact, name) for fact, name in zip(task.frames, task.names, strict=True)}
    run = task.task.run
    underlay = underlay_of(run.photo_file, run.photo, task.photo)
    mapped = None if task.even is None else map_of_run(run, task.task.board, wish_of(run), task.cold, task.even)
    drawn = []
    for opened in opened_files(task.task):
        if opened.source is None or opened.file_index not in wanted:
            continue
        fact, name = wanted[opened.file_index]
        frame, _ = in_that_state(_frame_of(task, fact, opened), task.cold, run.camera_on_min)
        drawn.append((name, _drawn(task, frame, fact, underlay, mapped)))
    return drawn


def _frame_of(task: DrawTask, fact: FrameFacts, opened: Opened) -> Frame:
    """Read the frame that phase one measured once more."""
    from irspot.workflow.readout import span_frame

    assert opened.source is not None
    if fact.kept is None:
        return still_frame(opened.source, task.task)
    return span_frame(opened.source, fact.kept, task.task.utc_offset, opened.name)


def _drawn(
    task: DrawTask, frame: Frame, fact: FrameFacts, underlay: Underlay | None, mapped: EmissivityMap | None
) -> bytes:
    if fact.placed is not None:
        return _picture(task, frame, fact, fact.placed, underlay, mapped)
    assert fact.refusal is not None
    return _refused(task, frame, fact.refusal)


def _refused(task: DrawTask, frame: Frame, refusal: PlacementRefused) -> bytes:
    """Draw what was seen in a frame in which the board was not placed."""
    from irspot.workflow.placement_pictures import refused_png

    run, board = task.task.run, task.task.board
    return refused_png(frame, board, run.placement, refusal, side=run.side, top=run.top, size=task.size)


def _picture(
    task: DrawTask,
    frame: Frame,
    fact: FrameFacts,
    placement: Placement,
    underlay: Underlay | None,
    mapped: EmissivityMap | None,
) -> bytes:
    from irspot.measurement import surface_map
    from irspot.rendering import heat_picture

    run, board = task.task.run, fact.board or task.task.board
    conditions = conditions_of(run)
    picture = heat_picture(
        surface_map(frame, board, placement, conditions, mapped),
        board,
        placement,
        fact.readings,
        caption=caption_of(board, task.load_label, run.side, conditions, frame, mapped=mapped is not None),
        scale_degc=task.scale_degc,
        cmap=task.cmap,
        size=task.size,
        underlay=underlay,
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
