"""A bead against the image beside it, over time, and their difference below."""

from __future__ import annotations

import math

import numpy as np

from irspot.rendering.charts.look import Chart, Sheet, checked_size, file_name, theme_of
from irspot.rendering.charts.plot import Plot, spanning
from irspot.series import Series
from irspot.uncertain import with_uncertainty


def bead_chart(
    run: str,
    bead: Series,
    zone: Series,
    said: str,
    *,
    size: tuple[int, int] = (1920, 1080),
    theme: str = "dark",
) -> Chart:
    """Draw a bead and the zone it sits in, or under.

    Parameters
    ----------
    run : str
    bead : Series
        On the camera's clock; what came off is masked in it.
    zone : Series
        Its maximum in the image.
    said : str
        What was concluded of the bead, in a sentence.
    size : tuple of int
    theme : {"dark", "light"}

    Raises
    ------
    UsageError
        For a size or theme there is not.
    """
    sheet = Sheet(checked_size(size), theme_of(theme))
    margin, small = sheet.margin, sheet.type_px()
    title = f"{run}: bead {bead.name} against {zone.name}"
    inside = (bead.time_s >= zone.time_s[0]) & (bead.time_s <= zone.time_s[-1])
    bead_s, bead_degc = bead.time_s[inside], bead.value[inside]
    at_zone = (
        np.interp(zone.time_s, bead.time_s, bead.value, np.nan, np.nan)
        if bead.time_s.size
        else np.full(zone.time_s.shape, np.nan)
    )
    difference = at_zone - zone.value
    left, right = margin + 3.4 * small, sheet.width - margin
    middle = 0.64 * sheet.height
    across = spanning(zone.time_s / 60.0, "minutes from the first frame", least=1.0)
    upper = Plot(
        sheet, (left, 0.19 * sheet.unit, right, middle), across, spanning([*bead_degc, *zone.value], "°C", least=5.0)
    )
    below = (left, middle + 4.6 * small, right, sheet.height - 0.1 * sheet.unit)
    lower = Plot(sheet, below, across, spanning([*difference, 0.0], "bead less zone, K", least=2.0))
    sheet.heading(title, said, lines=2)
    for plot in (upper, lower):
        plot.grid()
    thick = 0.0035 * sheet.unit
    sheet.line(upper.xs(zone.time_s / 60.0), upper.ys(zone.value), sheet.theme.now, thick)
    sheet.line(upper.xs(bead_s / 60.0), upper.ys(bead_degc), sheet.theme.second, thick, "--")
    sheet.line(lower.xs(zone.time_s / 60.0), lower.ys(difference), sheet.theme.ink, thick)
    legend = 0.19 * sheet.unit + 1.2 * small
    for number, (color, name) in enumerate(
        ((sheet.theme.now, f"image, {zone.name}"), (sheet.theme.second, f"bead {bead.name} (dashed)"))
    ):
        y = legend + 1.5 * number * small
        sheet.line([left + small, left + 2.4 * small], [y, y], color, 1.6 * thick, "--" if number else "-")
        sheet.text((left + 2.9 * small, y), name, small, width_px=0.5 * sheet.width)
    return sheet.chart(file_name("bead", run, bead.name), title, f"{title}. {said} {_last(bead, zone)}")


def _last(bead: Series, zone: Series) -> str:
    known = bead.known
    if not known.time_s.size or not zone.known.time_s.size:
        return ""
    last_u = 2.0 * math.hypot(float(known.u[-1]), known.u_shared)
    return (
        f"The bead's last sound value is {with_uncertainty(float(known.value[-1]), last_u, '°C')}, "
        f"the zone's {float(zone.known.value[-1]):.1f} °C."
    )
