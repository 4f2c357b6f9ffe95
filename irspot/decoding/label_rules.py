"""What printed numbers have to agree with before they may be the temperatures of a colour bar. No pixels here.

A number that was read wrongly must not get through; one that was read rightly may be asked for.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from irspot.constants import ZERO_DEGC_KELVIN

FloatArray = NDArray[np.float64]
Unit = Literal["", "C", "F", "K"]

PLAUSIBLE_DEGC = (-60.0, 1000.0)
"""What the ends of a bar over a circuit board can be: from climate chambers to well above soldering."""
FAR_FROM_AMBIENT_K = (60.0, 20.0)
"""The cold end is at most this far above the ambient, the hot end at most that far below. A range locked on a hot part
may start well above the room; one that lost a decimal point starts at ten times the room's temperature."""
OFF_PLACE_PX = 1.6
"""How far the middle of a printed number may lie from where its value is on the bar: text is set on whole px."""
LEAST_SHARE = 0.5
"""Of the bar that labels not at its ends have to span, since the scale is continued from them."""
COARSEST = 0.05
"""How far the ends may be off, as a share of the bar's range."""
_AT_END_PX = 2.5
"""A number stands at an end if its middle, or its edge there, is as near as this."""
_BY_CHANCE_PX = 1.25
_ALIGNED_PX = 2.0
_MOST_DIVISIONS = 20

_NUMBER = re.compile(r"(-?)(0|[1-9][0-9]{0,3})(?:([.,])([0-9]{1,3}))?")
_TAIL = {"": "", "°": "", "°C": "C", "C": "C", "°F": "F", "F": "F", "K": "K"}
_SAME = str.maketrans({"−": "-", "–": "-", "—": "-", "º": "°", "˚": "°", "。": ".", "，": ",", "．": "."})


@dataclass(frozen=True, slots=True)
class Number:
    """A printed number.

    Parameters
    ----------
    text : str
        As printed, without its unit.
    value : float
        In its own unit.
    decimals : int
    separator : {"", ".", ","}
    """

    text: str
    value: float
    decimals: int
    separator: str

    @property
    def form(self) -> str:
        """Its glyphs: ``D`` a digit, ``.`` a point or comma, ``-`` a minus."""
        return re.sub(r"\d", "D", self.text.replace(",", "."))


@dataclass(frozen=True, slots=True)
class Placed:
    """A number at a place of the bar.

    Parameters
    ----------
    number : Number
    unit : {"", "C", "F", "K"}
    place : float
        Of its middle, 0 at the low end of the bar, 1 at the high end.
    reach : (float, float)
        Places of its two edges along the bar.
    beyond : bool
        Whether it stands beyond an end instead of beside the bar.
    """

    number: Number
    unit: Unit
    place: float
    reach: tuple[float, float]
    beyond: bool = False


@dataclass(frozen=True, slots=True)
class Ends:
    """Temperatures of a bar's ends, °C, and how far either may be off, K.

    The bound is half a unit of the last digit, and where the scale is continued from numbers inside the bar, what
    their places are uncertain by.
    """

    low_degc: float
    high_degc: float
    bound_k: float


class Refused(ValueError):
    """The numbers break a rule; the message is a sentence without a final stop."""


def tidy(text: str) -> str:
    """Drop spaces and write every minus, degree sign and point one way.

    Examples
    --------
    >>> tidy(" −3.5 ℃")
    '-3.5°C'
    """
    closed = "".join(text.split()).translate(_SAME).replace("℃", "°C").replace("℉", "°F")
    return re.sub("°+", "°", closed)


def number_of(text: str) -> Number | None:
    """Take a whole text as a number, None where it is none.

    Examples
    --------
    >>> number_of("-3,50").value, number_of("48.1").form, number_of("007"), number_of("48.1.")
    (-3.5, 'DD.D', None, None)
    """
    found = _NUMBER.fullmatch(tidy(text))
    if found is None:
        return None
    sign, whole, separator, fraction = found.groups()
    value = float(f"{sign}{whole}.{fraction or 0}")
    return Number(found.group(0), value, len(fraction or ""), separator or "")


def unit_of(tail: str) -> Unit | None:
    """Give the unit that follows a number, None where it is no unit known here."""
    return _TAIL.get(tidy(tail).upper())  # type: ignore[return-value]


