"""What a picture shows, in words: from the same readings, in the same digits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from irspot.measurement.change import ZoneChange
from irspot.rendering.caption import Caption
from irspot.rendering.labels import RETAKE, shown_readings
from irspot.rendering.scale import degc_text
from irspot.rendering.text import clean
from irspot.results import Reading


@dataclass(frozen=True, slots=True)
class Words:
    """A picture in words.

    Parameters
    ----------
    caption : str
        One sentence to stand below it.
    alt : str
        All it shows, for those who do not see it.
    """

    caption: str
    alt: str


def words_of(what: str, caption: Caption, values: Sequence[tuple[str, str]], *further: str) -> Words:
    """Describe a picture of one board.

    Parameters
    ----------
    what : str
        ``Heat image``.
    caption : Caption
    values : sequence of (str, str)
        Zones and what stands beside them, the most important first.
    *further : str
        More sentences, without a final stop.

    Returns
    -------
    Words
    """
    subject = f"{what} of {where_of(caption)}"
    facts = [
        f"{name} {clean(value)}" for name, value in (("ambient", caption.ambient), ("taken", caption.date)) if value
    ]
    facts += [f"{clean(name)} {clean(value)}" for name, value in caption.facts]
    hottest = f"{subject}: {values[0][0]} {values[0][1]}." if values else f"{subject}."
    listed = "; ".join(f"{name} {value}" for name, value in values)
    sentences = [subject + (", " + ", ".join(facts) if facts else ""), listed, *further]
    return Words(hottest, ". ".join(sentence for sentence in sentences if sentence) + ".")


def where_of(caption: Caption) -> str:
    """Say which board, side and load a caption is about."""
    parts = (clean(caption.title), clean(caption.side), clean(caption.load))
    return ", ".join(part for part in parts if part)


def grid_words(caption: Caption, tiles: Sequence[tuple[str, Sequence[tuple[str, str]], str]], *further: str) -> Words:
    """Describe a grid.

    Parameters
    ----------
    caption : Caption
        Of the whole.
    tiles : sequence of (str, sequence of (str, str), str)
        Which board, its zones with their values, and why there are none.
    *further : str
    """
    named = [
        f"{clean(name)}: " + ("; ".join(f"{zone} {value}" for zone, value in values) or clean(problem))
        for name, values, problem in tiles
    ]
    told = f"Heat images of {len(tiles)} boards on one colour scale"
    short = "; ".join(
        f"{clean(name)} {values[0][1]} ({values[0][0]})" if values else f"{clean(name)} not measured"
        for name, values, _ in tiles
    )
    title = clean(caption.title)
    told = f"{title}. {told}" if title else told
    return Words(f"{told}: {short}.", ". ".join((told, *named, *further)) + ".")


def values_of(readings: Sequence[Reading]) -> list[tuple[str, str]]:
    """Give zones and values as callouts have them, hottest first, those to be retaken last."""
    shown = sorted(shown_readings(readings), key=lambda r: (not r.headline(), -r.max_degc if r.headline() else 0.0))
    return [(clean(r.zone_name) or clean(r.zone), r.headline("°C") or RETAKE) for r in shown]


def changes_in_words(changes: Sequence[ZoneChange]) -> list[tuple[str, str]]:
    """Give zones and changes as callouts have them, the largest first, those not known last."""
    named = {reading.zone for reading in shown_readings([change.after for change in changes])}
    known = [change for change in changes if change.after.zone in named]
    known.sort(key=lambda c: (not c.headline(), -abs(c.change_k) if c.headline() else 0.0))
    return [(clean(c.after.zone_name) or clean(c.after.zone), c.headline() or "not known") for c in known]


def scale_in_words(scale_degc: tuple[float, float]) -> str:
    """Say which temperatures the colours stand for."""
    low, high = scale_degc
    return f"Colour scale from {degc_text(low)} to {degc_text(high)} °C"
