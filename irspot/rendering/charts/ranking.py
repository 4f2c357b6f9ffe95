"""Boards ranked: bars from zero with error bars and values, ties by letters, limits drawn, the rest set apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from irspot.compare.standing import Standing
from irspot.compare.values import Ranking
from irspot.rendering.charts.look import Chart, Sheet, checked_size, file_name, theme_of, ticks, width_of, wrapped

MOST_BARS: Final = 20
SINGLE: Final = " *"
_THICK: Final = 0.62
"""Of a bar, in steps from one to the next."""
_HATCH: Final = "///"


def ranking_chart(
    ranking: Ranking, batch_now: str, *, size: tuple[int, int] = (1920, 1080), theme: str = "dark"
) -> Chart:
    """Draw one ranking.

    Parameters
    ----------
    ranking : Ranking
    batch_now : str
        Batch whose bars are not paler.
    size : tuple of int
        Width and height in px.
    theme : {"dark", "light"}

    Returns
    -------
    Chart
        Of the first `MOST_BARS` boards; how many more there are is said.

    Raises
    ------
    UsageError
        For a size or theme there is not.
    """
    sheet = Sheet(checked_size(size), theme_of(theme))
    return _Drawing(sheet, ranking, batch_now).chart()


def name_of(row: Standing) -> str:
    """What a bar is called: the board's name where it is one, else its entry."""
    if not row.board_name:
        return row.entry
    # Batches stand in a column of their own.
    alone = row.entry in (row.board, f"{row.board} ({row.batch})")
    return row.board_name if alone else f"{row.board_name} ({row.entry})"


def value_of(row: Standing) -> str:
    """What stands at a bar: the rise that was ranked."""
    return row.rise_headline("K") or "no value"


def _is_ranked(row: Standing) -> bool:
    return row.comparable == "yes" and row.rank is not None


def _has_bar(row: Standing) -> bool:
    return math.isfinite(row.ranked_rise_k) and row.verdict != "retake"


def alt_of(ranking: Ranking, shown: Sequence[Standing], apart: Sequence[Standing]) -> str:
    """Say a ranking in words, from the rows."""
    parts = [
        f"Rise of {ranking.role} over ambient, {ranking.load_name or ranking.load}, {ranking.side}; coolest first."
    ]
    parts += [
        f"{name_of(row)}{f', {row.batch}' if row.batch else ''}: {value_of(row)}"
        + (f", ties {row.tie_group}" if row.tie_group else "")
        + (f", limit {row.outcome}" if row.outcome not in ("", "not judged") else "")
        + "."
        for row in shown
    ]
    parts += [f"Not compared: {name_of(row)}, {value_of(row)}: {'; '.join(row.reasons)}." for row in apart]
    return " ".join(parts)


