"""Headings: names, units, times."""

from __future__ import annotations

import pytest

from irspot.logs.header import heading_of, time_columns


@pytest.mark.parametrize(
    ("text", "name", "unit"),
    [
        ("CH 3 (°C)", "CH 3", "degC"),
        ("CH 3 [degC]", "CH 3", "degC"),
        ("tc1 °C", "tc1", "degC"),
        ("T_amb/K", "T_amb", "degC"),
        ("tc2, mV", "tc2", "mV"),
        ("bead_uV", "bead_uV", "mV"),
        ("power_w", "power_w", "W"),
        ("clock (MHz)", "clock", "GHz"),
        ("phase_c", "phase_c", ""),
        ("CH 3", "CH 3", ""),
        ("°C", "°C", ""),
        ("", "", ""),
        ("x (bar)", "x (bar)", ""),
    ],
)
def test_names_and_units(text: str, name: str, unit: str) -> None:
    heading = heading_of(text)
    assert (heading.name, heading.unit) == (name, unit)


@pytest.mark.parametrize(
    ("names", "found"),
    [
        (("time", "a"), (0, None)),
        (("a", "Time"), (1, None)),
        (("Date", "Time", "a"), (1, 0)),
        (("Datum", "a"), (0, None)),
        (("no", "a", "b"), (0, None)),
        (("no", "Zeit", "Datum"), (1, 2)),
    ],
)
def test_where_the_time_stands(names: tuple[str, ...], found: tuple[int, int | None]) -> None:
    assert time_columns(names) == found
