"""The page: template, style and script put together with a study's values."""

from __future__ import annotations

import base64
import hashlib
import json
from collections import Counter
from importlib.resources import files
from typing import Any, Final

from irspot.rendering.colors import ColorScale
from irspot.rendering.report.curves import HEIGHT, WIDTH, drawing_of
from irspot.rendering.report.shown import ShownFrame
from irspot.rendering.report.values import Report, ReportFrame
from irspot.rendering.report.zone_rows import NONE, ZoneRow, details, zone_rows
from irspot.rendering.scale import degc_text, round_ticks
from irspot.rendering.theme import HATCH

SCALE_WIDTH: Final = 320
_CAP: Final = 14
"""Of the scale drawn, px: what lies beyond its ends."""
_SHAPES: Final = (0.84, 1.05, 1.4)


def report_html(report: Report) -> bytes:
    """Make the page.

    Parameters
    ----------
    report : Report

    Returns
    -------
    bytes
        UTF-8. Nothing in it is fetched from anywhere: its policy forbids that, and allows this style and script only.
    """
    style, script = _part("report.css"), _part("report.js")
    titles = Counter(title_of(frame) for frame in report.frames)
    frames = [_frame(number, frame, titles[title_of(frame)] > 1) for number, frame in enumerate(report.frames)]
    template = _environment().from_string(_part("report.html.jinja"))
    text: str = template.render(
        report=report,
        policy=policy_of(style, script),
        style=style,
        script=script,
        frames=frames,
        matrix=_matrix(report),
        scale=None if report.scale is None else scale_drawing(report.scale),
        data=embedded(_data(report)),
        grids=[(f"grid-{i}", embedded(_grid(frame.shown))) for i, frame in enumerate(report.frames) if frame.shown],
        drawings=[drawing for curves in report.timelines if (drawing := drawing_of(curves)) is not None],
        drawing_size=(WIDTH, HEIGHT),
        charts=[(chart, base64.b64encode(chart.svg).decode("ascii")) for chart in report.charts],
        none=NONE,
    )
    return text.encode("utf-8", "replace")  # names of files need not be text


def policy_of(style: str, script: str) -> str:
    """State a content security policy: nothing from outside, of what is inside this style and this script."""
    return (
        f"default-src 'none'; script-src '{_hash(script)}'; style-src '{_hash(style)}'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


def embedded(value: Any) -> str:
    r"""Write a value as JSON that nothing inside a page can take for markup.

    Examples
    --------
    >>> embedded({"name": "</script><b>&"})
    '{"name":"\\u003c/script\\u003e\\u003cb\\u003e\\u0026"}'
    """
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for character in "<>&\u2028\u2029":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return text


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode("ascii")


def _part(name: str) -> str:
    return files(__package__).joinpath(name).read_text(encoding="utf-8")


def _environment() -> Any:
    import jinja2

    return jinja2.Environment(
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def title_of(frame: ReportFrame) -> str:
    """Name a frame for people, as one of a run that has one only."""
    return f"{frame.board_name}: {frame.load}, {frame.side}"


def _frame(number: int, frame: ReportFrame, of_several: bool) -> dict[str, Any]:
    """Give the template one frame, and whether others have its title."""
    return {
        "value": frame,
        "number": number,
        "anchor": anchor_of(number),
        "title": title_of(frame),
        "of_several": of_several,
        "shape": _shape(frame.shown),
        "rows": zone_rows(frame),
        "hottest": _hottest(frame),
    }


def _shape(shown: ShownFrame | None) -> int:
    """Class how high an image is for its width, 1 to 4, so that on paper it leaves room for its table."""
    high = 1.0 if shown is None else shown.grid.rows / shown.grid.columns
    return 1 + sum(high > limit for limit in _SHAPES)


def anchor_of(number: int) -> str:
    """Name a frame's place in the page."""
    return f"frame-{number + 1}"


def _hottest(frame: ReportFrame) -> ZoneRow | None:
    """Choose the row that stands for a frame: its hottest, of those with a value."""
    rows = [
        (row.reading.max_degc, text)
        for row, text in zip(frame.rows, zone_rows(frame), strict=True)
        if row.reading.headline()
    ]
    return max(rows, key=lambda each: each[0])[1] if rows else None


def _matrix(report: Report) -> dict[str, Any]:
    """Lay out boards against loads and sides; a cell holds the numbers of its frames."""
    columns = list(dict.fromkeys((frame.load, frame.side) for frame in report.frames))
    boards = list(dict.fromkeys((frame.board, frame.board_name) for frame in report.frames))
    cells: dict[tuple[str, str, str], list[int]] = {}
    for number, frame in enumerate(report.frames):
        cells.setdefault((frame.board, frame.load, frame.side), []).append(number)
    return {"columns": columns, "boards": boards, "cells": cells}


def scale_drawing(scale: ColorScale) -> dict[str, Any]:
    """Lay the colour scale out: its colours, its ends, its ticks."""
    inner = SCALE_WIDTH - 2 * _CAP
    return {
        "width": SCALE_WIDTH,
        "colors": [
            (round(_CAP + inner * level / len(scale.table), 3), round(inner / len(scale.table) + 0.3, 3), _hex(color))
            for level, color in enumerate(scale.table.tolist())
        ],
        "under": _hex(scale.under),
        "over": _hex(scale.over),
        "cap": _CAP,
        "ticks": [
            (round(_CAP + inner * (tick - scale.low_degc) / (scale.high_degc - scale.low_degc), 1), degc_text(tick))
            for tick in round_ticks(scale.low_degc, scale.high_degc, 6)
        ],
        "low": degc_text(scale.low_degc),
        "high": degc_text(scale.high_degc),
    }


def _hex(color: Any) -> str:
    return "#" + "".join(f"{int(part):02x}" for part in color)


def _data(report: Report) -> dict[str, Any]:
    """Give the script what it draws and shows."""
    scale = report.scale
    return {
        "scale": scale
        and {
            "low": scale.low_degc,
            "high": scale.high_degc,
            "table": "".join(_hex(color)[1:] for color in scale.table.tolist()),
            "over": _hex(scale.over),
            "under": _hex(scale.under),
            "hatch": [_hex(color) for color in HATCH],
        },
        "flags": dict(report.flags),
        "none": NONE,
        "frames": [_frame_data(frame) for frame in report.frames],
    }


def _frame_data(frame: ReportFrame) -> dict[str, Any]:
    shown, rows = frame.shown, zone_rows(frame)
    texts = {row.zone: row for row in rows}
    data: dict[str, Any] = {"rows": [details(row.reading) for row in frame.rows]}
    if shown is None:
        return data
    return data | {
        "columns": shown.grid.columns,
        "rows_px": shown.grid.rows,
        "origin": list(shown.origin_px),
        "toMm": shown.to_mm,
        "lens": shown.lens and [shown.lens.focal_px, *shown.lens.middle_px, *shown.lens.distortion],
        "zones": [
            {
                "id": zone.zone,
                "name": texts[zone.zone].name if zone.zone in texts else zone.zone,
                "says": _says(texts.get(zone.zone)),
                "hot": zone.hot_px,
                "toMm": zone.to_mm,
            }
            for zone in shown.zones
        ],
    }


def _says(row: ZoneRow | None) -> str:
    if row is None:
        return ""
    return f"maximum {row.maximum} °C, {row.verdict}" if row.maximum != NONE else row.verdict


def _grid(shown: ShownFrame | None) -> list[str]:
    assert shown is not None
    return [shown.grid.misses, shown.grid.more]
