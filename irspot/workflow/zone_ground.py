"""The board that zones go onto: a board file that is there, or an outline to begin one with."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from irspot.board import Board
from irspot.errors import OutputRefused, UsageError
from irspot.files.board_edit import board_text, new_board, with_tables
from irspot.layout.plane import Plane, shifted
from irspot.shapes import Polygon


@dataclass(frozen=True, slots=True)
class GroundWish:
    """Where the outline comes from.

    Parameters
    ----------
    output : Path or None
        Board file to write; one that is there already is added to.
    board_file : Path or None
        Board file to begin with, which stays as it is.
    outline_file : Path or None
        Profile layer or drawing to take the outline from.
    outline_layer : str
        Of a drawing; all where empty.
    size_mm : tuple of float or None
        Of a rectangular board.
    name : str
        Of a new board; from the output's name where empty.
    """

    output: Path | None = None
    board_file: Path | None = None
    outline_file: Path | None = None
    outline_layer: str = ""
    size_mm: tuple[float, float] | None = None
    name: str = ""


@dataclass(frozen=True, slots=True)
class Ground:
    """A board before it is given zones.

    Parameters
    ----------
    text : str
        Of its file.
    path : Path
        What messages call it.
    board : Board
    drawing : Plane or None
        From the system of the drawing that the outline is from.
    notes : tuple of str
    """

    text: str
    path: Path
    board: Board
    drawing: Plane | None = None
    notes: tuple[str, ...] = ()

    @property
    def outline(self) -> Polygon:
        """The board's edge."""
        return self.board.outline


def ground_of(wish: GroundWish, comment: str) -> Ground:
    """Read, or begin, the board file that zones go into.

    Parameters
    ----------
    wish : GroundWish
    comment : str
        At the top of a new file.

    Raises
    ------
    UsageError
        If nothing says how large the board is, or two things do.
    FileInvalid
        If a file is not as it should be.
    OutputRefused
        If the output is there already and another board is to be written over it.
    """
    there = wish.output is not None and wish.output.exists()
    named = {
        "--board": wish.board_file,
        "--outline": wish.outline_file,
        "--size-mm": wish.size_mm,
    }
    given = [option for option, value in named.items() if value is not None]
    if there and given:
        same = wish.board_file is not None and wish.output is not None and wish.board_file.samefile(wish.output)
        if not same or len(given) > 1:
            hint = f"leave out {given[0]} to add to it, or give another output"
            raise OutputRefused("is there already and has an outline", file=str(wish.output), hint=hint)
    elif len(given) > 1:
        raise UsageError("two things say how large the board is", found=" and ".join(given), wanted="one of them")
    elif not there and not given:
        hint = "give --board FILE.toml, --outline FILE (profile layer or DXF) or --size-mm 305x244"
        raise UsageError("nothing says how large the board is", hint=hint)
    existing = wish.output if there else wish.board_file
    if existing is not None:
        text = board_text(existing)
        _, board, _ = with_tables(text, existing, {})
        return Ground(text, wish.output or existing, board)
    return _begun(wish, comment)


def _begun(wish: GroundWish, comment: str) -> Ground:
    path = wish.output or Path("board.toml")
    keys: dict[str, Any]
    drawing: Plane | None = None
    notes: tuple[str, ...] = ()
    if wish.outline_file is not None:
        from irspot.layout.outline import read_outline

        drawn = read_outline(wish.outline_file, wish.outline_layer)
        keys = outline_keys(drawn.outline)
        drawing, notes = shifted(-drawn.origin_mm[0], -drawn.origin_mm[1]), drawn.notes
    else:
        assert wish.size_mm is not None
        keys = {"width_mm": wish.size_mm[0], "height_mm": wish.size_mm[1]}
    text = new_board(wish.name or path.stem, keys, comment)
    _, board, _ = with_tables(text, path, {})
    return Ground(text, path, board, drawing, notes)


def outline_keys(outline: Polygon) -> dict[str, Any]:
    """Write an outline as a board file has it: by its size where it is a rectangle along the axes."""
    x0, y0, x1, y1 = outline.box_mm
    if len(outline.vertices_mm) == 4 and set(outline.vertices_mm) == {(x0, y0), (x1, y0), (x1, y1), (x0, y1)}:
        return {"width_mm": x1 - x0, "height_mm": y1 - y0}
    return {"polygon_mm": [list(corner) for corner in outline.vertices_mm]}
