"""Places are searched once for each colour, and the memory of them stays small."""

from __future__ import annotations

import numpy as np

from irspot.decoding.place_memory import PlaceMemory


def counting() -> tuple[PlaceMemory, list[int]]:
    searched: list[int] = []

    def search(colors: np.ndarray) -> np.ndarray:
        searched.extend(colors.tolist())
        return (colors % 1021).astype(np.float32)

    return PlaceMemory(7 << 24, search), searched


def test_every_colour_is_searched_once() -> None:
    memory, searched = counting()
    random = np.random.default_rng(3)
    palette = random.choice(7 << 24, 5000, replace=False).astype(np.uint32)
    for _ in range(3):
        colors = random.choice(palette, 40_000)
        np.testing.assert_array_equal(memory.places(colors), (colors % 1021).astype(np.float32))
    assert len(searched) == len(set(searched)) == len(palette)


def test_the_first_and_the_last_colour_have_places() -> None:
    memory, _ = counting()
    colors = np.array([0, (7 << 24) - 1, 63, 64], np.uint32)
    np.testing.assert_array_equal(memory.places(colors), colors % 1021)


def test_too_many_colours_are_not_remembered_and_do_no_harm() -> None:
    memory, searched = counting()
    few = np.arange(0, 64 * 1000, 64, dtype=np.uint32)
    assert memory.places(few) is not None
    assert memory.places(np.arange(0, 64 * 30_000, 64, dtype=np.uint32)) is None
    np.testing.assert_array_equal(memory.places(few), few % 1021)
    # Pictures that fit one by one but not together: what was remembered makes room.
    for first in range(3):
        many = np.arange(first, 64 * 20_000, 64, dtype=np.uint32) + np.uint32(64 * 20_000 * first)
        np.testing.assert_array_equal(memory.places(many), (many % 1021).astype(np.float32))
    assert len(searched) > 60_000
