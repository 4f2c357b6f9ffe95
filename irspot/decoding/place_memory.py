"""Places of colours searched before: the pixels of one picture, and the pictures of one video, repeat them."""

from __future__ import annotations

from collections.abc import Callable
from threading import Lock
from typing import Final

import numpy as np
from numpy.typing import NDArray

F32 = NDArray[np.float32]
Keys = NDArray[np.intp]

_INNER_BITS: Final = 6
_INNER: Final = (1 << _INNER_BITS) - 1
_MOST_BLOCKS: Final = 24_000
"""Blocks of colours side by side: pictures of a palette have some thousands, a photograph may have any number."""


class PlaceMemory:
    """Places by colour, a colour being a whole number below `most`.

    A first table leads from blocks of numbers to the few blocks that occur; a second one holds these blocks' places.

    Parameters
    ----------
    most : int
    search : callable
        Gives the places of colours, shape (k,), that are asked for the first time.
    """

    def __init__(self, most: int, search: Callable[[Keys], F32]) -> None:
        self._most, self._search, self._lock = most, search, Lock()
        self._forget()

    def _forget(self) -> None:
        # Blocks are counted from 1: the zeros of a fresh table cost nothing until they are written.
        self._slot_of_block = np.zeros((self._most >> _INNER_BITS) + 1, np.int16)
        self._block_of_slot = np.zeros(1, np.intp)
        self._places = np.full(1 << _INNER_BITS, np.nan, np.float32)

    def places(self, colors: NDArray[np.uint32]) -> F32 | None:
        """Look places up, and search those of new colours.

        Parameters
        ----------
        colors : ndarray of uint32, shape (n,)

        Returns
        -------
        ndarray of float32, shape (n,), or None
            None where so many different colours are not worth remembering.
        """
        block = (colors >> np.uint32(_INNER_BITS)).astype(np.intp)
        with self._lock:
            slot = np.take(self._slot_of_block, block)
            if not slot.all():
                if not self._add(block[slot == 0] if slot.any() else block):
                    self._forget()
                    if not self._add(block):
                        return None
                slot = np.take(self._slot_of_block, block)
            index = slot.astype(np.intp) << _INNER_BITS
            index |= (colors & np.uint32(_INNER)).astype(np.intp)
            return self._looked_up(index)

    def _add(self, blocks: Keys) -> bool:
        """Make room for blocks; False if there are too many."""
        seen = np.zeros(len(self._slot_of_block), bool)
        seen[blocks] = True
        new = np.flatnonzero(seen)
        known = len(self._block_of_slot)
        if known + len(new) > _MOST_BLOCKS:
            return False
        self._slot_of_block[new] = np.arange(known, known + len(new), dtype=np.int16)
        self._block_of_slot = np.concatenate([self._block_of_slot, new])
        room = np.full(len(new) << _INNER_BITS, np.nan, np.float32)
        self._places = np.concatenate([self._places, room])
        return True

    def _looked_up(self, index: Keys) -> F32:
        places = np.take(self._places, index)
        unknown = np.isnan(places)
        if unknown.any():
            asked = np.zeros(len(self._places), bool)
            asked[index if unknown.all() else index[unknown]] = True
            new = np.flatnonzero(asked)
            self._places[new] = self._search((self._block_of_slot[new >> _INNER_BITS] << _INNER_BITS) | (new & _INNER))
            places = np.take(self._places, index)
        return np.asarray(places)
