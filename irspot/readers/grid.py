"""Text grids: CSV, TSV and the like, one frame a file."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Camera
from irspot.errors import FrameTooLarge, FrameUnreadable
from irspot.frame import Frame, FrameSource
from irspot.readers.finish import Source, check_camera_size, finish, require_declared
from irspot.readers.grid_format import Grid, Line, decode, has_row, is_number, is_text, parse_layout, split, unquote
from irspot.readers.limits import check_size, max_pixels

ENDINGS: Final = (".csv", ".tsv", ".txt")
_BYTES_PER_CELL: Final = 32
"""More than any sensible number takes; a longer text than this times the cap is not even read."""


def accepts(head: bytes, path: Path, camera: Camera) -> bool:
    """Say whether the content is text, and named as such or with a row of numbers in it.

    Sensor words can look like text by chance; with a ``[raw]`` table, only a file named as text is taken for one.
    """
    if not is_text(head):
        return False
    return path.suffix.lower() in ENDINGS or (camera.raw is None and has_row(head))


def open(path: Path, camera: Camera) -> FrameSource:
    """Open a text grid; its separator and decimal mark are found here, its numbers are read by ``frame``.

    Raises
    ------
    FrameUnreadable
        If it is not a grid of numbers, or can be read in two ways.
    """
    file = str(path)
    require_declared(camera, file)
    size = path.stat().st_size
    if size > max_pixels() * _BYTES_PER_CELL:
        raise FrameTooLarge("the text is longer than any frame within the cap", file=file, found=f"{size} bytes")
    try:
        text = decode(path.read_bytes())
    except UnicodeDecodeError as error:
        raise FrameUnreadable("the text breaks off within a character", file=file) from error
    grid = parse_layout(text, file)
    columns = len(split(unquote(grid.lines[0].text, grid.separator), grid.separator))
    check_size(columns, len(grid.lines), file)
    return GridFrame(Source(path, camera), grid)


@dataclass(frozen=True, slots=True)
class GridFrame:
    """The one frame of a text grid."""

    source: Source
    grid: Grid

    @property
    def count(self) -> int:
        """Number of frames: one."""
        return 1

    def frame(self, index: int) -> Frame:
        """Turn the text into numbers.

        Raises
        ------
        FrameUnreadable
            Naming the row of a ragged line, row and column of a cell that is no number.
        """
        self.source.check_index(index)
        file = self.source.file
        stored, notes = _without_last_column(_numbers(self.grid, file))
        check_camera_size(stored.shape[1], stored.shape[0], self.source.camera, file)
        with np.errstate(invalid="ignore"):  # infinite cells
            _check_not_split_by_decimals(stored, self.grid, file)
            _check_not_numbered(stored, file)
        return finish(stored, self.source, notes=self.grid.notes + notes)


def _numbers(grid: Grid, file: str) -> NDArray[np.float64]:
    rows = []
    width = 0
    for line in grid.lines:
        row = _row(line, grid, file)
        width = width or len(row)
        if len(row) != width:
            raise FrameUnreadable(
                "the rows are not of one length",
                file=file,
                key=f"row {line.number}",
                found=f"{len(row)} cells",
                wanted=str(width),
            )
        rows.append(np.array(row))
    return np.vstack(rows)


def _row(line: Line, grid: Grid, file: str) -> list[float]:
    text = unquote(line.text, grid.separator)
    if grid.decimal == "," and grid.separator != ",":
        text = text.replace(",", ".")
    cells = split(text, grid.separator)
    # `float` also takes digits of other scripts and digits joined by underscores, which no instrument writes.
    if text.isascii() and "_" not in text:
        try:
            return list(map(float, cells))
        except ValueError:
            pass
    return [_cell(cell, line, column, file) for column, cell in enumerate(cells, start=1)]


def _cell(cell: str, line: Line, column: int, file: str) -> float:
    if not is_number(cell):
        raise FrameUnreadable(
            "a cell holds no number",
            file=file,
            key=f"row {line.number}, column {column}",
            found=repr(cell.strip()[:40]),
            wanted="a number, nothing or nan",
        )
    return float(cell) if cell.strip() else math.nan


def _without_last_column(stored: NDArray[Any]) -> tuple[NDArray[Any], tuple[str, ...]]:
    """Drop the empty column that a separator at the end of every row makes."""
    if stored.shape[1] > 1 and np.all(np.isnan(stored[:, -1])):
        return stored[:, :-1], ("the last column is empty and was left out",)
    return stored, ()


def _check_not_split_by_decimals(stored: NDArray[Any], grid: Grid, file: str) -> None:
    """Refuse decimal commas written between unquoted comma-separated cells: every number would become two.

    Then every second column holds digits after the comma: whole numbers of up to three digits that have nothing to
    do with their neighbours, while the columns between are smooth.
    """
    if grid.separator != "," or stored.shape[1] % 2 or not np.all(stored == np.floor(stored)):
        return
    whole, digits = stored[:, 0::2], stored[:, 1::2]
    if not (digits.min() >= 0 and digits.max() <= 999):
        return
    across = np.median(np.abs(digits - whole))
    along = np.median(np.abs(np.diff(whole, axis=1))) if whole.shape[1] > 1 else 0.0
    zeros = any(re.search(r",0\d", line.text) for line in grid.lines)
    if zeros or whole.shape[1] == 1 or across > 4.0 * along + 2.0:
        raise FrameUnreadable(
            "the commas could separate columns or be decimal commas",
            file=file,
            key=f"row {grid.lines[0].number}",
            hint="save the grid with semicolons or tabs between the columns",
        )


def _check_not_numbered(stored: NDArray[Any], file: str) -> None:
    """Refuse a first row or column that counts while all other numbers have decimals: it is no temperature."""
    for numbers, rest, what in (
        (stored[0], stored[1:], "row counts the columns"),
        (stored[:, 0], stored[:, 1:], "column counts the rows"),
    ):
        if _counts(numbers) and np.any(rest[np.isfinite(rest)] % 1.0 != 0.0):
            raise FrameUnreadable(f"the first {what}", file=file, hint="save the grid without it")


def _counts(numbers: NDArray[Any]) -> bool:
    """Say whether numbers run 0, 1, 2, ... or 1, 2, 3, ..., the corner possibly empty."""
    tail = numbers[1:]
    if tail.size < 4:
        return False
    runs = bool(np.all(np.diff(tail) == 1.0)) and tail[0] in (0.0, 1.0, 2.0)
    return runs and (bool(np.isnan(numbers[0])) or numbers[0] in (0.0, 1.0))
