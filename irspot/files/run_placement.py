"""How a run has its board placed, in its frames and in its photo."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from irspot.board import Board
from irspot.files.findings import Findings, Loc, nearest, show
from irspot.files.frame_files import exists
from irspot.photo import DEFAULT_PHOTO_OPACITY, PhotoWish
from irspot.placing import AutoPlacement, CornersPx, HowToPlace, PhotoPlacement, PointsPx

Names = tuple[str, str, str]

PLACEMENT_KEYS: Final[Names] = ("placement", "corners_px", "points_px")
PHOTO_PLACEMENT_KEYS: Final[Names] = ("photo_placement", "photo_corners_px", "photo_points_px")
LEAST_POINTS: Final = 4
"""A plane seen in perspective has eight unknowns, two for each point."""


def placement_of(
    keys: Mapping[str, Any], loc: Loc, board: Board | None, findings: Findings, names: Names = PLACEMENT_KEYS
) -> HowToPlace:
    """Read how a run has its board placed, in its frames or in its photo.

    Parameters
    ----------
    keys : mapping
        Of the run, defaults included.
    loc : tuple
        The run's place in the file.
    board : Board or None
        None where its file could not be read.
    findings : Findings
    names : tuple of str
        What the keys are called: the way, the corners, the points.
    """
    way, corners, points = names
    given = [key for key in names if key in keys]
    if len(given) > 1:
        findings.error((*loc, given[1]), f"contradicts {given[0]}", wanted="one way of placing the board")
    elif corners in keys:
        return _corners(keys[corners], (*loc, corners), board, findings)
    elif points in keys:
        return _points(keys[points], (*loc, points), board, findings)
    elif keys.get(way) == "photo":
        if "photo" not in keys:
            findings.error((*loc, way), "is to be found by a photo, but there is none", wanted="photo = a file")
        return PhotoPlacement()
    return AutoPlacement()


def photo_of(
    keys: Mapping[str, Any],
    own: Mapping[str, Any],
    loc: Loc,
    board: Board | None,
    folder: Path,
    findings: Findings,
) -> tuple[Path | None, PhotoWish]:
    """Read which photo a run has, and how it is placed and shown.

    Parameters
    ----------
    keys, own : mapping
        Of the run, with defaults and without.
    loc : tuple
        The run's place in the file.
    board : Board or None
    folder : Path
        Of the study file.
    findings : Findings
    """
    if "photo" not in keys:
        for key in (*PHOTO_PLACEMENT_KEYS, "photo_top", "photo_opacity"):
            if key in own:
                findings.error((*loc, key), "says something about a photo, but there is none", wanted="photo = a file")
        return None, PhotoWish()
    file = folder / keys["photo"]
    if not exists(file):
        findings.error((*loc, "photo"), "there is no such file", found=show(keys["photo"]))
    how = placement_of(keys, loc, board, findings, PHOTO_PLACEMENT_KEYS)
    top = keys.get("photo_top", keys.get("top"))
    return file, PhotoWish(how, top, float(keys.get("photo_opacity", DEFAULT_PHOTO_OPACITY)))


def _corners(corners: list[list[float]], loc: Loc, board: Board | None, findings: Findings) -> CornersPx:
    if board is not None and len(corners) != (count := len(board.outline.vertices_mm)):
        wanted = f"{count}, one for each corner of the outline of '{board.name}', in its order"
        findings.error(loc, "has the wrong number of points", found=str(len(corners)), wanted=wanted)
    return CornersPx(tuple((x, y) for x, y in corners))


def _points(points: Mapping[str, list[float]], loc: Loc, board: Board | None, findings: Findings) -> PointsPx:
    marks = [mark.id for mark in board.marks] if board is not None else None
    for name in points:
        if marks is not None and name not in marks:
            hint = nearest(name, marks) or (f"marks: {', '.join(marks[:12])}" if marks else "the board has no marks")
            findings.error((*loc, name), "is no mark of the board", hint=hint)
    if len(points) < LEAST_POINTS and not findings.broken(*loc):
        findings.error(loc, "are too few", found=str(len(points)), wanted=f"{LEAST_POINTS} marks or more")
    return PointsPx(tuple((name, x, y) for name, (x, y) in points.items()))
