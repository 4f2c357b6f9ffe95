"""Zero-power equality: with no power every channel has to show the same, as far as thermocouples and logger allow."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from irspot.board import Site
from irspot.crosscheck.bead_budget import Logger, bead_value
from irspot.series import Series


@dataclass(frozen=True, slots=True)
class ChannelCheck:
    """One channel held against the others.

    Parameters
    ----------
    name : str
    mean_degc : float
        Over the time without power; NaN where it has no value.
    off_k : float
        Less the median of the others.
    allowed_k : float
        Expanded uncertainty (k = 2) of that.
    agrees : bool or None
        None where there is nothing to hold it against.
    flags : tuple of str
        ``channel-off``, or none.
    """

    name: str
    mean_degc: float
    off_k: float
    allowed_k: float
    agrees: bool | None
    flags: tuple[str, ...] = ()


def equality_check(
    channels: Sequence[tuple[Series, Site]], logger: Logger, from_s: float, to_s: float
) -> tuple[ChannelCheck, ...]:
    """Hold every channel against the median of the others over a time without power.

    Parameters
    ----------
    channels : sequence of (Series, Site)
        On one clock.
    logger : Logger
        The cold junction is the same for all and cancels.
    from_s, to_s : float

    Returns
    -------
    tuple of ChannelCheck
        In the order given.

    Notes
    -----
    ``u_i`` combines the tolerance class and the logger's limit (rectangular bounds) with noise over √n; the median of m
    others has ``√(π/2) u / √m`` for m of three and more, u their root mean square.
    """
    means = [_mean(series, from_s, to_s) for series, _ in channels]
    u_k = [_channel_u_k(mean, noise, site, logger) for (mean, noise), (_, site) in zip(means, channels, strict=True)]
    found = []
    for at, (series, _) in enumerate(channels):
        others = [k for k in range(len(channels)) if k != at and math.isfinite(means[k][0])]
        found.append(_held(series.name, means[at][0], u_k[at], [means[k][0] for k in others], [u_k[k] for k in others]))
    return tuple(found)


def _mean(series: Series, from_s: float, to_s: float) -> tuple[float, float]:
    """Mean and its standard uncertainty by scatter."""
    kept = series.value[(series.time_s >= from_s) & (series.time_s <= to_s) & np.isfinite(series.value)]
    if not kept.size:
        return math.nan, math.nan
    return float(kept.mean()), float(kept.std(ddof=1) / math.sqrt(kept.size)) if kept.size > 1 else 0.0


def _channel_u_k(mean_degc: float, noise_k: float, site: Site, logger: Logger) -> float:
    if not math.isfinite(mean_degc):
        return math.nan
    # At ambient no wire takes anything.
    terms = bead_value(mean_degc, site, logger, mean_degc, noise_k).terms
    return math.sqrt(sum(term.u_k**2 for term in terms if term.name not in ("cold junction", "wire loss")))


def _held(name: str, mean: float, u_k: float, others: list[float], others_u_k: list[float]) -> ChannelCheck:
    if not others or not math.isfinite(mean):
        return ChannelCheck(name, mean, math.nan, math.nan, None)
    u_median_k = math.sqrt(sum(u * u for u in others_u_k) / len(others_u_k) / len(others))
    if len(others) > 2:
        u_median_k *= math.sqrt(math.pi / 2.0)
    off_k, allowed_k = mean - float(np.median(others)), 2.0 * math.hypot(u_k, u_median_k)
    agrees = abs(off_k) <= allowed_k
    return ChannelCheck(name, mean, off_k, allowed_k, agrees, () if agrees else ("channel-off",))
