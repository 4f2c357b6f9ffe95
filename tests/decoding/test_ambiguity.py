"""Colours at several places of the bar: decided from the surroundings or left out, never guessed."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib import colormaps

from irspot.color_picture import Bar, Decoded, Excluded
from irspot.color_wish import BarScale
from irspot.decoding.decode import decode_picture
from irspot.decoding.picture import picture_of

LOW, HIGH = 20.0, 80.0


def table(*pieces: tuple[str, float, float, int]) -> np.ndarray:
    """Join pieces of colour maps: name, from, to, number of colours."""
    parts = [colormaps[name](np.linspace(begin, end, count))[:, :3] for name, begin, end, count in pieces]
    return np.rint(np.concatenate(parts) * 255.0).astype(np.uint8)


TWICE = table(("turbo", 0.0, 1.0, 128), ("turbo", 0.0, 1.0, 128))
COMES_BACK = table(("jet", 0.0, 1.0, 200), ("jet", 0.3, 0.02, 56))


def decoded(colors: np.ndarray, degc: np.ndarray) -> Decoded:
    """Draw temperatures and a bar of 2 px a colour in these colours, and read them back."""
    place = np.clip((degc - LOW) / (HIGH - LOW), 0.0, 1.0)
    rgb = colors[np.minimum((place * len(colors)).astype(int), len(colors) - 1)]
    line = np.repeat(colors[::-1], 2, axis=0)
    rgb[10 : 10 + len(line), 600:620] = line[:, None]
    path = np.repeat(colors, 2, axis=0).astype(np.float64)
    bar = Bar((600, 10, 620, 10 + len(line)), "bottom", path, "given")
    return decode_picture(picture_of(rgb), bar, BarScale.of_ends(LOW, HIGH))


def hill(low: float, high: float) -> np.ndarray:
    y, x = np.mgrid[0:540, 0:640].astype(float)
    return low + (high - low) * np.exp(-((x - 280.0) ** 2 + (y - 260.0) ** 2) / (2.0 * 120.0**2))


def test_a_path_that_repeats_wholly_gives_nothing() -> None:
    result = decoded(TWICE, hill(30.0, 70.0))
    scene = np.s_[:, :590]
    assert (result.excluded[scene] == Excluded.AMBIGUOUS).all()
    assert np.isnan(result.temperature_degc).all()


def test_places_spread_from_where_they_are_known() -> None:
    # From the middle of the bar, where each colour has one place, up into the part that the low end looks like.
    degc = hill(45.0, 78.0)
    result = decoded(COMES_BACK, degc)
    scene = np.s_[:, :590]
    assert (result.excluded[scene] == Excluded.DECODED).mean() > 0.999
    error = np.abs(result.temperature_degc[scene] - degc[scene])
    assert np.nanmax(error) < 2.0
    assert np.mean(error <= 2.0 * result.u_decode_k[scene]) > 0.95


def test_a_region_that_nothing_known_touches_is_left_out() -> None:
    degc = hill(45.0, 60.0)
    degc[20:80, 20:80] = 22.0 + np.arange(60) * 0.1  # cold, with a sharp border, in colours of both ends
    result = decoded(COMES_BACK, degc)
    assert (result.excluded[24:76, 24:76] == Excluded.AMBIGUOUS).all()
    assert (result.excluded[100:500, 100:580] == Excluded.DECODED).all()


@pytest.mark.parametrize("cmap", ["hsv", "twilight", "gist_rainbow", "cubehelix", "gist_ncar"])
def test_maps_that_only_come_near_themselves_are_read_whole(cmap: str) -> None:
    degc = hill(22.0, 78.0)
    result = decoded(table((cmap, 0.0, 1.0, 256)), degc)
    error = (result.temperature_degc - degc)[:, :590]
    assert np.isfinite(error).all()
    assert np.sqrt(np.mean(error**2)) < 1.1 * (HIGH - LOW) / 256.0 / np.sqrt(12.0)
