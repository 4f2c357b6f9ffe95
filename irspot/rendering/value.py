"""How a value is set: the number large, what follows it smaller."""

from __future__ import annotations

from irspot.rendering.text import text_width
from irspot.rendering.theme import Tier


def value_parts(value: str) -> tuple[str, str]:
    """Part a value into what is set large and what follows it smaller; together they are the value.

    Examples
    --------
    >>> value_parts("71.8 ± 1.9 °C"), value_parts("≥ 71.8 °C"), value_parts("≤ -3.1 K"), value_parts("retake")
    (('71.8', ' ± 1.9 °C'), ('≥ 71.8', ' °C'), ('≤ -3.1', ' K'), ('retake', ''))
    """
    for mark in (" ± ", " °C", " K"):
        head, found, tail = value.partition(mark)
        if found:
            return head, found + tail
    return value, ""


def value_width(value: str, tier: Tier, unit: float) -> float:
    """Width of a value as set, px."""
    head, tail = value_parts(value)
    return text_width(head, "bold", tier.value * unit) + text_width(tail, "regular", tier.tail * unit)
