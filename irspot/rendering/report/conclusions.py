"""Conclusions as tables of text: soaks, and thermocouples held against the image."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

from irspot.columns import TableRow
from irspot.rendering.report.values import TextTable
from irspot.rendering.report.zone_rows import NONE
from irspot.uncertain import rounded, with_uncertainty

_MINUTE_S: Final = 60.0


def soak_table(rows: Sequence[TableRow]) -> TextTable:
    """Write soak.csv for people.

    Parameters
    ----------
    rows : sequence of TableRow
        Its rows.
    """
    heads = ("run", "zone or bead", "last °C", "end °C", "drift K/h", "steady", "within 1 K in min", "flags")
    return TextTable(
        "Soaks: last value, projected end value (no measurement) and whether they are steady, as in soak.csv",
        heads,
        tuple(_soak_row(row.label.run, row.reading) for row in rows),
        frozenset({2, 3, 4, 6}),
    )


def _soak_row(run: str, soak: Any) -> tuple[str, ...]:
    return (
        run,
        soak.zone,
        with_uncertainty(soak.last_degc, soak.U_last_k) or NONE,
        with_uncertainty(soak.end_degc, soak.U_end_k) or NONE,
        with_uncertainty(soak.drift_k_per_h, soak.U_drift_k_per_h) or NONE,
        soak.steady or NONE,
        _minutes(soak.remaining_s),
        ", ".join(soak.flags) or NONE,
    )


def crosscheck_table(rows: Sequence[TableRow], places: Sequence[str]) -> TextTable:
    """Write crosscheck.csv for people.

    Parameters
    ----------
    rows : sequence of TableRow
        Its rows.
    places : sequence of str
        Where beads would sit best, in sentences.
    """
    heads = ("run", "site", "bead °C", "image °C", "bead less image K", "En", "agrees", "likely cause", "flags")
    return TextTable(
        "Thermocouples held against the image beside them, as in crosscheck.csv",
        heads,
        tuple(_check_row(row.label.run, row.reading) for row in rows),
        frozenset({2, 3, 4, 5}),
        (
            "They agree where |En| is at most 1. Beads are witnesses: no value of the image is changed by them.",
            *places,
        ),
    )


def _check_row(run: str, check: Any) -> tuple[str, ...]:
    return (
        run,
        check.site,
        with_uncertainty(check.bead_degc, check.U_bead_k) or NONE,
        with_uncertainty(check.image_degc, check.U_image_k) or NONE,
        _rounded(check.difference_k, 1),
        _rounded(check.en, 2),
        check.agrees or NONE,
        check.likely_cause or NONE,
        ", ".join(check.flags) or NONE,
    )


def _minutes(seconds: float) -> str:
    return _rounded(seconds / _MINUTE_S, 0)


def _rounded(value: float, decimals: int) -> str:
    return rounded(value, decimals) if math.isfinite(value) else NONE
