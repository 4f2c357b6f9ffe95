"""What a bead reads, corrected, and the budget behind it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from irspot.board import Site
from irspot.constants import DEFAULT_REFLECTED_DEGC
from irspot.crosscheck.bead_flags import sorted_bead_flags
from irspot.crosscheck.wire import WireLoss, wire_loss
from irspot.logs import tolerance_k
from irspot.uncertain import Term, combined, expanded, from_bound

ASSUMED_LOGGER_LIMIT_K: Final = 2.0
"""Of logger and cold junction together where nothing is stated (published: ±2 K for the cold junction)."""
ASSUMED_AMBIENT_DEGC: Final = DEFAULT_REFLECTED_DEGC


@dataclass(frozen=True, slots=True)
class Logger:
    """What a logger's maker promises, as bounds; None where nothing is stated."""

    limit_k: float | None = None
    cold_junction_limit_k: float | None = None


@dataclass(frozen=True, slots=True)
class BeadValue:
    """A bead's temperature of the surface under it.

    Parameters
    ----------
    degc : float
        As read plus half of what the wires may have taken.
    U_k : float
        Expanded (k = 2).
    terms : tuple of Term
    wire : WireLoss
    flags : tuple of str
        Of `irspot.crosscheck.bead_flags`.
    """

    degc: float
    U_k: float
    terms: tuple[Term, ...]
    wire: WireLoss
    flags: tuple[str, ...]


def bead_value(
    read_degc: float, site: Site, logger: Logger, ambient_degc: float | None, noise_k: float = 0.0
) -> BeadValue:
    """Correct a bead and state its uncertainty.

    Parameters
    ----------
    read_degc : float
        As the log has it.
    site : Site
        For type, class, gauge and attachment.
    logger : Logger
    ambient_degc : float or None
    noise_k : float
        Standard uncertainty of the value by noise.

    Returns
    -------
    BeadValue
        NaN with NaN where nothing was read.

    Raises
    ------
    KeyError
        For a type of thermocouple that is not known.

    Examples
    --------
    >>> site = Site("a", 1.0, 2.0, type="K", tolerance_class=1, wire_mm=0.13, attachment="tape")
    >>> value = bead_value(80.0, site, Logger(0.5, 0.5), 23.0, 0.05)
    >>> round(value.degc, 2), round(value.U_k, 2), value.flags
    (80.58, 2.03, ())
    """
    ambient = ASSUMED_AMBIENT_DEGC if ambient_degc is None else ambient_degc
    wire = wire_loss(read_degc, ambient, site.type, site.wire_mm, site.attachment)
    terms = (
        Term("thermocouple class", from_bound(_class_k(site, read_degc)), 1.0, shared="channel", rectangular=True),
        *_of_logger(logger),
        # The rectangle spans 0 to `most_k` only: half as wide as a bound on both sides.
        Term("wire loss", wire.u_k, 1.0, shared="channel", rectangular=True),
        Term("noise", noise_k, 1.0),
    )
    flags = sorted_bead_flags(
        (
            *wire.flags,
            *_flags_of_logger(logger),
            *(("class-assumed",) if site.tolerance_class is None else ()),
            *(("ambient-assumed",) if ambient_degc is None else ()),
        )
    )
    U_k = expanded(combined(terms)) if math.isfinite(read_degc) else math.nan
    return BeadValue(read_degc + wire.correction_k, U_k, terms, wire, flags)


def _class_k(site: Site, degc: float) -> float:
    bound_k = tolerance_k(site.type, site.tolerance_class, degc)
    if math.isfinite(bound_k) or not math.isfinite(degc):
        return bound_k
    # A class that does not reach so far, or that the type does not have: the widest of the type.
    return tolerance_k(site.type, None, degc)


def _of_logger(logger: Logger) -> tuple[Term, ...]:
    limit_k = logger.limit_k
    if limit_k is None:
        limit_k = ASSUMED_LOGGER_LIMIT_K if logger.cold_junction_limit_k is None else ASSUMED_LOGGER_LIMIT_K / 2.0
    terms = (Term("logger limit", from_bound(limit_k), 1.0, shared="logger", rectangular=True),)
    if logger.cold_junction_limit_k is None:
        return terms
    return (
        *terms,
        Term("cold junction", from_bound(logger.cold_junction_limit_k), 1.0, shared="logger", rectangular=True),
    )


def _flags_of_logger(logger: Logger) -> tuple[str, ...]:
    if logger.limit_k is None:
        return ("logger-assumed",)
    return ("cold-junction-included",) if logger.cold_junction_limit_k is None else ()
