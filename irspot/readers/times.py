"""When a frame was taken: from the file's own tags, else from a pattern in its name, else not known."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime


@dataclass(frozen=True, slots=True)
class Taken:
    """When a frame was taken.

    Parameters
    ----------
    utc : datetime or None
        Aware, in UTC.
    local : datetime or None
        Naive, by a clock whose zone is not known.
    """

    utc: datetime | None = None
    local: datetime | None = None

    @property
    def known(self) -> bool:
        """Whether there is any time at all."""
        return self.utc is not None or self.local is not None


UNKNOWN = Taken()

_IN_NAME = re.compile(
    r"""(?<!\d)
    (?P<year>(?:19|20)\d\d) (?P<d>[-_.]?) (?P<month>\d\d) (?P=d) (?P<day>\d\d)
    [-_.T ]{0,2}
    (?P<hour>\d\d) (?P<t>[-_.:]?) (?P<minute>\d\d) (?P=t) (?P<second>\d\d)
    (?P<zulu>Z(?![0-9A-Za-z]))?
    (?!\d)""",
    re.VERBOSE,
)
_IN_TAG = re.compile(r"\s*(\d{4})[:-](\d\d)[:-](\d\d)[ T](\d\d):(\d\d):(\d\d)\s*")


def from_tag(text: str) -> Taken:
    """Read a TIFF DateTime tag: whole seconds without a zone.

    Examples
    --------
    >>> from_tag("2026:03:01 14:23:05").local
    datetime.datetime(2026, 3, 1, 14, 23, 5)
    """
    match = _IN_TAG.fullmatch(text.strip("\0"))
    moment = _moment(match.groups()) if match else None
    return Taken(local=moment)


def from_iso(text: str) -> Taken:
    """Read an ISO 8601 time; with a zone it becomes UTC, without one it stays local.

    Examples
    --------
    >>> from_iso("2026-03-01T15:23:05+01:00").utc
    datetime.datetime(2026, 3, 1, 14, 23, 5, tzinfo=datetime.timezone.utc)
    """
    try:
        moment = datetime.fromisoformat(text.strip())
        return Taken(local=moment) if moment.tzinfo is None else Taken(utc=moment.astimezone(UTC))
    except (ValueError, OverflowError):
        return UNKNOWN


def from_name(name: str) -> Taken:
    """Find a date and time in a file name, such as ``20260301-142305`` or ``2026-03-01_14-23-05Z``.

    Two different times in one name leave it unknown: which of them is meant would be a guess.

    Examples
    --------
    >>> from_name("k7_20260301-142305.tiff").local
    datetime.datetime(2026, 3, 1, 14, 23, 5)
    >>> from_name("k7-001234.tiff").known
    False
    """
    found = {taken for match in _IN_NAME.finditer(name) if (taken := _named(match)).known}
    return found.pop() if len(found) == 1 else UNKNOWN


def _named(match: re.Match[str]) -> Taken:
    moment = _moment(match.group("year", "month", "day", "hour", "minute", "second"))
    if moment is None or not match["zulu"]:
        return Taken(local=moment)
    return Taken(utc=moment.replace(tzinfo=UTC))


def _moment(parts: tuple[str, ...]) -> datetime | None:
    try:
        year, month, day, hour, minute, second = (int(part) for part in parts)
        return datetime(year, month, day, hour, minute, second)
    except ValueError:
        # Digits that are no date: a serial number, or a clock that was never set.
        return None
