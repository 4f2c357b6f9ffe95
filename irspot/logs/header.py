"""What the header of a log says: names, units, and which columns tell the time."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from irspot.constants import ZERO_DEGC_KELVIN

_UNIT: Final = re.compile(
    r"^(?P<name>.*?)\s*(?:\((?P<a>[^()]*)\)|\[(?P<b>[^\[\]]*)\]|(?:/|,|\s)\s*(?P<c>[^\s/,()\[\]]+))\s*$"
)

Convert = Callable[[float], float]
_UNITS: Final[dict[str, tuple[str, float, float]]] = {
    "°c": ("degC", 1.0, 0.0),
    "c": ("degC", 1.0, 0.0),
    "degc": ("degC", 1.0, 0.0),
    "deg c": ("degC", 1.0, 0.0),
    "celsius": ("degC", 1.0, 0.0),
    "k": ("degC", 1.0, -ZERO_DEGC_KELVIN),
    "kelvin": ("degC", 1.0, -ZERO_DEGC_KELVIN),
    "°f": ("degC", 5.0 / 9.0, -160.0 / 9.0),
    "f": ("degC", 5.0 / 9.0, -160.0 / 9.0),
    "degf": ("degC", 5.0 / 9.0, -160.0 / 9.0),
    "mv": ("mV", 1.0, 0.0),
    "v": ("mV", 1e3, 0.0),
    "µv": ("mV", 1e-3, 0.0),
    "uv": ("mV", 1e-3, 0.0),
    "w": ("W", 1.0, 0.0),
    "watt": ("W", 1.0, 0.0),
    "kw": ("W", 1e3, 0.0),
    "mw": ("W", 1e-3, 0.0),
    "ghz": ("GHz", 1.0, 0.0),
    "mhz": ("GHz", 1e-3, 0.0),
    "s": ("s", 1.0, 0.0),
    "sec": ("s", 1.0, 0.0),
    "seconds": ("s", 1.0, 0.0),
    "ms": ("s", 1e-3, 0.0),
    "min": ("s", 60.0, 0.0),
    "minutes": ("s", 60.0, 0.0),
    "h": ("s", 3600.0, 0.0),
}
"""Unit, lower case → what it is converted to, factor and offset. Megawatts are no board's; ``mW`` is milliwatt."""
EPOCH: Final = frozenset({"epoch", "unix", "unixtime", "unix_time", "epochtime", "epoch_time"})
"""Seconds since the beginning of 1970, UTC."""
ELAPSED: Final = frozenset({"elapsed", "elapsed_time", "elapsedtime", "duration", "runtime", "testtime", "laufzeit"})
"""Clock cells below these count from the start."""
_ENGLISH: Final = frozenset({"time", "timestamp", "datetime", "date/time", "date_time", "date&time", "utc", "utctime"})
_SHORT: Final = frozenset({"t", "s", "sec", "seconds", "time_s", "time_ms", "time_min"})
_OTHERS: Final = frozenset(
    {
        "zeit",
        "uhrzeit",
        "zeitstempel",
        "datum/uhrzeit",
        "heure",
        "temps",
        "horodatage",
        "tiempo",
        "hora",
        "tempo",
        "ora",
    }
)
_TIME: Final = _ENGLISH | _SHORT | _OTHERS | EPOCH | ELAPSED
_DATE: Final = frozenset({"date", "day", "datum", "tag", "jour", "fecha", "data"})


def plain_name(text: str) -> str:
    """Write a heading so that it can be compared: lower case, without blanks."""
    return "".join(text.casefold().split())


@dataclass(frozen=True, slots=True)
class Heading:
    """One column's heading.

    Parameters
    ----------
    name : str
        Without the unit.
    unit : str
        What values are converted to; empty where none is stated.
    factor, offset : float
        ``value * factor + offset`` converts.
    """

    name: str
    unit: str = ""
    factor: float = 1.0
    offset: float = 0.0


def unit_named(text: str) -> tuple[str, float, float] | None:
    """Look up a unit; None for one that is not known.

    Examples
    --------
    >>> unit_named("°C"), unit_named("µV"), unit_named("3")
    (('degC', 1.0, 0.0), ('mV', 0.001, 0.0), None)
    """
    return _UNITS.get(text.strip().casefold().replace("μ", "µ").replace("º", "°"))


def heading_of(text: str) -> Heading:
    """Part a heading into name and unit.

    Examples
    --------
    >>> heading_of("CH 3 (°C)")
    Heading(name='CH 3', unit='degC', factor=1.0, offset=0.0)
    >>> heading_of("CH 3").unit, heading_of("T_amb/°C").name, heading_of("bead_mV").unit
    ('', 'T_amb', 'mV')
    """
    text = text.strip().strip('"').strip()
    match = _UNIT.match(text)
    known = unit_named(match["a"] or match["b"] or match["c"] or "") if match else None
    if match and known and match["name"].strip():
        return Heading(match["name"].strip(), *known)
    _, underscore, tail = text.rpartition("_")
    # A single letter after an underscore is more likely part of the name: `power_w` is a unit, `phase_c` is not.
    known = unit_named(tail) if underscore and (len(tail) > 1 or tail.casefold() in "sw") else None
    return Heading(text, *known) if known else Heading(text)


def time_columns(names: tuple[str, ...]) -> tuple[int, int | None]:
    """Find the column of the time, and the one of the date where that stands apart.

    Parameters
    ----------
    names : tuple of str
        Headings without units.

    Returns
    -------
    tuple
        Indices; the first column where no name tells.
    """
    plain = [plain_name(name) for name in names]
    time = next((i for i, name in enumerate(plain) if name in _TIME), None)
    date = next((i for i, name in enumerate(plain) if name in _DATE), None)
    if time is None:
        return (0 if date is None else date), None
    return time, date
