"""What the cells of a log's time say: seconds, moments of a clock, or moments with a date."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Final

from irspot.logs.cells import Line, number_of, refused
from irspot.logs.header import ELAPSED, EPOCH, Heading, plain_name

_CLOCK: Final = re.compile(r"(\d{1,2}):(\d\d)(?::(\d\d)(?:[.,:](\d{1,6}))?)?\s*([AaPp][Mm])?")
_DATE_ISO: Final = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
_DATE_DOTS: Final = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4}|\d\d)")
_DATE_SLASHES: Final = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4}|\d\d)")
_DURATION: Final = re.compile(r"(\d+):(\d\d):(\d\d(?:[.,]\d+)?)")
_ZONE: Final = re.compile(r"\s*(Z|UTC|[+-]\d\d:?\d\d)\s*$", re.IGNORECASE)
_DAY_S: Final = 86400.0


@dataclass(frozen=True, slots=True)
class Stamps:
    """Times of a log's lines.

    Parameters
    ----------
    time_s : tuple of float
        Since `start`, or as counted; NaN where a cell holds no time.
    start : datetime or None
        See `irspot.logs.log.Log`.
    note : str
    """

    time_s: tuple[float, ...]
    start: datetime | None
    note: str


@dataclass(frozen=True, slots=True)
class TimeColumns:
    """Where a log tells the time.

    Parameters
    ----------
    time : int
    date : int or None
        Where that stands apart.
    heading : Heading
        Of the time.
    """

    time: int
    date: int | None
    heading: Heading


def stamps_of(lines: Sequence[Line], where: TimeColumns, declared: dict[str, str], decimal: str, file: str) -> Stamps:
    """Read the times of a log.

    Parameters
    ----------
    lines : sequence of Line
    where : TimeColumns
    declared : dict
        Comments of the log; ``date`` and ``utc_offset`` count.
    decimal : str
    file : str

    Raises
    ------
    FileInvalid
        If the times cannot be understood, or lack a date.
    """
    cells = [_cell(line, where.time) for line in lines]
    if where.date is None:
        counted = _counted(cells, where.heading, decimal)
        if _mostly(counted):
            return _counting(counted, where.heading)
    dates = [_cell(line, where.date) for line in lines] if where.date is not None else None
    months_first = _months_first([*(dates or ()), *cells], file)
    moments = _moments(cells, dates, declared, months_first, lines, file)
    return _since_first(moments, declared, file)


def _counted(cells: Sequence[str], heading: Heading, decimal: str) -> list[float | None]:
    """Read counts of seconds, or durations below a heading that says so."""
    factor = heading.factor if heading.unit == "s" else 1.0
    numbers = [number_of(cell, decimal) for cell in cells]
    if plain_name(heading.name) in ELAPSED and not _mostly(numbers):
        return [_duration_s(cell) for cell in cells]
    return [None if number is None else number * factor for number in numbers]


def _counting(counted: Sequence[float | None], heading: Heading) -> Stamps:
    known = [each for each in counted if each is not None]
    epoch = plain_name(heading.name) in EPOCH
    first = known[0] if epoch else 0.0
    start = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=first) if epoch else None
    time_s = tuple(float("nan") if each is None else each - first for each in counted)
    return Stamps(time_s, start, "seconds since 1970, UTC" if epoch else "time counted from the start")


def _duration_s(cell: str) -> float | None:
    match = _DURATION.fullmatch(cell)
    if match is None:
        return None
    return 3600.0 * int(match[1]) + 60.0 * int(match[2]) + float(match[3].replace(",", "."))


def _cell(line: Line, column: int) -> str:
    return line.cells[column] if column < len(line.cells) else ""


def _mostly(values: Sequence[object]) -> bool:
    return 2 * sum(value is not None for value in values) > len(values)


def _months_first(texts: Sequence[str], file: str) -> bool:
    """Tell ``day/month/year`` from ``month/day/year`` by a part above twelve; refuse where nothing tells."""
    pairs = {(int(m[1]), int(m[2])) for text in texts if (m := _DATE_SLASHES.match(text))}
    day_first = any(first > 12 for first, _ in pairs)
    month_first = any(second > 12 for _, second in pairs)
    if pairs and day_first == month_first:
        example = next(text for text in texts if _DATE_SLASHES.match(text))
        raise refused(
            file,
            "the dates can be read with the day or the month first",
            found=example,
            hint="write dates as 2026-03-01, or state '# date: 2026-03-01' and leave them out",
        )
    return month_first


def _moments(
    cells: Sequence[str],
    dates: Sequence[str] | None,
    declared: dict[str, str],
    months_first: bool,
    lines: Sequence[Line],
    file: str,
) -> list[datetime | None]:
    day = _date(declared["date"], months_first) if "date" in declared else None
    found: list[datetime | None] = []
    before: datetime | None = None
    undated: Line | None = None
    for cell, line, text in zip(cells, lines, dates if dates is not None else [""] * len(cells), strict=True):
        moment = _moment(f"{text} {cell}".strip(), months_first)
        if moment is None and (clock := _clock(cell)) is not None:
            if day is None:
                undated = undated or line
            else:
                moment = datetime(day.year, day.month, day.day) + clock
                # A clock without dates that falls by most of a day has passed midnight.
                if before is not None and (before - moment).total_seconds() > 0.5 * _DAY_S:
                    day += timedelta(days=1)
                    moment += timedelta(days=1)
                before = moment
        found.append(moment)
    if undated is not None and not _mostly(found):
        raise refused(
            file,
            "the times have no date",
            key=f"line {undated.number}",
            found=cells[lines.index(undated)][:40],
            wanted="a column of dates, or a comment line '# date: 2026-03-01'",
        )
    if not _mostly(found):
        raise refused(
            file,
            "the times are not understood",
            key=f"line {lines[0].number}",
            found=cells[0][:40],
            wanted="seconds, 2026-03-01T14:23:05, or a clock time with a date",
        )
    return found


def _moment(text: str, months_first: bool) -> datetime | None:
    """Read a date with a time, whatever order and separators it has; None for anything else."""
    zone = _ZONE.search(text)
    plain = text[: zone.start()] if zone else text
    day = _date(plain, months_first)
    clock = _CLOCK.search(plain)
    if day is None or clock is None:
        return None
    offset = _clock(plain[clock.start() :])
    if offset is None:
        return None
    moment = datetime(day.year, day.month, day.day) + offset
    if zone is None:
        return moment
    return (moment - _offset(zone[1])).replace(tzinfo=UTC)


def _offset(text: str) -> timedelta:
    if text.upper() in ("Z", "UTC"):
        return timedelta()
    size = timedelta(hours=int(text[1:3]), minutes=int(text[-2:]))
    return -size if text[0] == "-" else size


def _date(text: str, months_first: bool) -> date | None:
    try:
        if match := _DATE_ISO.match(text.strip()):
            return date(int(match[1]), int(match[2]), int(match[3]))
        if match := _DATE_DOTS.match(text.strip()):
            return date(_year(match[3]), int(match[2]), int(match[1]))
        if match := _DATE_SLASHES.match(text.strip()):
            month, day = (match[1], match[2]) if months_first else (match[2], match[1])
            return date(_year(match[3]), int(month), int(day))
    except ValueError:
        return None
    return None


def _year(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text)


def _clock(text: str) -> timedelta | None:
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        return None
    hour, minute, second = int(match[1]), int(match[2]), int(match[3] or 0)
    if match[5]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if match[5].lower() == "pm" else 0)
    if hour > 23 or minute > 59 or second > 59:
        return None
    return timedelta(hours=hour, minutes=minute, seconds=second, microseconds=int((match[4] or "0").ljust(6, "0")))


def _since_first(moments: Sequence[datetime | None], declared: dict[str, str], file: str) -> Stamps:
    known = [moment for moment in moments if moment is not None]
    start = known[0]
    if any((moment.tzinfo is None) != (start.tzinfo is None) for moment in known):
        raise refused(file, "some times state a zone and some do not", wanted="one way for all")
    time_s = tuple(float("nan") if moment is None else (moment - start).total_seconds() for moment in moments)
    if start.tzinfo is None and (text := declared.get("utc_offset")):
        if not re.fullmatch(r"Z|UTC|[+-]\d\d:?\d\d", text, re.IGNORECASE):
            raise refused(file, "utc_offset is not understood", found=text[:40], wanted="'# utc_offset: +01:00'")
        start = (start - _offset(text)).replace(tzinfo=UTC)
    stated = "zone stated" if start.tzinfo is not None else "no zone stated"
    return Stamps(time_s, start, f"clock times, {stated}")
