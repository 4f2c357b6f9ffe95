"""What a report says, before it is a page: plain values, every text still only text."""

from __future__ import annotations

from dataclasses import dataclass

from irspot.rendering.colors import ColorScale
from irspot.rendering.report.shown import ShownFrame
from irspot.results import Row

Facts = tuple[tuple[str, str], ...]
"""Names with what is said of them."""


@dataclass(frozen=True, slots=True)
class ReportFrame:
    """One frame, or the readout of a recording, with its readings.

    Parameters
    ----------
    run, frame : str
        Run id and frame name.
    board, board_name : str
        Id and name.
    load, side : str
    facts : tuple of (str, str)
        Of the run and the frame: when, ambient, camera, power.
    rows : tuple of Row
        Those of results.csv.
    shown : ShownFrame or None
        None where there is no image of it in the report.
    refusal : str
        Why the board was not placed, and what to do; empty where it was.
    set_aside : str
        Why the run does not count: rejected, or replaced by another; empty where it does.
    """

    run: str
    frame: str
    board: str
    board_name: str
    load: str
    side: str
    facts: Facts
    rows: tuple[Row, ...]
    shown: ShownFrame | None
    refusal: str = ""
    set_aside: str = ""


@dataclass(frozen=True, slots=True)
class TextTable:
    """A table of text.

    Parameters
    ----------
    caption : str
    heads : tuple of str
    rows : tuple of tuple of str
    numeric : frozenset of int
        Columns that hold numbers.
    notes : tuple of str
        Said below it.
    """

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: frozenset[int] = frozenset()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Chart:
    """A drawing that stands in the report as an image.

    Parameters
    ----------
    title, alt : str
        What it is, and what it shows in words.
    svg : bytes
        Shown apart from the page, so that nothing in it can act on the page.
    """

    title: str
    alt: str
    svg: bytes


@dataclass(frozen=True, slots=True)
class Curve:
    """A quantity over time.

    Parameters
    ----------
    name, kind : str
        What, and of which kind: image, bead, air, ...
    time_s, value : tuple of float
        NaN breaks the line.
    """

    name: str
    kind: str
    time_s: tuple[float, ...]
    value: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Curves:
    """Quantities of one unit on one clock.

    Parameters
    ----------
    title, unit : str
    curves : tuple of Curve
    """

    title: str
    unit: str
    curves: tuple[Curve, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """All of a report.

    Parameters
    ----------
    title : str
        The study's.
    version : str
    done : tuple of str
        What was done, in sentences.
    counts : tuple of (str, int)
        Verdicts, of all rows.
    problems, warnings : tuple of str
    frames : tuple of ReportFrame
    scale : ColorScale or None
        None where no frame is shown.
    rankings, soaks, checks : tuple of TextTable
        Conclusions: comparison of boards, soaks, thermocouples against the image.
    charts : tuple of Chart
    timelines : tuple of Curves
    when : TextTable or None
        The runs in the order in which they were taken.
    method : tuple of (str, str)
    cameras, emissivities, digests : TextTable
    flags : tuple of (str, str)
        Every flag that occurs, with its meaning.
    cautions : tuple of str
    """

    title: str
    version: str
    done: tuple[str, ...]
    counts: tuple[tuple[str, int], ...]
    problems: tuple[str, ...]
    warnings: tuple[str, ...]
    frames: tuple[ReportFrame, ...]
    scale: ColorScale | None
    rankings: tuple[TextTable, ...]
    soaks: tuple[TextTable, ...]
    checks: tuple[TextTable, ...]
    charts: tuple[Chart, ...]
    timelines: tuple[Curves, ...]
    when: TextTable | None
    method: Facts
    cameras: TextTable
    emissivities: TextTable
    digests: TextTable
    flags: Facts
    cautions: tuple[str, ...]
