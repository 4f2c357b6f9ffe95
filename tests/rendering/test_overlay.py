"""Overlays: straight alpha, exact size, nothing outside the title-safe area."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from irspot.errors import UsageError
from irspot.rendering import heat_picture
from irspot.rendering.overlay import overlay_picture, straight_alpha
from irspot.rendering.picture import Picture
from tests.rendering.scenes import CAPTION, board_of, placed, readings_of, warm_frame

SCALE = (20.0, 84.0)
BOARD, PLACED = board_of(6), placed()
READINGS = readings_of(BOARD, PLACED)


def overlay(**more: object) -> Picture:
    return overlay_picture(warm_frame(), BOARD, PLACED, READINGS, caption=CAPTION, scale_degc=SCALE, **more)  # type: ignore[arg-type]


def over(picture: Picture, background: np.ndarray) -> np.ndarray:
    """Lay a picture over another as editors do with straight alpha: alpha F + (1 - alpha) B."""
    alpha = picture.array[..., 3:].astype(float) / 255.0
    return alpha * picture.array[..., :3] + (1.0 - alpha) * background


@pytest.mark.parametrize("size", [(1283, 727), (1001, 801)])
@pytest.mark.parametrize("safe", [5, 10])
def test_size_is_exact_and_the_margins_stay_clear(size: tuple[int, int], safe: int) -> None:
    # Safe title: 90 % of either length (SMPTE ST 2046-1), or the older 80 % (RP 27.3); both from memory.
    picture = overlay(size=size, safe=safe)
    assert picture.size == size
    rows, columns = np.nonzero(picture.array[..., 3])
    for places, length in ((columns, size[0]), (rows, size[1])):
        assert places.min() >= length * safe / 100
        assert places.max() <= length * (1 - safe / 100)


def test_an_overlay_too_small_inside_its_margins_is_refused() -> None:
    with pytest.raises(UsageError, match="margins of 10 %"):
        overlay(size=(760, 440), safe=10)


def test_a_png_keeps_all_four_channels() -> None:
    picture = overlay(size=(1280, 720))
    with Image.open(io.BytesIO(picture.png_bytes())) as packed:
        assert packed.mode == "RGBA"
        np.testing.assert_array_equal(np.asarray(packed), picture.array)


@pytest.mark.parametrize("opacity", [1.0, 0.5, 0.0])
def test_laid_over_grey_it_shows_what_would_be_drawn_on_grey(opacity: float) -> None:
    from irspot.rendering.heat import plan_picture
    from irspot.rendering.overlay import _drawn_on, _Scene

    picture = overlay(size=(1280, 720), opacity=opacity)
    inner = picture.array[36 : 720 - 36, 64 : 1280 - 64]
    plan = plan_picture(
        warm_frame(), BOARD, PLACED, READINGS, caption=CAPTION, scale_degc=SCALE, cmap="inferno", size=(1152, 648)
    )
    scene = _Scene(plan, warm_frame(), BOARD, PLACED, None, opacity)
    for level in (0, 90, 200, 255):
        wanted = _drawn_on(scene, level).astype(float)
        got = over(Picture(inner), np.full(3, level))
        assert np.abs(got - wanted).max() <= 10.0
        assert np.abs(got - wanted).mean() < 0.3


def test_the_alpha_of_a_known_layer_is_found_again() -> None:
    rng = np.random.default_rng(8)
    color = rng.integers(0, 256, (60, 80, 3)).astype(float)
    alpha = np.kron(rng.integers(0, 256, (6, 8)), np.ones((10, 10)))
    black, white = (
        np.rint(alpha[..., None] / 255 * color + (1 - alpha[..., None] / 255) * level).astype(np.uint8)
        for level in (0, 255)
    )
    found = straight_alpha(black, white)
    assert np.abs(found[..., 3] - alpha).max() <= 1
    # Straight: the layer's own colour however clear it is, as far as 8 bits tell; multiplied it would be darker.
    told = alpha >= 10
    error = np.abs(found[..., :3].astype(float) - color).max(axis=-1)
    assert (error[told] <= 1.0 + 400.0 / alpha[told]).all()
    multiplied = np.abs(alpha[..., None] / 255 * color - color).max(axis=-1)
    assert np.mean(error[told]) < 0.1 * np.mean(multiplied[told])


def test_what_is_clear_has_the_colour_of_what_is_next_to_it() -> None:
    # A seam of another colour would show as soon as an editor scales the picture.
    color, alpha = np.full((40, 50, 3), [250.0, 20.0, 20.0]), np.zeros((40, 50))
    alpha[10:30, 10:40] = 255.0
    layers = [
        np.rint(alpha[..., None] / 255 * color + (1 - alpha[..., None] / 255) * b).astype(np.uint8) for b in (0, 255)
    ]
    found = straight_alpha(*layers)
    assert (found[..., :3] == np.array([250, 20, 20])).all()
    np.testing.assert_array_equal(found[..., 3], alpha)


def test_fully_clear_and_fully_opaque_layers_need_no_neighbours() -> None:
    black, white = np.zeros((5, 6, 3), np.uint8), np.full((5, 6, 3), 255, np.uint8)
    assert (straight_alpha(black, white)[..., 3] == 0).all()
    solid = np.full((5, 6, 3), 77, np.uint8)
    np.testing.assert_array_equal(straight_alpha(solid, solid), np.dstack([solid, np.full((5, 6), 255, np.uint8)]))


def test_the_frame_is_opaque_or_gone_as_asked() -> None:
    for opacity, wanted in ((1.0, 255), (0.4, 102), (0.0, 0)):
        alpha = overlay(size=(1280, 720), opacity=opacity).array[..., 3]
        assert abs(int(alpha[200, 640]) - wanted) <= 1


def test_it_says_what_the_plain_picture_says() -> None:
    plain = heat_picture(warm_frame(), BOARD, PLACED, READINGS, caption=CAPTION, scale_degc=SCALE)
    said = "".join(overlay().texts)
    for r in READINGS[:-1]:
        assert (r.headline("°C") or "retake") in said
    assert {t for t in plain.texts if t.startswith("Zone ")} <= set(overlay().texts)
