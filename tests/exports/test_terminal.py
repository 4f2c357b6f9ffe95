"""The terminal table: text of the user's stays text, numbers follow the rounding rule."""

from __future__ import annotations

import io

from rich.console import Console

from irspot.exports.terminal import flag_lines, narrow_table, results_table, verdict_lines
from irspot.flags import FLAGS
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


def test_reason_and_remedy_stand_below_worst_first_and_name_the_readings() -> None:
    rows = [
        a_row(),
        a_row(zone="chip", verdict="usable", flags=("emissivity-assumed",)),
        a_row(zone="coil", verdict="retake", flags=("outside-frame", "clipped")),
    ]
    lines = verdict_lines(rows, with_run=False)
    assert [line.split(":")[:2] for line in lines] == [["retake", " coil"], ["lower bound", " ps-left"]]
    assert FLAGS["clipped"].reason in lines[1]
    assert FLAGS["clipped"].remedy in lines[1]
    many = [a_row(zone=f"z{number}") for number in range(9)]
    assert "k7-stock-front z3 and 5 more" in verdict_lines(many, with_run=True)[0]
    assert verdict_lines([rows[1]], with_run=False) == []


def test_rows_say_why_and_what_to_do() -> None:
    reading = a_row().reading
    assert reading.verdict_reason == FLAGS["clipped"].reason
    assert reading.verdict_remedy == FLAGS["clipped"].remedy
    assert a_row(verdict="usable", flags=()).reading.verdict_reason == ""
