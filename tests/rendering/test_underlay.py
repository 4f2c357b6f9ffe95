"""A photo beneath the colours: where it lands, how it is mixed, and what stays as it was."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from skimage.transform import ProjectiveTransform, warp

from irspot.camera import Optics
from irspot.errors import UsageError
from irspot.photo import Photo
from irspot.registration.homography import fit
from irspot.registration.placement import Placement
from irspot.rendering import Underlay, heat_picture
from irspot.rendering.colors import color_scale
from irspot.rendering.heat import plan_picture
from irspot.rendering.resample import resample
from irspot.rendering.underlay import blend, photo_on_frame
from tests.rendering.scenes import CAPTION, HEIGHT_MM, SHAPE, WIDTH_MM, board_of, placed, readings_of, warm_frame

SCALE = (20.0, 84.0)
CORNERS_MM = np.array([[0.0, 0.0], [WIDTH_MM, 0.0], [WIDTH_MM, HEIGHT_MM], [0.0, HEIGHT_MM]])


def photo_of(columns: int = 700, rows: int = 500) -> Photo:
    """A smooth photo of no symmetry, in colours."""
    y, x = np.mgrid[:rows, :columns]
    wave = 0.5 + 0.3 * np.sin(x / 23.0 + y / 61.0) + 0.2 * np.cos(y / 19.0 - x / 97.0)
    return Photo((255 * np.stack([wave, 0.8 * wave, 1.0 - wave], axis=-1)).astype(np.uint8), "k7.jpg")


def placed_in(photo: Photo, shares: list[list[float]], optics: Optics | None = None) -> Placement:
    corners_px = np.array(shares) * photo.size_px
    matrix = fit(CORNERS_MM, corners_px)
    return Placement(matrix, "front", optics or Optics(), photo.size_px, "corners", 0.0, 0.0, 4)


PHOTO = photo_of()
ASKEW = placed_in(PHOTO, [[0.12, 0.93], [0.8, 0.86], [0.86, 0.1], [0.05, 0.2]])
UNDER = Underlay(PHOTO, ASKEW, 0.4)


def test_the_photo_is_warped_as_opencv_and_scikit_image_warp_it():
    """At two px of the picture for one of the frame; pixel centres at integers in all three."""
    rows, columns = SHAPE
    shape = (2 * rows, 2 * columns)
    grey, shown = photo_on_frame(UNDER, placed(), shape, SHAPE)
    to_frame = np.array([[0.5, 0.0, -0.25], [0.0, 0.5, -0.25], [0.0, 0.0, 1.0]])
    to_photo = ASKEW.matrix @ np.linalg.inv(placed().matrix) @ to_frame
    source = cv2.cvtColor(PHOTO.rgb, cv2.COLOR_RGB2GRAY).astype(np.float64)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    by_opencv = cv2.warpPerspective(source, to_photo, shape[::-1], flags=flags, borderMode=cv2.BORDER_REPLICATE)
    by_skimage = warp(source, ProjectiveTransform(to_photo), output_shape=shape, order=1, mode="edge")
    inner = cv2.erode(shown.astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool)
    assert 0.5 < inner.mean() < 1.0
    # OpenCV reads between pixels in steps of 1/32.
    np.testing.assert_allclose(grey[inner], by_opencv[inner], atol=0.7)
    np.testing.assert_allclose(grey[inner], by_skimage[inner], atol=0.7)


def test_large_photos_are_averaged_not_picked_from():
    """Stripes of one pixel in a photo four times the picture are grey, whatever the phase."""
    stripes = np.zeros((4 * SHAPE[0], 4 * SHAPE[1], 3), np.uint8)
    stripes[:, ::2] = 200
    photo = Photo(stripes)
    rows, columns = SHAPE
    corners = placed().to_px(CORNERS_MM) / [columns, rows] + 0.5 / np.array([columns, rows])
    straight = placed_in(photo, corners.tolist())
    grey, shown = photo_on_frame(Underlay(photo, straight, 1.0), placed(), SHAPE, SHAPE)
    assert shown[3:-3, 3:-3].all()
    assert np.ptp(grey[3:-3, 3:-3]) <= 2.0
    assert grey[50, 50] == pytest.approx(100.0, abs=1.0)


def test_lenses_of_both_cameras_are_taken_into_account():
    bent = Optics(focal_px=260.0, distortion=(-0.2, 0.0, 0.0, 0.0, 0.0))
    frame = placed(optics=bent)
    grey, _ = photo_on_frame(UNDER, frame, SHAPE, SHAPE)
    for x_mm, y_mm in ((20.0, 30.0), (200.0, 150.0), (122.0, 91.0)):
        here = np.array([[x_mm, y_mm]])
        (x, y), (u, v) = frame.to_px(here)[0], ASKEW.to_px(here)[0]
        expected = cv2.cvtColor(PHOTO.rgb, cv2.COLOR_RGB2GRAY)[round(v), round(u)]
        assert grey[round(y), round(x)] == pytest.approx(float(expected), abs=8.0)


@pytest.mark.parametrize("opacity", [0.0, 0.25, 1.0])
def test_colours_are_mixed_by_plain_alpha_blending(opacity: float):
    random = np.random.default_rng(1)
    colors = random.integers(0, 256, (*SHAPE, 3)).astype(np.uint8)
    keep = random.random(SHAPE) < 0.1
    grey, shown = photo_on_frame(UNDER, placed(), SHAPE, SHAPE)
    mixed = colors.copy()
    blend(mixed, keep, replace(UNDER, opacity=opacity), placed(), SHAPE)
    expected = (1.0 - opacity) * colors + opacity * grey[..., None].astype(np.float64)
    where = shown & ~keep
    assert np.abs(mixed[where] - expected[where]).max() <= 0.51
    np.testing.assert_array_equal(mixed[~where], colors[~where])
    assert not shown.all(), "part of this frame lies beyond the photo"


def draw(underlay: Underlay | None, degc: np.ndarray, **more: object):
    board, placement = board_of(6), placed()
    readings = readings_of(board, placement)
    arguments = {"caption": CAPTION, "scale_degc": SCALE, "cmap": "inferno", "size": (1280, 720), **more}
    picture = heat_picture(degc, board, placement, readings, underlay=underlay, **arguments)
    return picture.array, plan_picture(degc, board, placement, readings, **arguments).page.image


def test_only_the_frame_changes_and_only_where_the_photo_is():
    plain, box = draw(None, warm_frame())
    mixed, same_box = draw(UNDER, warm_frame())
    assert box == same_box
    inside = np.zeros(plain.shape[:2], bool)
    inside[int(box.y0) : int(box.y1), int(box.x0) : int(box.x1)] = True
    changed = (plain != mixed).any(axis=2)
    small_print = int(box.y1) + 1
    assert not changed[:small_print][~inside[:small_print]].any(), "title, callouts and chips stay"
    assert changed[inside].mean() > 0.5
    legend = slice(int(box.y1) + 10, 720 - 60)
    np.testing.assert_array_equal(plain[legend], mixed[legend])


def test_a_photo_of_no_opacity_leaves_the_plain_heat_map():
    plain, box = draw(None, warm_frame())
    mixed, _ = draw(replace(UNDER, opacity=0.0), warm_frame())
    view = slice(int(box.y0), int(box.y1)), slice(int(box.x0), int(box.x1))
    np.testing.assert_array_equal(plain[view], mixed[view])


def test_what_was_not_measured_stays_hatched():
    degc = warm_frame()
    degc[60:100, 120:180] = np.nan
    plain, box = draw(None, degc)
    mixed, _ = draw(UNDER, degc)
    shown = resample(degc, int(box.width), int(box.height))
    view = slice(int(box.y0), int(box.y1)), slice(int(box.x0), int(box.x1))
    hatched = np.isnan(shown)
    assert hatched.sum() > 1000
    np.testing.assert_array_equal(plain[view][hatched], mixed[view][hatched])


def test_the_heat_map_is_that_of_the_frame_not_of_a_warped_one():
    """Colours are mixed after the frame is coloured: taking the photo's share away gives the scale's own colours."""
    degc = warm_frame()
    plain, box = draw(None, degc)
    mixed, _ = draw(replace(UNDER, opacity=0.5), degc)
    view = slice(int(box.y0), int(box.y1)), slice(int(box.x0), int(box.x1))
    colors = color_scale("inferno", SCALE).colors(resample(degc, int(box.width), int(box.height)))
    grey, shown = photo_on_frame(UNDER, placed(), colors.shape[:2], SHAPE)
    back = 2.0 * mixed[view] - grey[..., None]
    # Where neither outline nor ring nor leader is drawn over it.
    bare = shown & (plain[view] == colors).all(axis=2)
    assert bare.mean() > 0.5
    assert np.abs(back - colors)[bare].max() <= 1.01


def test_the_small_print_says_how_strongly_it_shows():
    assert UNDER.line == "beneath the colours 40 % of photo k7.jpg, in grey"


@pytest.mark.parametrize("opacity", [-0.1, 1.1, float("nan")])
def test_an_opacity_is_a_share(opacity: float):
    with pytest.raises(UsageError, match="between 0 and 1"):
        Underlay(PHOTO, ASKEW, opacity)


def test_a_photo_of_the_other_side_is_refused():
    with pytest.raises(UsageError, match="different sides"):
        draw(Underlay(PHOTO, replace(ASKEW, side="rear"), 0.4), warm_frame())
