"""Draws of unknowns that only have bounds."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def stratified_shares(seed: int, count: int) -> NDArray[np.float64]:
    """Give shares of a bound that stand for an even distribution from -1 to 1, in random order.

    They are the middles of `count` equal parts. So few draws as a demo needs would, left to chance, often lie together
    at one end of the distribution (stratified, or Latin hypercube, sampling by midpoints).

    Parameters
    ----------
    seed, count : int

    Returns
    -------
    ndarray, shape (count,)

    Examples
    --------
    >>> sorted(stratified_shares(seed=1, count=4).tolist())
    [-0.75, -0.25, 0.25, 0.75]
    """
    return (np.random.default_rng(seed).permutation(count) + 0.5) * 2.0 / count - 1.0


def opposite_pairs(seed: int, count: int) -> NDArray[np.float64]:
    """Give pairs of opposite shares that together stand for an even distribution from -1 to 1.

    Where the two of a pair meet the same further unknown, their errors are uncorrelated with it (antithetic sampling).

    Parameters
    ----------
    seed, count : int

    Returns
    -------
    ndarray, shape (count, 2)

    Examples
    --------
    >>> sorted(opposite_pairs(seed=1, count=2).ravel().tolist())
    [-0.75, -0.25, 0.25, 0.75]
    """
    random = np.random.default_rng(seed)
    sizes = (random.permutation(count) + 0.5) / count
    first = sizes * random.choice([-1.0, 1.0], count)
    return np.column_stack([first, -first])