class _Drawing:
    """One chart as it is drawn."""

    def __init__(self, sheet: Sheet, ranking: Ranking, batch_now: str) -> None:
        self.sheet, self.ranking, self.batch_now = sheet, ranking, batch_now
        self.rows = ranking.rows[:MOST_BARS]
        self.apart = ranking.apart[: max(0, MOST_BARS - len(self.rows))]
        self.margin = sheet.margin
        self.top, self.bottom = 0.135 * sheet.unit, sheet.height - 0.105 * sheet.unit
        lines = len(self.rows) + len(self.apart) + (0.9 if self.apart else 0.0)
        self.step = min((self.bottom - self.top) / max(lines, 1.0), 0.13 * sheet.unit)
        self.type = min(max(0.52 * self.step, sheet.type_px()), 0.036 * sheet.unit)
        self.small = sheet.type_px()
        self._columns()

    def _columns(self) -> None:
        everyone = (*self.rows, *self.apart)
        names = max((width_of(name_of(row), self.type) for row in everyone), default=0.0)
        batches = max((width_of(row.batch, self.small) + 12.0 for row in everyone if row.batch), default=0.0)
        self.name_width = min(names, 0.26 * self.sheet.width)
        self.batch_width = min(batches, 0.1 * self.sheet.width)
        self.left = self.margin + self.name_width + self.batch_width + 0.02 * self.sheet.width
        self.some_single = len({row.repeats == 1 for row in self.rows}) == 2
        values = max((width_of(self._value(row), self.type, bold=True) for row in everyone), default=0.0)
        ties = max((width_of(row.tie_group, self.type) for row in self.rows), default=0.0)
        self.tie_x = self.sheet.width - self.margin - ties
        self.value_x = self.tie_x - 0.02 * self.sheet.width - values
        self.right = self.value_x - 0.012 * self.sheet.width
        ends = [self._high_k(row) for row in everyone]
        limit_k = self._limit_k()
        most = max([end for end in ends if math.isfinite(end)], default=1.0)
        # A limit far beyond every bar would squeeze them; it is said in words then.
        self.limit_k = limit_k if math.isfinite(limit_k) and 0.0 < limit_k <= 1.6 * most else math.nan
        self.most_k = 1.03 * max(most, self.limit_k if math.isfinite(self.limit_k) else 0.0, 1e-6)

    def _value(self, row: Standing) -> str:
        """Mark the value of a single run where others were repeated."""
        return value_of(row) + (SINGLE if self.some_single and row.repeats == 1 else "")

    def _high_k(self, row: Standing) -> float:
        return row.ranked_rise_k + (row.U_k if math.isfinite(row.U_k) else 0.0)

    def _limit_k(self) -> float:
        """Give the common limit as a rise at the air that rises are given for."""
        air = [row.normalised_degc - row.rise_k for row in self.rows if math.isfinite(row.normalised_degc)]
        return self.ranking.limit_degc - air[0] if air else math.nan

    def x(self, rise_k: float) -> float:
        return self.left + (self.right - self.left) * rise_k / self.most_k

    def chart(self) -> Chart:
        """Draw it."""
        ranking, sheet = self.ranking, self.sheet
        title = f"{ranking.role}, {ranking.load_name or ranking.load}, {ranking.side}"
        left_out = len(ranking.rows) + len(ranking.apart) - len(self.rows) - len(self.apart)
        said = ["rise over ambient, K; error bars: expanded uncertainty (k = 2)", *ranking.footing[:2]]
        said += [f"{left_out} more in compare.csv"] if left_out > 0 else []
        sheet.heading(title, " · ".join(said))
        self._axis()
        y = self.top
        for row in self.rows:
            self._row(row, y)
            y += self.step
        if self.apart:
            self._parted(y)
            y += 0.9 * self.step
        for row in self.apart:
            self._row(row, y)
            y += self.step
        self._limit()
        for number, row in enumerate(self.rows):
            self._end(row, self.top + (number + 0.5) * self.step)
        self._foot()
        name = file_name("ranking", ranking.load, ranking.role, ranking.side)
        return sheet.chart(name, title, alt_of(ranking, self.rows, self.apart))

    def _axis(self) -> None:
        sheet = self.sheet
        room = max(2, int((self.right - self.left) / (3.2 * self.small)))
        for tick in ticks(0.0, self.most_k, min(room, 9)):
            x = self.x(tick)
            sheet.line([x, x], [self.top - 4.0, self.bottom], sheet.theme.rule, max(1.0, 0.0012 * sheet.unit))
            sheet.text(
                (x, self.bottom + 0.8 * self.small), f"{tick:g}", self.small, color=sheet.theme.muted, align="center"
            )
        sheet.line([self.left] * 2, [self.top - 4.0, self.bottom], sheet.theme.muted, max(1.5, 0.002 * sheet.unit))

    def _row(self, row: Standing, y: float) -> None:
        sheet, ranked = self.sheet, _is_ranked(row)
        middle = y + 0.5 * self.step
        sheet.text((self.margin, middle), name_of(row), self.type, width_px=self.name_width + 1.0)
        if row.batch:
            at = (self.margin + self.name_width + self.batch_width, middle)
            sheet.text(
                at, row.batch, self.small, color=sheet.theme.muted, align="right", width_px=self.batch_width - 6.0
            )
        if not ranked:
            self._set_apart(row, y)
        elif _has_bar(row):
            self._bar(row, middle)
        sheet.text((self.value_x, middle), self._value(row), self.type, bold=True, width_px=self.tie_x - self.value_x)
        if row.tie_group and ranked:
            sheet.text((self.tie_x, middle), row.tie_group, self.type, color=sheet.theme.muted)

    def _bar(self, row: Standing, middle: float) -> None:
        theme, thick = self.sheet.theme, _THICK * self.step
        old = bool(row.batch) and row.batch != self.batch_now
        shown_k = row.bound_rise_k if row.at_least else row.ranked_rise_k
        length = max(self.x(max(shown_k, 0.0)) - self.left, 0.0)
        self.sheet.bar(self.left, middle - 0.5 * thick, length, thick, theme.before if old else theme.now)

    def _end(self, row: Standing, middle: float) -> None:
        """Draw what a bar's end is worth, above limits."""
        thick = _THICK * self.step
        if not _is_ranked(row) or not _has_bar(row):
            return
        if row.at_least:
            self._open_end(self.x(max(row.bound_rise_k, 0.0)), middle, 0.35 * thick)
        elif math.isfinite(row.U_k):
            self._error_bar(row, middle, 0.2 * thick)

    def _open_end(self, x: float, middle: float, tip: float) -> None:
        """Draw an arrow: the rise is at least so large."""
        wide, ink = max(1.5, 0.0028 * self.sheet.unit), self.sheet.theme.bar_ink
        self.sheet.cased([x, x + 2.0 * tip], [middle] * 2, ink, wide)
        self.sheet.cased(
            [x + 1.3 * tip, x + 2.0 * tip, x + 1.3 * tip], [middle - tip / 2, middle, middle + tip / 2], ink, wide
        )

    def _error_bar(self, row: Standing, middle: float, cap: float) -> None:
        wide, ink = max(1.5, 0.0028 * self.sheet.unit), self.sheet.theme.bar_ink
        low_k, high_k = row.ranked_rise_k - row.U_k, self._high_k(row)
        if high_k <= 0.0:
            return
        self.sheet.cased([self.x(max(low_k, 0.0)), self.x(high_k)], [middle] * 2, ink, wide)
        # An end below zero lies off the chart: a cap at zero would say that it ends there.
        for end in (self.x(end_k) for end_k in (low_k, high_k) if end_k >= 0.0):
            self.sheet.cased([end] * 2, [middle - cap, middle + cap], ink, wide)

    def _set_apart(self, row: Standing, y: float) -> None:
        """Draw a hatched bar, and below it why the board is not compared."""
        sheet, thick = self.sheet, 0.3 * self.step
        if _has_bar(row):
            length = max(self.x(max(row.ranked_rise_k, 0.0)) - self.left, 0.0)
            sheet.bar(self.left, y + 0.08 * self.step, length, thick, sheet.theme.apart, _HATCH)
        left, line = self.left + 0.4 * self.small, 1.2 * self.small
        most = max(1, int(0.55 * self.step / line))
        words = wrapped(row.reasons or ("not compared",), "; ", self.small, self.right - left, most)
        for number, each in enumerate(words):
            at = (left, y + 0.42 * self.step + 0.62 * self.small + number * line)
            sheet.text(at, each, self.small, color=sheet.theme.muted, width_px=self.right - left)

    def _parted(self, y: float) -> None:
        sheet, middle = self.sheet, y + 0.5 * self.step
        sheet.line([self.margin, sheet.width - self.margin], [y + 0.12 * self.step] * 2, sheet.theme.rule, 2.0)
        sheet.text((self.margin, middle), "not compared with these", self.small, color=sheet.theme.muted)

    def _limit(self) -> None:
        ranking, sheet = self.ranking, self.sheet
        if not math.isfinite(ranking.limit_degc):
            return
        words = f"limit {ranking.limit_degc:g} °C ({ranking.limit_kind})"
        if math.isfinite(self.limit_k):
            xs, ys = [self.x(self.limit_k)] * 2, [self.top - 4.0, self.top + self.step * len(self.rows)]
            wide = max(2.0, 0.003 * sheet.unit)
            sheet.line(xs, ys, sheet.theme.page, 2.6 * wide)
            sheet.line(xs, ys, sheet.theme.limit, wide, "--")
        foot = sheet.height - 0.03 * sheet.unit
        sheet.text(
            (sheet.width - self.margin, foot),
            words,
            self.small,
            color=sheet.theme.limit,
            align="right",
            width_px=0.45 * sheet.width,
        )

    def _foot(self) -> None:
        sheet, foot = self.sheet, self.sheet.height - 0.03 * self.sheet.unit
        batches = list(dict.fromkeys(row.batch for row in (*self.rows, *self.apart) if row.batch))
        earlier = [batch for batch in batches if batch != self.batch_now]
        said = [f"paler: {', '.join(earlier)}"] if earlier and self.batch_now else []
        if any(row.tie_group for row in self.rows):
            said.insert(0, "boards that share a letter cannot be told apart")
        if any(row.repeats == 1 for row in self.rows):
            said.insert(0, "* single run" if self.some_single else "single runs")
        width = 0.53 * sheet.width
        lines = wrapped(said, " · ", self.small, width, 2)
        for number, line in enumerate(lines):
            y = foot if len(lines) == 1 else foot + (number - 0.7) * 1.25 * self.small
            sheet.text((self.margin, y), line, self.small, color=sheet.theme.muted, width_px=width)
