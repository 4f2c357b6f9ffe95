"""Scenes for placing: what they call the truth is the truth, and the hopeless ones are what they say."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from irspot.camera import Optics
from irspot.registration import homography
from irspot.registration.distortion import distort
from irspot.registration.placement import Placement
from irspot.shapes import Polygon, following, rectangle
from irspot.synthetic.placement_content import Content, board_heat, random_content
from irspot.synthetic.placement_outlines import SHAPES, random_outline
from irspot.synthetic.placement_render import outline_coverage
from irspot.synthetic.placement_scenes import (
    HOPELESS,
    SIZES_PX,
    Setting,
    hopeless_scene,
    placement_scene,
    render,
)
from irspot.synthetic.placement_views import BoardView, top_of
from irspot.synthetic.view import Pose, project

NOTCHED = Polygon(((0, 0), (200, 0), (200, 60), (170, 60), (170, 100), (200, 100), (200, 150), (0, 150)))
BENT = Optics((320, 240), 410.0, (163.0, 117.0), (-0.21, 0.04, 0.002, -0.003, 0.0), 1.3)


def even_scene(side, optics, degc=40.0):
    """A board of one temperature over a background of another, nothing else, no noise."""
    view = BoardView(Pose(470.0, (96.0, 80.0), 22.0, -17.0, 31.0), side, optics, (320, 240))
    setting = Setting(view, NOTCHED, Content(board_degc=degc, background_degc=24.0), 0.0, 5)
    return view, render(setting, "solvable", "notched", "warm")


def places_of_half_height(image, places_px, across_px):
    """Where along `across_px`, from -3 to 3 px, the image passes the middle between its two ends."""
    offsets = np.linspace(-4.5, 4.5, 181)
    xy = places_px[:, None] + across_px[:, None] * offsets[:, None]
    profile = cv2.remap(image, xy[..., 0].astype(np.float32), xy[..., 1].astype(np.float32), cv2.INTER_LINEAR)
    profile = profile.astype(np.float64)
    middle = (profile[:, :1] + profile[:, -1:]) / 2.0
    beyond = (profile - middle) * np.sign(profile[:, -1:] - middle) > 0
    first = np.argmax(beyond, axis=1)
    rows = np.arange(len(profile))
    before, after = profile[rows, first - 1], profile[rows, first]
    return offsets[first - 1] + (middle[:, 0] - before) / (after - before) * (offsets[1] - offsets[0])


@pytest.mark.parametrize("side", ["front", "rear"])
@pytest.mark.parametrize("optics", [BENT, Optics((320, 240), 410.0, blur_px=0.6)], ids=["bent", "straight"])
@pytest.mark.parametrize("degc", [40.0, 18.5])
def test_true_outline_lies_at_half_height_of_the_step(side, optics, degc):
    _, scene = even_scene(side, optics, degc)
    corners = NOTCHED.array_mm
    shares = np.linspace(0.25, 0.75, 21)[:, None]
    places = (corners[:, None] + (following(corners) - corners)[:, None] * shares).reshape(-1, 2)
    placement = Placement(scene.matrix, side, optics, (320, 240), "corners", 0.0, 0.0, 8)
    on_edge = placement.to_px(places)
    ahead = placement.to_px(places + np.repeat(following(corners) - corners, len(shares), axis=0) * 1e-4)
    across = (ahead - on_edge)[:, ::-1] * [-1.0, 1.0]
    across /= np.hypot(*across.T)[:, None]
    found = places_of_half_height(scene.degc, on_edge, across)
    # Linear interpolation of a blurred step between pixels costs a few hundredths of a pixel at a blur of 0.6 px.
    assert np.abs(found).max() < 0.1
    assert abs(found.mean()) < 0.01


@pytest.mark.parametrize("side", ["front", "rear"])
def test_coverage_sums_to_the_area_of_the_outline_in_the_image(side):
    view, _ = even_scene(side, BENT)
    border = view.to_px(NOTCHED.border_points(0.5))
    x, y = border.T
    area = abs(0.5 * np.sum(x * following(y) - following(x) * y))
    assert outline_coverage(view, NOTCHED).sum() / 4.0 == pytest.approx(area, rel=1e-4)


@pytest.mark.parametrize("seed", range(8))
def test_matrix_and_lens_carry_the_outline_to_the_true_corners(seed):
    scene = placement_scene(seed, size_px=(160, 120))
    straight = homography.apply(scene.matrix, scene.board.outline.array_mm)
    np.testing.assert_allclose(distort(straight, scene.optics, scene.size_px), scene.corners_px, atol=1e-6)
    assert scene.matrix[2, 2] == 1.0


def test_corners_are_those_of_the_pose():
    view, scene = even_scene("rear", BENT)
    spatial = np.column_stack([NOTCHED.array_mm, np.zeros(8)])
    np.testing.assert_allclose(scene.corners_px, project(spatial, view.pose, "rear", BENT, (320, 240)), atol=1e-9)


def test_places_go_to_the_image_and_back():
    view, _ = even_scene("rear", BENT)
    places = np.random.default_rng(2).uniform(0.0, 150.0, (30, 2))
    np.testing.assert_allclose(view.to_mm(view.to_px(places)), places, atol=1e-6)


def test_a_board_beside_is_seen_where_it_lies():
    view, _ = even_scene("rear", BENT)
    beside = view.shifted((31.0, -12.0))
    np.testing.assert_allclose(
        beside.to_px(NOTCHED.array_mm), view.to_px(NOTCHED.array_mm + np.array([31.0, -12.0])), atol=1e-9
    )


@pytest.mark.parametrize(("roll_deg", "top"), [(8.0, "up"), (97.0, "right"), (170.0, "down"), (-80.0, "left")])
@pytest.mark.parametrize("side", ["front", "rear"])
def test_top_is_the_image_side_that_the_boards_top_faces(roll_deg, top, side):
    view = BoardView(Pose(600.0, (100.0, 75.0), roll_deg=roll_deg), side, Optics(focal_px=300.0), (320, 240))
    named, from_diagonal = top_of(view, NOTCHED.array_mm)
    assert named == top
    assert from_diagonal == pytest.approx(45.0 - min(roll_deg % 90.0, 90.0 - roll_deg % 90.0), abs=1e-6)


@pytest.mark.parametrize("make", [placement_scene, hopeless_scene])
def test_the_same_seed_gives_the_same_scene_and_another_gives_another(make):
    first, again, other = (make(seed, size_px=(160, 120)) for seed in (3, 3, 8))
    np.testing.assert_array_equal(first.degc, again.degc)
    assert (first.board, first.top, first.optics) == (again.board, again.top, again.optics)
    assert first.board != other.board


@pytest.fixture(scope="module")
def many():
    return [placement_scene(seed, size_px=(160, 120)) for seed in range(60)]


def test_scenes_span_what_they_should(many):
    assert {scene.shape for scene in many} == set(SHAPES)
    assert {scene.side for scene in many} == {"front", "rear"}
    assert {scene.top for scene in many} == {"up", "right", "down", "left"}
    assert {scene.contrast for scene in many} == {"warm", "cool", "mixed"}
    assert {scene.optics.distorted for scene in many} == {True, False}
    assert any(scene.board.marks for scene in many)
    assert all(scene.solvable and scene.visible >= 0.6 for scene in many)
    assert all(0.6 <= scene.optics.blur_px <= 2.5 and 0.02 <= scene.noise_k <= 0.15 for scene in many)


def test_frames_are_of_the_size_asked_for_and_finite():
    for seed, size in enumerate(SIZES_PX):
        scene = placement_scene(seed, size_px=size)
        assert scene.degc.shape == (size[1], size[0])
        assert scene.degc.dtype == np.float32
        assert np.isfinite(scene.degc).all()


def test_boards_fill_thirty_per_cent_or_more_and_reach_little_beyond(many):
    for scene in many:
        x0, y0, x1, y1 = scene.board.outline.box_mm
        box = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
        placement = Placement(scene.matrix, scene.side, scene.optics, scene.size_px, "corners", 0.0, 0.0, 4)
        covered = cv2.contourArea(placement.to_px(box).astype(np.float32)) / (160 * 120)
        beyond = np.maximum(-scene.corners_px, scene.corners_px - [159, 119]) / [160, 120]
        assert covered >= 0.30 - 1e-4
        assert beyond.max() <= 0.07


@pytest.mark.parametrize("shape", SHAPES)
def test_outlines_are_of_real_sizes_and_start_at_zero(shape):
    for seed in range(20):
        outline = random_outline(np.random.default_rng(seed), shape)
        x0, y0, x1, y1 = outline.box_mm
        assert (x0, y0) == (0.0, 0.0)
        assert min(x1, y1) >= 50.0
        assert max(x1, y1) <= 330.0
        assert (x1 == y1) == (shape == "square")


@pytest.mark.parametrize("shape", SHAPES)
def test_the_board_is_even_along_its_edge_but_for_gradient_and_halo(shape):
    # Half a millimetre at most 4 K: a halo of 45 K and 9 mm falls by less than 0.7 * 45 / 9 * 0.5 K, parts would step.
    for seed in range(6):
        random = np.random.default_rng(seed)
        outline = random_outline(random, shape)
        content = replace(random_content(random, outline.array_mm, "warm", (), rear=False), gradient_k=(0.0, 0.0, 0.0))
        box = np.array([outline.box_mm[:2], outline.box_mm[2:]])
        heat = board_heat(content, box, 0.5)
        x, y = (outline.border_points(0.5).astype(np.float32) / 0.5).T
        along = cv2.remap(heat, x[:, None], y[:, None], cv2.INTER_LINEAR).ravel()
        assert np.abs(np.diff(along)).max() < 4.0
        assert np.ptp(heat) > 4.0


def test_tilts_reach_forty_degrees_and_no_further(many):
    # The third column of K^-1 H is a position; the first two span the board's plane, so their product is its normal.
    tilts = []
    for scene in many:
        x, y = scene.optics.principal_px or (79.5, 59.5)
        camera = np.array([[scene.optics.focal_px, 0, x], [0, scene.optics.focal_px, y], [0, 0, 1.0]])
        plane = np.linalg.solve(camera, scene.matrix)
        normal = np.cross(plane[:, 0], plane[:, 1])
        tilts.append(np.degrees(np.arccos(abs(normal[2]) / np.linalg.norm(normal))))
    assert max(tilts) <= 40.0 + 1e-6
    assert max(tilts) > 35.0
    assert min(tilts) < 5.0


def levels_beside_the_edge(scene):
    """Temperatures a little inside the outline and a little outside, at places along it."""
    border = scene.board.outline.border_points(4.0)
    middle = border.mean(axis=0)
    placement = Placement(scene.matrix, scene.side, scene.optics, scene.size_px, "corners", 0.0, 0.0, 4)
    at = [np.rint(placement.to_px(middle + (border - middle) * share)).astype(int) for share in (0.97, 1.03)]
    seen = np.all([np.all((each >= 0) & (each < scene.size_px), axis=1) for each in at], axis=0)
    return tuple(scene.degc[each[seen, 1], each[seen, 0]] for each in at)


@pytest.mark.parametrize("seed", range(8))
def test_without_contrast_the_board_is_lost_in_the_noise(seed):
    scene = hopeless_scene(seed, kind="no-contrast", size_px=(320, 240))
    inside, outside = levels_beside_the_edge(scene)
    room = (np.abs(outside - 23.0) < 5.0 * scene.noise_k) & (np.abs(inside - 23.0) < 5.0 * scene.noise_k)
    assert room.mean() > 0.5
    # Drawn within 0.3 noises; the median of n differences of two noisy pixels scatters by 1.25 * 1.41 / sqrt(n) noises.
    within = (0.3 + 3.0 * 1.25 * np.sqrt(2.0 / room.sum())) * scene.noise_k
    assert abs(np.median(inside[room] - outside[room])) < within


@pytest.mark.parametrize("seed", range(4))
def test_cut_off_boards_lie_mostly_outside(seed):
    scene = hopeless_scene(seed, kind="cut-off", size_px=(160, 120))
    border = scene.board.outline.border_points(2.0)
    placement = Placement(scene.matrix, scene.side, scene.optics, scene.size_px, "corners", 0.0, 0.0, 4)
    inside = np.all((placement.to_px(border) >= -0.5) & (placement.to_px(border) <= [159.5, 119.5]), axis=1)
    assert inside.mean() <= 0.35


@pytest.mark.parametrize("seed", range(4))
def test_small_boards_cover_less_than_fifteen_per_cent(seed):
    scene = hopeless_scene(seed, kind="too-small", size_px=(320, 240))
    assert cv2.contourArea(cv2.convexHull(scene.corners_px.astype(np.float32))) < 0.15 * 320 * 240


def test_a_second_board_looks_like_the_first():
    view = BoardView(Pose(900.0, (110.0, 75.0), roll_deg=4.0), "front", replace(BENT, blur_px=0.6), (320, 240))
    content = Content(board_degc=40.0, gradient_k=(6.0, -4.0, 2.0))
    setting = Setting(view, rectangle(0.0, 0.0, 100.0, 140.0), content, 0.0, 1, twin_mm=(120.0, 0.0))
    degc = render(setting, "two-boards", "rectangle", "warm").degc
    inside = np.random.default_rng(4).uniform([8.0, 8.0], [92.0, 132.0], (60, 2))
    levels = []
    for places in (inside, inside + np.array([120.0, 0.0])):
        x, y = view.to_px(places).astype(np.float32).T
        levels.append(cv2.remap(degc, x, y, cv2.INTER_LINEAR).ravel())
    np.testing.assert_allclose(levels[0], levels[1], atol=0.02)
    assert np.ptp(levels[0]) > 3.0


@pytest.mark.parametrize("seed", range(4))
def test_both_of_two_boards_are_in_the_frame(seed):
    scene = hopeless_scene(seed, kind="two-boards", size_px=(320, 240))
    assert scene.kind == "two-boards"
    assert not scene.solvable
    inside, outside = levels_beside_the_edge(scene)
    assert abs(np.median(inside - outside)) > 5.0 * scene.noise_k
    assert np.all((scene.corners_px > 0) & (scene.corners_px < [319, 239]))


def test_an_absent_board_leaves_no_trace():
    view, _ = even_scene("front", BENT)
    absent = Setting(view, NOTCHED, Content(board_degc=60.0), 0.0, 5, absent=True)
    scene = render(absent, "no-board", "notched", "warm")
    assert np.ptp(scene.degc) < 1e-4
    assert scene.visible == 0.0


def test_hopeless_kinds_take_turns():
    kinds = [hopeless_scene(seed, size_px=(160, 120)).kind for seed in range(5)]
    assert kinds == list(HOPELESS)


def test_noise_is_as_stated():
    view, quiet = even_scene("front", BENT)
    content = Content(board_degc=40.0, background_degc=24.0)
    noisy = render(Setting(view, NOTCHED, content, 0.12, 5), "solvable", "notched", "warm")
    assert (noisy.degc - quiet.degc).std() == pytest.approx(0.12, rel=0.02)
