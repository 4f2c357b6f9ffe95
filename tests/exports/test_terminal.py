"""The terminal table: text of the user's stays text, numbers follow the rounding rule."""

from __future__ import annotations

import io

from rich.console import Console

from irspot.exports.terminal import flag_lines, narrow_table, results_table
from tests.exports.test_tables import a_row


def printed(*rows, with_run: bool = False) -> str:
    stream = io.StringIO()
    Console(file=stream, width=200, force_terminal=False).print(results_table(rows, with_run=with_run))
    return stream.getvalue()


def test_a_lower_bound_is_printed_as_such_and_a_retake_without_number() -> None:
    assert "≥ 69.8" in printed(a_row())
    assert "71.8 ± 1.9" in printed(a_row(verdict="usable", flags=()))
    text = printed(a_row(verdict="retake", flags=("outside-frame",)))
    assert "71.8" not in text
    assert "retake" in text


def test_names_are_text_never_markup_or_escapes() -> None:
    text = printed(a_row(zone="[bold red]x[/]\x1b[31m"))
    assert "[bold red]x[/]" in text
    assert "\x1b" not in text


def test_a_study_names_run_and_frame() -> None:
    text = printed(a_row(), with_run=True)
    assert "k7-stock-front" in text
    assert "k7.tiff" in text


def test_a_narrow_table_keeps_numbers_whole_and_names_flags_below() -> None:
    stream = io.StringIO()
    rows = [a_row(), a_row(zone="chip", verdict="usable", flags=("emissivity-assumed",))]
    Console(file=stream, width=60, force_terminal=False).print(narrow_table(rows, with_run=False))
    text = stream.getvalue()
    assert "≥ 69.8" in text
    assert "71.8 ± 1.9" in text
    assert "…" not in text
    lines = flag_lines(rows)
    assert "emissivity-assumed: chip" in lines or "emissivity-assumed: every zone" in lines
    assert [line.split(":")[0] for line in lines] == sorted({f for row in rows for f in row.reading.flags})


def test_a_raised_zone_says_how_far_off_it_may_be() -> None:
    flags = ("emissivity-assumed", "height-not-corrected")
    assert "height-not-corrected (up to 17 mm off)" in printed(a_row(verdict="usable", flags=flags, place_off_mm=16.3))
    assert "mm off" not in printed(a_row(verdict="usable", flags=flags))
