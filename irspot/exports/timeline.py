"""Everything of a run on one clock, as a tidy table: one line a time and quantity."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence

from irspot.exports.cells import defused
from irspot.series import Series
from irspot.uncertain import rounded

HEAD = ("time_s", "kind", "name", "unit", "value", "u", "u_shared")


def timeline_csv(timeline: Sequence[Series]) -> bytes:
    """Write a run's timeline: UTF-8, LF, in the order of time; what was masked is empty.

    Parameters
    ----------
    timeline : sequence of Series
        On the camera's clock.
    """
    lines = sorted(
        ((float(at), order, row) for order, each in enumerate(timeline) for row, at in enumerate(each.time_s)),
    )
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(HEAD)
    for at, order, row in lines:
        each = timeline[order]
        value, u = float(each.value[row]), float(each.u[row])
        known = math.isfinite(value)
        numbers = (rounded(value, 4), rounded(u, 4), rounded(each.u_shared, 4)) if known else ("", "", "")
        writer.writerow((rounded(at, 3), each.kind, defused(each.name), each.unit, *numbers))
    return stream.getvalue().encode()
