"""Places of colours searched before: the pixels of one picture, and the pictures of one video, repeat them."""

from __future__ import annotations

from collections.abc import Callable
from threading import Lock
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.strips import in_strips

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
        index = np.empty(len(colors), np.intp)
        with self._lock:
            grown = len(self._block_of_slot) == 1 or not self._found(colors, index)
            if grown:
                blocks = (colors >> np.uint32(_INNER_BITS)).astype(np.intp)
                if not self._add(blocks):
                    self._forget()
                    if not self._add(blocks):
                        return None
                self._found(colors, index)
                self._learn(index)
            return self._looked_up(index)

    def _found(self, colors: NDArray[np.uint32], index: Keys) -> bool:
        """Write where colours are in the table of places; False where some of their blocks are not in it."""
        missing: list[slice] = []

        def find(strip: slice) -> None:
            slot = np.take(self._slot_of_block, colors[strip] >> np.uint32(_INNER_BITS))
            if not slot.all():
                missing.append(strip)
            elif not missing:
                where = slot.astype(np.intp)
                where <<= _INNER_BITS
                where |= colors[strip] & np.uint32(_INNER)
                index[strip] = where

        in_strips(find, len(colors))
        return not missing

    def _add(self, blocks: Keys) -> bool:
        """Make room for blocks; False if there are too many."""
        seen = np.zeros(len(self._slot_of_block), bool)
        seen[blocks] = True
        seen[self._block_of_slot[1:]] = False
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
        places = np.empty(len(index), np.float32)
        unknown: list[slice] = []

        def look_up(strip: slice) -> None:
            np.take(self._places, index[strip], out=places[strip], mode="clip")
            if np.isnan(places[strip]).any():
                unknown.append(strip)

        in_strips(look_up, len(index))
        if unknown:
            self._learn(index)
            in_strips(look_up, len(index))
        return places

    def _learn(self, index: Keys) -> None:
        """Search the places that are asked for and not known yet."""
        asked = np.zeros(len(self._places), bool)
        asked[index] = True
        asked &= np.isnan(self._places)
        new = np.flatnonzero(asked)
        self._places[new] = self._search((self._block_of_slot[new >> _INNER_BITS] << _INNER_BITS) | (new & _INNER))
