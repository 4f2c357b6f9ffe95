"""Rise against price: what a cooler board costs, with the boards that no cheaper one certainly equals."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from irspot.compare.standing import Standing
from irspot.compare.values import Ranking
from irspot.rendering.charts.look import Chart, Sheet, checked_size, file_name, theme_of, width_of
from irspot.rendering.charts.plot import Plot, spanning
from irspot.rendering.charts.ranking import MOST_BARS, name_of, value_of

Box = tuple[float, float, float, float]
"""Left, top, right and bottom, in px."""
_LINE: Final = 1.5
"""Height of a line of the key, in its type size."""


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
    sheet, rows = Sheet(checked_size(size), theme_of(theme)), priced(ranking)[:MOST_BARS]
    small = sheet.type_px()
    currency = rows[0].currency if rows else ""
    title = f"Price and rise: {ranking.role}, {ranking.load_name or ranking.load}, {ranking.side}"
    highs = [row.ranked_rise_k + row.U_k for row in rows] + [0.0]
    key, box = _places(sheet, len(rows))
    across = spanning([row.price for row in rows], f"price, {currency} ({_dated(rows)})", least=1.0)
    plot = Plot(sheet, box, across, spanning(highs, "rise over ambient, K", least=1.0, zero=True))
    said = "filled, bold, dotted: the frontier, where every cheaper board is certainly hotter · bars: U (k = 2)"
    left_out = len(priced(ranking)) - len(rows)
    said += f" · {left_out} more in compare.csv" if left_out else ""
    sheet.heading(title, said)
    plot.grid()
    ordered = sorted(rows, key=lambda row: (row.price, row.ranked_rise_k))
    taken = _frontier(plot, rows)
    for row in ordered:
        _mark(plot, row, old=bool(row.batch) and row.batch != batch_now)
        x, reach = plot.x(row.price), 0.6 * small
        taken.append((x - reach, plot.y(row.ranked_rise_k) - reach, x + reach, plot.y(row.ranked_rise_k) + reach))
    for number, row in enumerate(ordered, start=1):
        _number(plot, row, str(number), taken)
    _key(sheet, ordered, key)
    alt = f"{title}. " + " ".join(_said(row) for row in rows)
    return sheet.chart(file_name("price", ranking.load, ranking.role, ranking.side), title, alt)


def _places(sheet: Sheet, count: int) -> tuple[tuple[float, float], Box]:
    """Give where the key begins and where the plot lies: side by side, on upright pages one above the other."""
    margin, small = sheet.margin, sheet.type_px()
    left, top = margin + 3.0 * small, 0.19 * sheet.unit
    if sheet.width >= sheet.height:
        key = (0.64 * sheet.width, top)
        return key, (left, top, key[0] - 1.5 * small, sheet.height - 0.12 * sheet.unit)
    key = (margin, sheet.height - margin - _LINE * count * small)
    return key, (left, top, sheet.width - margin, key[1] - 4.0 * small)


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


def _frontier(plot: Plot, rows: Sequence[Standing]) -> list[Box]:
    """Join the boards of the frontier by steps, in order of price; give where these run across."""
    best = sorted((row for row in rows if row.on_frontier == "yes"), key=lambda row: (row.price, -row.ranked_rise_k))
    if not best:
        return []
    xs = [plot.x(row.price) for row in best for _ in (0, 1)]
    ys = [plot.y(row.ranked_rise_k) for row in best for _ in (0, 1)]
    plot.sheet.line([*xs[1:], plot.box[2]], ys, plot.sheet.theme.third, 0.0025 * plot.sheet.unit, ":")
    ends = [*xs[2::2], plot.box[2]]
    return [(x, y - 2.0, end, y + 2.0) for x, y, end in zip(xs[::2], ys[::2], ends, strict=True)]


def _number(plot: Plot, row: Standing, number: str, taken: list[Box]) -> None:
    """Write a board's number beside its mark, where it covers no other; the key tells its name either way."""
    sheet, small = plot.sheet, plot.sheet.type_px()
    bold, x, y = row.on_frontier == "yes", plot.x(row.price), plot.y(row.ranked_rise_k)
    half = 0.5 * width_of(number, small, bold=bold) + 1.0
    for dx, dy in _offsets(half, small):
        box = (x + dx - half, y + dy - 0.5 * small, x + dx + half, y + dy + 0.5 * small)
        inside = plot.box[0] < box[0] and box[2] < plot.box[2] and plot.box[1] < box[1] and box[3] < plot.box[3]
        if inside and not any(_meet(box, other) for other in taken):
            taken.append(box)
            if math.hypot(dx, dy) > 2.0 * small + half:
                sheet.line([x, x + dx - math.copysign(half, dx)], [y, y + dy], sheet.theme.muted, 0.001 * sheet.unit)
            sheet.text((x + dx, y + dy), number, small, bold=bold, align="center")
            return


def _offsets(half: float, small: float) -> list[tuple[float, float]]:
    """Where a number may stand beside its mark, the nearest first; farther ones are led to it by a line."""
    rows = [up * small for up in (0.0, -1.1, 1.1, -2.2, 2.2, -3.3, 3.3)]
    columns = [side * (0.8 * small + half + out * small) for out in (0.0, 1.6, 3.2) for side in (1.0, -1.0)]
    return sorted(((dx, dy) for dy in rows for dx in columns), key=lambda at: (math.hypot(*at), -at[0], at[1]))


def _key(sheet: Sheet, ordered: Sequence[Standing], at: tuple[float, float]) -> None:
    """Write number, name, price and rise of every board, in order of price; only names are shortened."""
    small, right = sheet.type_px(), sheet.width - sheet.margin
    prices = [f"{row.price:g}" for row in ordered]
    gap = 0.7 * small
    value_width = max((width_of(value_of(row), small, bold=True) for row in ordered), default=0.0)
    price_right = right - value_width - gap
    name_left = at[0] + width_of("00", small, bold=True) + gap
    name_width = (
        price_right - max((width_of(price, small, bold=True) for price in prices), default=0.0) - gap - name_left
    )
    for number, (row, price) in enumerate(zip(ordered, prices, strict=True), start=1):
        y, bold = at[1] + _LINE * (number - 0.5) * small, row.on_frontier == "yes"
        sheet.text((name_left - gap, y), str(number), small, bold=bold, align="right", color=sheet.theme.muted)
        sheet.text((name_left, y), name_of(row), small, bold=bold, width_px=name_width)
        sheet.text((price_right, y), price, small, bold=bold, align="right")
        sheet.text((right, y), value_of(row), small, bold=bold, align="right")


def _meet(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
