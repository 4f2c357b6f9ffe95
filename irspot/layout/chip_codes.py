"""Sizes of parts that their package's name tells: chip codes, names by IPC-7351, sizes written out."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, Literal

from irspot.layout.part import Size

Codes = Literal["imperial", "metric"]

# Nominal bodies of chip parts, mm, of the codes of EIA (hundredths of an inch) and of IEC 60115-8 and IEC 60384-21
# (tenths of a mm). From memory; makers differ by a tenth of a mm or two, heights by a factor of two, so none is given.
_CHIPS: Final = (
    ("01005", "0402", 0.4, 0.2),
    ("0201", "0603", 0.6, 0.3),
    ("0402", "1005", 1.0, 0.5),
    ("0603", "1608", 1.6, 0.8),
    ("0805", "2012", 2.0, 1.25),
    ("1206", "3216", 3.2, 1.6),
    ("1210", "3225", 3.2, 2.5),
    ("1808", "4520", 4.5, 2.0),
    ("1812", "4532", 4.5, 3.2),
    ("2010", "5025", 5.0, 2.5),
    ("2220", "5750", 5.7, 5.0),
    ("2225", "5763", 5.7, 6.3),
    ("2512", "6332", 6.3, 3.2),
)
IMPERIAL: Final = {imperial: Size(length, width) for imperial, _, length, width in _CHIPS}
METRIC: Final = {metric: Size(length, width) for _, metric, length, width in _CHIPS}
_PAIRS: Final = {(imperial, metric) for imperial, metric, _, _ in _CHIPS}

_CODE: Final = re.compile(r"(?<![0-9.])([0-9]{4,5})(?![0-9.])")
# What may stand beside a chip's code; of anything else the digits may be a part number.
_CHIP_WORDS: Final = frozenset(
    [
        *("", "r", "c", "l", "d", "f", "fb", "res", "cap", "ind", "led", "diode", "fuse", "bead", "ferrite", "chip"),
        *("smd", "smt", "resistor", "capacitor", "inductor", "c0g", "handsolder", "handsoldering", "pol", "cpol"),
    ]
)
_METRIC_WORDS: Final = frozenset({"metric", "m"})
_IMPERIAL_WORDS: Final = frozenset({"imperial", "inch", "in", "eia"})
_WRITTEN: Final = re.compile(
    r"(?<![0-9.A-Za-z])([0-9]+(?:\.[0-9]+)?)(?:mm)?\s*[x×]\s*([0-9]+(?:\.[0-9]+)?)(?:(?:mm)?\s*[x×]\s*([0-9]+(?:\.[0-9]+)?))?\s*mm",
    re.IGNORECASE,
)
# IPC-7351 (from memory): chip bodies in tenths of a mm and their height in hundredths, CAPC1608X90N; leadless
# packages by pitch, body and height in hundredths, QFN50P500X500X90-33N.
_IPC_CHIP: Final = re.compile(
    r"(?:CAPC|RESC|INDC|DIOC|LEDC|FUSC|BEADC|VARC)(\d\d)(\d\d)X(\d{2,3})[LMNlmn]?", re.IGNORECASE
)
_IPC_LEADLESS: Final = re.compile(
    r"(?:P?QFN|P?SON|DFN)\d+P(\d{2,4})X(\d{2,4})X(\d{2,3})(?:-\d+)?[LMN]?", re.IGNORECASE
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Ambiguous:
    """A chip code that is a size in inches and another one in mm.

    Parameters
    ----------
    code : str
    imperial, metric : Size
    """

    code: str
    imperial: Size
    metric: Size


def size_by_name(name: str, codes: Codes | None = None) -> Size | Ambiguous | None:
    """Tell a part's size from its package's name, where the name leaves no doubt.

    Parameters
    ----------
    name : str
    codes : {"imperial", "metric"} or None
        What bare chip codes are, where somebody has said so.

    Returns
    -------
    Size, Ambiguous or None
        None where the name tells none.

    Examples
    --------
    >>> size_by_name("R_0603_1608Metric").length_mm, size_by_name("1608").length_mm
    (1.6, 1.6)
    >>> size_by_name("QFN-32_5x6mm_P0.5mm").width_mm, size_by_name("CAPC1005X55N").height_mm
    (6.0, 0.55)
    >>> size_by_name("C0603").code, size_by_name("C0603", "imperial").width_mm, size_by_name("U1206A") is None
    ('0603', 0.8, True)
    """
    if match := _IPC_CHIP.fullmatch(name):
        return Size(int(match[1]) / 10.0, int(match[2]) / 10.0, int(match[3]) / 100.0)
    if match := _IPC_LEADLESS.fullmatch(name):
        return Size(*(int(part) / 100.0 for part in match.groups()))
    if match := _WRITTEN.search(name):
        length, width, height = (None if part is None else float(part) for part in match.groups())
        if length and width:
            return Size(length, width, height or None)
    return _chip(name, codes)


def _chip(name: str, codes: Codes | None) -> Size | Ambiguous | None:
    found = [code for code in _CODE.findall(name) if code in IMPERIAL or code in METRIC]
    words = {word for word in re.split(r"[^a-z]+", _CODE.sub(" ", name).casefold()) if word}
    stated: Codes | None = "metric" if words & _METRIC_WORDS else "imperial" if words & _IMPERIAL_WORDS else None
    if not found or not words <= _CHIP_WORDS | _METRIC_WORDS | _IMPERIAL_WORDS:
        return None
    if len(found) == 2:
        pair = next((p for p in (tuple(found), tuple(reversed(found))) if p in _PAIRS), None)
        return IMPERIAL[pair[0]] if pair else None
    code = found[0]
    if len(found) > 2:
        return None
    if code in IMPERIAL and code in METRIC:
        chosen = stated or codes
        if chosen is None:
            return Ambiguous(code, IMPERIAL[code], METRIC[code])
        return IMPERIAL[code] if chosen == "imperial" else METRIC[code]
    if stated is not None and code not in (METRIC if stated == "metric" else IMPERIAL):
        return None
    return IMPERIAL.get(code) or METRIC[code]
