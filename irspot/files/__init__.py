"""Board, camera and study files: read, validated, converted to the frozen values.

Each function imports what it needs when it is called, so that reading a board does not load what a study takes.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from irspot.board import Board
    from irspot.camera import Camera
    from irspot.color_wish import ScaleLog
    from irspot.errors import Problem
    from irspot.study import Study

__all__ = [
    "read_board",
    "read_camera",
    "read_scale_log",
    "read_study",
    "board_problems",
    "camera_problems",
    "schema",
    "templates",
]

Kind = Literal["board", "camera", "study"]


def read_board(path: str | os.PathLike[str]) -> Board:
    """Read a board file.

    Parameters
    ----------
    path : path-like

    Returns
    -------
    Board

    Raises
    ------
    FileInvalid
        With everything that is wrong with it, warnings included.
    """
    from irspot.files.board import read_board_and_warnings

    return read_board_and_warnings(Path(path))[0]


def read_camera(path: str | os.PathLike[str]) -> Camera:
    """Read a camera file.

    Parameters
    ----------
    path : path-like

    Returns
    -------
    Camera

    Raises
    ------
    FileInvalid
        With everything that is wrong with it, warnings included.
    """
    from irspot.files.camera import read_camera_and_warnings

    return read_camera_and_warnings(Path(path))[0]


def read_scale_log(path: str | os.PathLike[str]) -> ScaleLog:
    """Read the log of a video's colour scale.

    Parameters
    ----------
    path : path-like

    Returns
    -------
    ScaleLog

    Raises
    ------
    FileInvalid
        With everything that is wrong with it, each at its line.
    """
    from irspot.files.scale_log import read_scale_log as read

    return read(Path(path))


def read_study(path: str | os.PathLike[str]) -> Study:
    """Read a study file and every board and camera file it names.

    Parameters
    ----------
    path : path-like

    Returns
    -------
    Study
        A run that cannot be evaluated is among its `bad_runs`, with the reasons, and takes no other down.

    Raises
    ------
    FileInvalid
        If the study as a whole cannot be evaluated; with everything that is wrong.
    """
    from irspot.files.study import read_study_file

    return read_study_file(Path(path))


def board_problems(path: str | os.PathLike[str]) -> tuple[Problem, ...]:
    """List everything wrong with a board file, warnings included; empty for a sound one."""
    from irspot.errors import FileInvalid
    from irspot.files.board import read_board_and_warnings

    try:
        return read_board_and_warnings(Path(path))[1]
    except FileInvalid as error:
        return error.problems()


def camera_problems(path: str | os.PathLike[str]) -> tuple[Problem, ...]:
    """List everything wrong with a camera file, warnings included; empty for a sound one."""
    from irspot.errors import FileInvalid
    from irspot.files.camera import read_camera_and_warnings

    try:
        return read_camera_and_warnings(Path(path))[1]
    except FileInvalid as error:
        return error.problems()


def schema(kind: Kind) -> dict[str, Any]:
    """Give the JSON Schema (2020-12) of a file format, for editors.

    Parameters
    ----------
    kind : {"board", "camera", "study"}
    """
    from irspot.files.editor_schema import schema_of

    return schema_of(kind)


def templates() -> dict[str, str]:
    """Give commented templates of study, camera and board files.

    Returns
    -------
    dict of str to str
        File name, relative to the study's folder and with ``/``, to text.
    """
    from irspot.files.template_files import all_templates

    return all_templates()
