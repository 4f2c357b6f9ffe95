"""A control chart of the board that is measured in every session."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from irspot.compare.cases import Case, rise_of
from irspot.compare.entries import hottest_of
from irspot.compare.estimates import Estimate, mean, weighted_mean
from irspot.compare.values import ControlChart, ControlPoint, Signal
from irspot.results import Reading

SOURCE: Final = (
    "individuals chart with limits at 2 and 3 standard deviations, and nine points in a row on one side as a signal "
    "(ISO 7870-2:2013 and the tests of ISO 8258:1991, from memory); standard deviations are those the budgets state"
)
IN_A_ROW: Final = 9
_STAYS: Final = ("emissivity", "reflected temperature", "transmission", "window temperature", "even board")
"""What is the same error, or nearly, whenever one board is measured: no part of what differs between sessions."""


def chart_of(cases: Sequence[Case]) -> ControlChart | None:
    """Chart the reference board's rises under one load, in one role, on one side.

    Parameters
    ----------
    cases : sequence of Case

    Returns
    -------
    ControlChart or None
        None for fewer than two sessions.
    """
    usable = [(case, hottest_of(case)) for case in cases]
    usable = [each for each in usable if math.isfinite(each[1].rise_k) and each[1].verdict == "usable"]
    # Studies compared come latest first, earlier ones behind.
    usable.sort(key=lambda each: (each[1].time, -each[0].at))
    sessions = _by_session(usable)
    if len(sessions) < 2:
        return None
    rises = [mean([_between_sessions(rise_of(case, reading)) for case, reading in own]) for own in sessions]
    sure = [max(rise.u_k, 1e-6) for rise in rises]
    centre = weighted_mean([rise.value for rise in rises], sure)
    points = []
    for ((case, reading), *_), rise, u_k in zip(sessions, rises, sure, strict=True):
        # A point is part of its own centre, so that it strays from it by a little less.
        stray_k = math.sqrt(max(u_k**2 - centre.u**2, 0.0))
        off = rise.value - centre.value
        points.append(
            ControlPoint(
                case.run.id, case.batch, case.run.session, reading.time, rise.value, u_k, off, 2 * stray_k, 3 * stray_k,
                _signal(off, stray_k),
            )
        )  # fmt: skip
    first = usable[0][0]
    return ControlChart(
        first.board.id, first.load.id, first.role, first.run.side, centre.value, tuple(points), _signals(points)
    )


def _by_session(usable: Sequence[tuple[Case, Reading]]) -> list[list[tuple[Case, Reading]]]:
    """Join what one session measured: its runs share the camera's error, and are one point."""
    found: dict[tuple[int, str], list[tuple[Case, Reading]]] = {}
    for case, reading in usable:
        session = f"session {case.run.session}" if case.run.session else f"run {case.run.id}"
        found.setdefault((case.at, session), []).append((case, reading))
    return list(found.values())


def _between_sessions(rise: Estimate) -> Estimate:
    return Estimate(rise.value, {source: part for source, part in rise.parts.items() if source[0] not in _STAYS})


def _signal(off_k: float, stray_k: float) -> Signal:
    if abs(off_k) > 3.0 * stray_k:
        return "alarm"
    return "warning" if abs(off_k) > 2.0 * stray_k else ""


def _signals(points: Sequence[ControlPoint]) -> tuple[str, ...]:
    found = [
        f"{point.run}: {point.deviation_k:+.2f} K from the centre, beyond {limit} K"
        for point in points
        if point.signal == "alarm" and (limit := f"± {point.action_k:.2f}")
    ]
    for at in range(len(points) - IN_A_ROW + 1):
        row = points[at : at + IN_A_ROW]
        if all(point.deviation_k > 0 for point in row) or all(point.deviation_k < 0 for point in row):
            found.append(f"{IN_A_ROW} in a row on one side of the centre, from {row[0].run} on")
            break
    return tuple(found)
