"""What a JPEG's quantisation leaves open: each of a block's frequencies is known to half a step."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.nearest import F32
from irspot.opencv import load_cv2

BLOCK_PX: Final = 8


def left_open(change: F32, steps: tuple[int, ...]) -> F32:
    """Cut a change of a plane to what could be made without its file becoming another one.

    Quantisation (ITU-T T.81, A.3.4) rounds every frequency of an 8 x 8 block to a whole number of steps, so that the
    coded value may have been anything within half a step.

    Parameters
    ----------
    change : ndarray of float32, shape (rows, columns)
        Beginning at the corner of a block.
    steps : tuple of int
        The 64 quantisation steps, in the order of the file.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
    """
    rows, columns = change.shape
    below, right = -rows % BLOCK_PX, -columns % BLOCK_PX
    cv2 = load_cv2()
    whole = np.asarray(cv2.copyMakeBorder(change, 0, below, 0, right, cv2.BORDER_REPLICATE))
    cosines = _cosines()
    frequencies = _both_ways(whole, cosines).reshape(-1, BLOCK_PX, whole.shape[1] // BLOCK_PX, BLOCK_PX)
    half = (_table(steps) / np.float32(2.0))[:, None, :]
    np.clip(frequencies, -half, half, out=frequencies)
    return np.ascontiguousarray(_both_ways(frequencies.reshape(whole.shape), cosines.T)[:rows, :columns])


def _both_ways(plane: F32, matrix: F32) -> F32:
    """Multiply every block by a matrix from the left and by its transpose from the right.

    Whole rows of blocks are taken at once: thousands of products of small blocks take ten times as long, and products
    of all rows are handed to several threads, which costs more than it saves.
    """
    columns = plane.shape[1]
    down = matrix @ plane.reshape(-1, BLOCK_PX, columns)
    return np.asarray((down.reshape(-1, columns, BLOCK_PX) @ matrix.T).reshape(plane.shape))


@lru_cache(maxsize=1)
def _cosines() -> F32:
    """Give the orthonormal discrete cosine transform of eight values: frequencies along rows."""
    k = np.arange(BLOCK_PX)
    cosines = 0.5 * np.cos((2.0 * k[None] + 1.0) * k[:, None] * np.pi / (2.0 * BLOCK_PX))
    cosines[0] /= np.sqrt(2.0)
    return np.asarray(cosines, np.float32)


@lru_cache(maxsize=4)
def _table(steps: tuple[int, ...]) -> NDArray[np.float32]:
    """Lay steps out by frequency: the file has them along diagonals, up and down in turn (ITU-T T.81, figure A.6)."""
    places = [(i, j) for i in range(BLOCK_PX) for j in range(BLOCK_PX)]
    places.sort(key=lambda at: (sum(at), at[1] if sum(at) % 2 == 0 else at[0]))
    table = np.empty((BLOCK_PX, BLOCK_PX), np.float32)
    for at, step in zip(places, steps, strict=True):
        table[at] = step
    return table