def to_degc(value: float, unit: Unit) -> float:
    """Convert a temperature to °C; no unit means °C.

    Examples
    --------
    >>> to_degc(212.0, "F"), to_degc(20.5, "")
    (100.0, 20.5)
    """
    if unit == "F":
        return (value - 32.0) / 1.8
    return value - ZERO_DEGC_KELVIN if unit == "K" else value


def ends_of(labels: Sequence[Placed], length_px: float, ambient_degc: float | None = None) -> Ends:
    """Give the temperatures of a bar's ends if the printed numbers agree with every rule.

    Parameters
    ----------
    labels : sequence of Placed
        Every number printed at one side of the bar (or beyond its ends), in any order.
    length_px : float
        Of the bar.
    ambient_degc : float, optional

    Returns
    -------
    Ends

    Raises
    ------
    Refused
        Fewer than two numbers; of unequal format or unit; not rising towards the hot end; not where they belong on the
        bar; implausible; too coarse; far from the ambient.
    """
    if len(labels) < 2:
        raise Refused("fewer than two numbers can be read for certain at the colour bar")
    ordered = sorted(labels, key=lambda label: label.place)
    unit = _common_unit(ordered)
    decimals = _common_decimals(ordered)
    _require_rising(ordered)
    half = 0.5 * 10.0**-decimals
    if any(label.beyond for label in ordered):
        low, high, bound = *_beyond_ends(ordered), half
    else:
        low, high, bound = _along(ordered, length_px, half)
    if bound > COARSEST * (high - low):
        raise Refused("the numbers at the colour bar are too coarse for its range")
    ends = Ends(to_degc(low, unit), to_degc(high, unit), bound / 1.8 if unit == "F" else bound)
    _require_plausible(ends, ambient_degc)
    return ends


def _common_unit(labels: Sequence[Placed]) -> Unit:
    units = {label.unit for label in labels}
    if len(units) > 1:
        raise Refused("the numbers at the colour bar have different units")
    return units.pop()


def _common_decimals(labels: Sequence[Placed]) -> int:
    formats = {(label.number.decimals, label.number.separator) for label in labels}
    if len(formats) > 1:
        raise Refused("the numbers at the colour bar have different numbers of decimals")
    return formats.pop()[0]


def _require_rising(ordered: Sequence[Placed]) -> None:
    values = np.array([label.number.value for label in ordered])
    if np.all(np.diff(values) < 0.0):
        raise Refused("the printed numbers fall towards what its colours say is the hot end of the colour bar")
    if not np.all(np.diff(values) > 0.0):
        raise Refused("the numbers at the colour bar do not rise from one end to the other")


def _beyond_ends(ordered: Sequence[Placed]) -> tuple[float, float]:
    low, high = ordered[0], ordered[-1]
    if len(ordered) != 2 or not (low.beyond and high.beyond and low.place < 0.0 and high.place > 1.0):
        raise Refused("the numbers beyond the colour bar's ends are not one at each end")
    return low.number.value, high.number.value


def _along(ordered: Sequence[Placed], length_px: float, half: float) -> tuple[float, float, float]:
    """Give the ends' values and their bound, from numbers beside the bar.

    A bar is labelled at its ends and even divisions between them, or at round numbers wherever those fall.
    """
    low_at, high_at = (_end_reached(ordered[at], end, length_px) for at, end in ((0, 0.0), (-1, 1.0)))
    values = np.array([label.number.value for label in ordered])
    centres = np.array([label.place for label in ordered])
    if len(ordered) == 2:
        if not (low_at and high_at):
            raise Refused("the two numbers at the colour bar do not stand at its ends")
        return float(values[0]), float(values[1]), half
    round_numbers = _round_numbers(values)
    at_ends = np.array([0.0 if low_at else centres[0], *centres[1:-1], 1.0 if high_at else centres[-1]])
    # A round number may be near an end, or a division, by chance.
    places, off_px = (centres, _BY_CHANCE_PX) if round_numbers else (at_ends, _AT_END_PX)
    divisions = _divisions(places, length_px, off_px)
    if divisions is not None and _off(divisions, values) <= 1.1 * half:
        return _of_divisions(
            divisions, values, half, _by_chance(divisions, centres, length_px) if round_numbers else 0.0
        )
    slope = (values[-1] - values[0]) / (centres[-1] - centres[0])
    if round_numbers and _off(centres, values) <= slope * OFF_PLACE_PX / length_px + 1.1 * half:
        return _continued(centres, values, length_px, half)
    raise Refused("the numbers at the colour bar do not stand where a linear scale has them")


