"""Rise against price: what a cooler board costs, with the boards that no cheaper one certainly equals."""

from __future__ import annotations

import math
from collections.abc import Sequence

from irspot.compare.standing import Standing
from irspot.compare.values import Ranking
from irspot.rendering.charts.look import Chart, Sheet, checked_size, file_name, theme_of, width_of
from irspot.rendering.charts.plot import Plot, spanning
from irspot.rendering.charts.ranking import name_of, value_of


def priced(ranking: Ranking) -> tuple[Standing, ...]:
    """Give the rows that have a price and a value."""
    return tuple(
        r for r in ranking.rows if math.isfinite(r.price) and math.isfinite(r.ranked_rise_k) and not r.at_least
    )


def price_chart(
    ranking: Ranking, batch_now: str, *, size: tuple[int, int] = (1920, 1080), theme: str = "dark"
) -> Chart:
    """Draw rises against prices.

    Parameters
    ----------
    ranking : Ranking
        With two or more priced rows of one currency.
    batch_now : str
        Batch whose marks are not paler.
    size : tuple of int
    theme : {"dark", "light"}

    Raises
    ------
    UsageError
        For a size or theme there is not.
    """
    sheet, rows = Sheet(checked_size(size), theme_of(theme)), priced(ranking)
    margin, small = sheet.margin, sheet.type_px()
    currency = rows[0].currency if rows else ""
    title = f"Price and rise: {ranking.role}, {ranking.load_name or ranking.load}, {ranking.side}"
    highs = [row.ranked_rise_k + row.U_k for row in rows] + [0.0]
    box = (margin + 3.0 * small, 0.19 * sheet.unit, sheet.width - margin, sheet.height - 0.12 * sheet.unit)
    across = spanning([row.price for row in rows], f"price, {currency} ({_dated(rows)})", least=1.0)
    plot = Plot(sheet, box, across, spanning(highs, "rise over ambient, K", least=1.0, zero=True))
    said = "filled: no cheaper board is as cool or ties · ring: a cheaper one is · bars: expanded uncertainty (k = 2)"
    sheet.heading(title, said)
    plot.grid()
    taken: list[tuple[float, float, float, float]] = []
    for row in rows:
        _mark(plot, row, old=bool(row.batch) and row.batch != batch_now)
        x, y = plot.x(row.price), plot.y(row.ranked_rise_k)
        taken.append((x - small, y - small, x + small, y + small))
    for row in sorted(rows, key=lambda each: (each.on_frontier != "yes", each.price)):
        _label(plot, row, taken)
    alt = f"{title}. " + " ".join(_said(row) for row in rows)
    return sheet.chart(file_name("price", ranking.load, ranking.role, ranking.side), title, alt)


def _said(row: Standing) -> str:
    frontier = ", on the frontier" if row.on_frontier == "yes" else ""
    return f"{name_of(row)}: {row.price:g} {row.currency}, {value_of(row)}{frontier}."


def _dated(rows: Sequence[Standing]) -> str:
    dates = sorted({row.price_date for row in rows if row.price_date})
    if not dates:
        return "undated"
    return dates[0] if len(dates) == 1 else f"{dates[0]} to {dates[-1]}"


def _mark(plot: Plot, row: Standing, *, old: bool) -> None:
    sheet = plot.sheet
    color = sheet.theme.before if old else sheet.theme.now
    x, y = plot.x(row.price), plot.y(row.ranked_rise_k)
    sheet.line(
        [x, x],
        [plot.y(row.ranked_rise_k - row.U_k), plot.y(row.ranked_rise_k + row.U_k)],
        sheet.theme.muted,
        0.002 * sheet.unit,
    )
    sheet.dots([x], [y], color, 0.024 * sheet.unit)
    if row.on_frontier != "yes":
        sheet.dots([x], [y], sheet.theme.page, 0.014 * sheet.unit)


def _label(plot: Plot, row: Standing, taken: list[tuple[float, float, float, float]]) -> None:
    """Write a name beside its mark, where it covers nothing; without a free place it is left to the table."""
    sheet, small = plot.sheet, plot.sheet.type_px()
    text, bold = f"{name_of(row)} {row.price:g}", row.on_frontier == "yes"
    width = min(width_of(text, small, bold=bold) + 2.0, 0.3 * sheet.width)
    x, y = plot.x(row.price), plot.y(row.ranked_rise_k)
    for dx, dy in _offsets(width, small):
        box = (x + dx, y + dy - 0.6 * small, x + dx + width, y + dy + 0.6 * small)
        inside = box[0] > plot.box[0] and box[2] < plot.box[2] and box[1] > plot.box[1] and box[3] < plot.box[3]
        if inside and not any(_meet(box, other) for other in taken):
            taken.append(box)
            if abs(dy) > 2.7 * small:
                edge = box[3] if dy < 0.0 else box[1]
                sheet.line([x, x], [edge, y + (-0.5 if dy < 0.0 else 0.5) * small], sheet.theme.rule, 2.0)
            sheet.text((x + dx, y + dy), text, small, bold=bold, width_px=width)
            return


def _offsets(width: float, small: float) -> list[tuple[float, float]]:
    """Where a name may stand beside its mark, the nearest first; farther ones are led to it by a line."""
    off, beside = 0.9 * small, -width / 2.0
    near = [(off, 0.0), (-off - width, 0.0), (beside, -2.6 * small), (beside, 2.6 * small)]
    askew = [(side, up * small) for up in (-1.4, 1.4) for side in (off, -off - width)]
    return near + askew + [(beside, up * small) for up in (-4.2, 4.2, -5.8, 5.8, -7.4, 7.4)]


def _meet(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