def _round_numbers(values: FloatArray) -> bool:
    """Say whether numbers are multiples of a round step, as ticks at places of their own are."""
    step = float(np.diff(values).min())
    power = 10.0 ** np.floor(np.log10(step) + 1e-9)
    mantissa, multiples = step / power, values / step
    round_step = min(abs(mantissa - m) for m in (1.0, 2.0, 2.5, 5.0)) < 1e-6
    return round_step and bool(np.all(np.abs(multiples - np.rint(multiples)) < 1e-6))


def _end_reached(label: Placed, end: float, length_px: float) -> bool:
    """Say whether a label is centred on an end of the bar, or inside it with its edge on the end."""
    off = abs(label.place - end) * length_px
    edge = label.reach[0] if end == 0.0 else label.reach[1]
    return off <= _AT_END_PX or (abs(edge - end) * length_px <= _ALIGNED_PX and 0.0 <= label.place <= 1.0)


def _divisions(places: FloatArray, length_px: float, off_px: float) -> FloatArray | None:
    """Give the even divisions of the bar that places are at, None where they are at none."""
    count = np.rint(1.0 / np.diff(places).min())
    if not 1 <= count <= _MOST_DIVISIONS:
        return None
    divisions = np.rint(places * count) / count
    return np.asarray(divisions) if np.all(np.abs(places - divisions) * length_px <= off_px) else None


def _off(places: FloatArray, values: FloatArray) -> float:
    """Give how far numbers lie from the line through all of them, at most."""
    return float(np.max(np.abs(values - np.polyval(np.polyfit(places, values, 1), places))))


def _by_chance(divisions: FloatArray, centres: FloatArray, length_px: float) -> float:
    """Give how far round numbers may be from the divisions they seem to be at, as a place on the bar."""
    return float(np.max(np.abs(centres - divisions))) + OFF_PLACE_PX / length_px


def _of_divisions(places: FloatArray, values: FloatArray, half: float, by_chance: float) -> tuple[float, float, float]:
    """Give the ends from numbers at even divisions; `by_chance` is how far off round ones may be, as a place."""
    if places[0] == 0.0 and places[-1] == 1.0:
        low, high = float(values[0]), float(values[-1])
        return low, high, half + by_chance * (high - low)
    low, high = _continued_values(places, values)
    return low, high, (half + by_chance * (high - low)) * _amplified(places)


def _continued(places: FloatArray, values: FloatArray, length_px: float, half: float) -> tuple[float, float, float]:
    """Continue the scale from round numbers, which nothing was rounded from where they are four or more."""
    low, high = _continued_values(places, values)
    off = (high - low) * OFF_PLACE_PX / length_px
    return low, high, (off if values.size >= 4 else off + half) * _amplified(places)


def _continued_values(places: FloatArray, values: FloatArray) -> tuple[float, float]:
    if places[-1] - places[0] < LEAST_SHARE:
        raise Refused("the numbers at the colour bar cover too little of it")
    slope, offset = np.polyfit(places, values, 1)
    return float(offset), float(slope + offset)


def _amplified(places: FloatArray) -> float:
    """Give how far a line through places is off at an end of the bar, at most, if each of them is off by 1 at most.

    The value of a least-squares line at a place x is a sum of the values with weights
    1/n + (x - mean) (x_i - mean) / sum (x_j - mean)^2; the worst errors have the weights' signs.
    """
    from_middle = places - places.mean()
    spread = float(np.sum(from_middle**2))
    weights = [1.0 / places.size + (end - places.mean()) * from_middle / spread for end in (0.0, 1.0)]
    return float(max(1.0, *(np.sum(np.abs(each)) for each in weights)))


def _require_plausible(ends: Ends, ambient_degc: float | None) -> None:
    if not (PLAUSIBLE_DEGC[0] <= ends.low_degc < ends.high_degc <= PLAUSIBLE_DEGC[1]):
        raise Refused(f"the numbers at the colour bar are implausible, {ends.low_degc:g} to {ends.high_degc:g} °C")
    if ambient_degc is None:
        return
    above, below = FAR_FROM_AMBIENT_K
    if ends.low_degc > ambient_degc + above or ends.high_degc < ambient_degc - below:
        raise Refused(
            f"the numbers at the colour bar, {ends.low_degc:g} to {ends.high_degc:g} °C, are far from "
            f"the ambient of {ambient_degc:g} °C"
        )
