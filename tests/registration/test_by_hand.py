"""Placement by hand: right where the points are right, and refused with the reason where they are not."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

from irspot.board import Board, Mark
from irspot.camera import Optics
from irspot.errors import PlacementRefused
from irspot.placing import CornersPx, PointsPx
from irspot.registration import homography, place
from irspot.shapes import Polygon, rectangle

SIZE = (640, 512)
MARKS = (
    Mark("hole-a", 10.16, 6.35),
    Mark("hole-b", 237.0, 33.0),
    Mark("hole-c", 233.0, 288.0),
    Mark("hole-d", 12.0, 280.0),
    Mark("hole-e", 130.0, 150.0),
)
BOARD = Board("Kestrel K7", rectangle(0, 0, 244, 305), marks=MARKS)
FRONT = ((101.5, 480.0), (452.0, 470.25), (440.0, 30.0), (112.0, 41.0))
"""Lower left, lower right, upper right, upper left of a front view."""
REAR = (FRONT[1], FRONT[0], FRONT[3], FRONT[2])
"""The same outline seen from the rear: the front's lower left is at the lower right."""
LENS = Optics(focal_px=700.0, distortion=(-0.25, 0.08, 0.001, -0.0005, 0.0))


def corners(points: tuple[tuple[float, float], ...]) -> CornersPx:
    return CornersPx(points)


def marks_seen(matrix: np.ndarray, ids: tuple[str, ...], offset: np.ndarray | float = 0.0) -> PointsPx:
    xy = {mark.id: (mark.x_mm, mark.y_mm) for mark in MARKS}
    px = homography.apply(matrix, np.array([xy[i] for i in ids])) + offset
    return PointsPx(tuple((i, float(x), float(y)) for i, (x, y) in zip(ids, px, strict=True)))


@pytest.mark.parametrize("optics", [Optics(), LENS])
@pytest.mark.parametrize(("side", "points"), [("front", FRONT), ("rear", REAR)])
def test_corners_land_on_their_points(optics: Optics, side: str, points: tuple[tuple[float, float], ...]) -> None:
    placed = place(BOARD, SIZE, optics, corners(points), side=side, top="up")
    np.testing.assert_allclose(placed.to_px(BOARD.outline.array_mm), points, atol=1e-6)
    np.testing.assert_allclose(placed.to_mm(np.array(points)), BOARD.outline.array_mm, atol=1e-5)
    assert placed.residual_px < 1e-6
    assert placed.residual_mm < 1e-6
    assert (placed.method, placed.points, placed.side, placed.size_px) == ("corners", 4, side, SIZE)
    assert np.sign(np.linalg.det(placed.matrix)) == (-1.0 if side == "front" else 1.0)
    assert placed.matrix[2, 2] == 1.0


@pytest.mark.parametrize(("top", "turns"), [("up", 0), ("right", 1), ("down", 2), ("left", 3)])
def test_top_agrees_or_contradicts(top: str, turns: int) -> None:
    square = Board("square", rectangle(0, 0, 170, 170))
    frame = ((120.0, 430.0), (480.0, 440.0), (470.0, 80.0), (130.0, 70.0))
    # A board turned clockwise by a quarter has its lower left where the upper left was.
    turned = frame[-turns:] + frame[:-turns] if turns else frame
    assert place(square, SIZE, Optics(), corners(turned), top=top).method == "corners"
    other = {"up": "down", "down": "left", "left": "right", "right": "up"}[top]
    with pytest.raises(PlacementRefused, match=f'face {top}, but top = "{other}"') as refused:
        place(square, SIZE, Optics(), corners(turned), top=other)
    assert refused.value.cause == "top"


def test_rear_view_mirrors_mm() -> None:
    placed = place(BOARD, SIZE, Optics(), corners(REAR), side="rear")
    left, right = placed.to_px(np.array([[20.0, 150.0], [220.0, 150.0]]))
    assert left[0] > right[0]


def test_marks_with_noise_state_their_residual() -> None:
    truth = place(BOARD, SIZE, Optics(), corners(FRONT)).matrix
    rng = np.random.default_rng(3)
    noise = rng.normal(0.0, 0.8, (5, 2))
    how = marks_seen(truth, tuple(mark.id for mark in MARKS), noise)
    placed = place(BOARD, SIZE, Optics(), how)
    seen = np.array([[x, y] for _, x, y in how.points_px])
    at = np.array([[mark.x_mm, mark.y_mm] for mark in MARKS])
    misses = np.linalg.norm(homography.apply(placed.matrix, at) - seen, axis=1)
    assert placed.residual_px == pytest.approx(np.sqrt(np.mean(misses**2)))
    assert 0.05 < placed.residual_px < np.sqrt(np.mean(np.sum(noise**2, axis=1)))
    # About 1.44 px a mm here.
    assert placed.residual_mm == pytest.approx(placed.residual_px / 1.44, rel=0.15)
    assert placed.method == "points"


def test_marks_through_a_distorting_lens() -> None:
    placed = place(BOARD, SIZE, LENS, corners(FRONT))
    at = np.array([[mark.x_mm, mark.y_mm] for mark in MARKS])
    how = PointsPx(tuple((m.id, float(x), float(y)) for m, (x, y) in zip(MARKS, placed.to_px(at), strict=True)))
    again = place(BOARD, SIZE, LENS, how)
    np.testing.assert_allclose(again.matrix, placed.matrix, rtol=1e-6, atol=1e-9)
    # Without the lens the same points cannot all be met.
    assert place(BOARD, SIZE, Optics(), how).residual_px > 0.2


REFUSED = {
    "mirrored-front": (REAR, "front", "mirrored", "view of the rear, but the side is front"),
    "mirrored-rear": (FRONT, "rear", "mirrored", "view of the front, but the side is rear"),
    "swapped-first-two": ((FRONT[1], FRONT[0], FRONT[2], FRONT[3]), "front", "swapped", "point 1 and point 2 look"),
    "swapped-middle": ((FRONT[0], FRONT[2], FRONT[1], FRONT[3]), "front", "swapped", "point 2 and point 3 look"),
    "three-on-a-line": (((100, 400), (250, 400.5), (400, 401), (300, 100)), "front", "collinear", "on one line"),
    "all-on-a-line": (((100, 400), (250, 400), (400, 400), (500, 400)), "front", "collinear", "on one line"),
    "one-place": (((100, 400), (100.5, 400), (400, 200), (100, 200)), "front", "close", "lie in one place"),
    "tiny": (((100, 102.5), (102.5, 102.5), (102.5, 100), (100, 100)), "front", "collinear", "too close"),
    "horizon": (((20, 500), (620, 500), (330, 100), (310, 100)), "front", "horizon", "behind the camera"),
    "outside": (((100, 400), (400, 400), (2400, 200), (100, 200)), "front", "outside", "point 3 lies far outside"),
    "not-a-number": (((100, 400), (400, 400), (float("nan"), 200), (100, 200)), "front", "outside", "point 3"),
    "too-few": (FRONT[:3], "front", "points", "one point for each corner"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refusals_give_the_reason(name: str) -> None:
    points, side, cause, reason = REFUSED[name]
    with pytest.raises(PlacementRefused, match=reason) as refused:
        place(BOARD, SIZE, Optics(), CornersPx(points), side=side, file="study.toml")
    assert refused.value.cause == cause
    assert refused.value.key == "corners_px"
    assert str(refused.value).startswith("study.toml: corners_px: ")
    assert "\n" not in str(refused.value)
    assert pickle.loads(pickle.dumps(refused.value)).cause == cause


def test_a_rear_view_in_front_order_names_the_fix() -> None:
    with pytest.raises(PlacementRefused, match="lower left, is at the lower right"):
        place(BOARD, SIZE, Optics(), corners(FRONT), side="rear")


def test_a_lens_that_cannot_be_undone_is_refused() -> None:
    strong = Optics(focal_px=200.0, distortion=(-0.6, 0.0, 0.0, 0.0, 0.0))
    with pytest.raises(PlacementRefused, match="distortion cannot be undone"):
        place(BOARD, SIZE, strong, corners(FRONT))


def test_frames_of_another_size_than_the_optics_are_refused() -> None:
    with pytest.raises(PlacementRefused, match="optics belong to") as refused:
        place(BOARD, (320, 256), Optics(size_px=(640, 512)), corners(FRONT))
    assert refused.value.cause == "size"


def test_a_misplaced_mark_is_refused_by_name() -> None:
    truth = place(BOARD, SIZE, Optics(), corners(FRONT)).matrix
    offset = np.zeros((5, 2))
    offset[4] = (60.0, 0.0)
    with pytest.raises(PlacementRefused, match="hole-e does not fit") as refused:
        place(BOARD, SIZE, Optics(), marks_seen(truth, tuple(mark.id for mark in MARKS), offset))
    assert refused.value.cause == "residual"


def test_marks_close_together_do_not_hold_a_large_board() -> None:
    near = tuple(Mark(f"m{n}", 100.0 + dx, 100.0 + dy) for n, (dx, dy) in enumerate([(0, 0), (9, 0), (9, 9), (0, 9)]))
    board = Board("b", BOARD.outline, marks=near)
    truth = place(BOARD, SIZE, Optics(), corners(FRONT)).matrix
    px = homography.apply(truth, np.array([[mark.x_mm, mark.y_mm] for mark in near]))
    how = PointsPx(tuple((m.id, float(x), float(y)) for m, (x, y) in zip(near, px, strict=True)))
    with pytest.raises(PlacementRefused, match="too close together") as refused:
        place(board, SIZE, Optics(), how)
    assert refused.value.cause == "close"


def test_marks_mirrored_or_exchanged_are_told_apart() -> None:
    truth = place(BOARD, SIZE, Optics(), corners(FRONT)).matrix
    how = marks_seen(truth, ("hole-a", "hole-b", "hole-c", "hole-d"))
    with pytest.raises(PlacementRefused, match="view of the front"):
        place(BOARD, SIZE, Optics(), how, side="rear")
    (a, xa, ya), (b, xb, yb), *rest = how.points_px
    with pytest.raises(PlacementRefused, match="hole-a and hole-b look exchanged") as refused:
        place(BOARD, SIZE, Optics(), PointsPx(((a, xb, yb), (b, xa, ya), *rest)))
    assert refused.value.cause == "swapped"


@pytest.mark.parametrize(
    ("points", "reason"),
    [
        (
            (("hole-a", 1, 2), ("hole-b", 400, 2), ("hole-c", 400, 400), ("hole-x", 1, 400)),
            "no such mark.*did you mean",
        ),
        ((("hole-a", 1, 2), ("hole-b", 400, 2), ("hole-c", 400, 400)), "four or more"),
        ((("hole-a", 1, 2), ("hole-a", 400, 2), ("hole-c", 400, 400), ("hole-d", 1, 400)), "four or more different"),
    ],
)
def test_wrong_marks_are_refused(points: tuple[tuple[str, float, float], ...], reason: str) -> None:
    with pytest.raises(PlacementRefused, match=reason):
        place(BOARD, SIZE, Optics(), PointsPx(points))


def test_a_concave_outline_places_by_its_corners() -> None:
    outline = Polygon(((0, 0), (200, 0), (200, 60), (80, 60), (80, 150), (0, 150)))
    board = Board("L", outline)
    matrix = np.array([[2.0, 0.1, 60.0], [-0.05, -2.1, 420.0], [1e-4, 2e-4, 1.0]])
    seen = homography.apply(matrix, outline.array_mm)
    placed = place(board, SIZE, Optics(), CornersPx(tuple(map(tuple, seen.tolist()))))
    np.testing.assert_allclose(placed.matrix, matrix, rtol=1e-8, atol=1e-10)
    rolled = np.roll(seen, 1, axis=0)
    with pytest.raises(PlacementRefused, match="order"):
        place(board, SIZE, Optics(), CornersPx(tuple(map(tuple, rolled.tolist()))))


def test_a_finely_drawn_outline_places() -> None:
    angle = np.linspace(0.0, 2.0 * np.pi, 180, endpoint=False)
    outline = Polygon(
        tuple((100.0 + 100.0 * c, 100.0 + 100.0 * s) for c, s in zip(np.cos(angle), np.sin(angle), strict=True))
    )
    matrix = np.array([[2.0, 0.1, 60.0], [-0.05, -2.1, 440.0], [1e-4, 2e-4, 1.0]])
    seen = homography.apply(matrix, outline.array_mm)
    placed = place(Board("disc", outline), SIZE, Optics(), CornersPx(tuple(map(tuple, seen.tolist()))))
    np.testing.assert_allclose(placed.matrix, matrix, rtol=1e-6, atol=1e-8)


def test_click_errors_of_a_pixel_are_never_refused() -> None:
    rng = np.random.default_rng(11)
    for _ in range(200):
        wobbling = np.array(FRONT) + rng.normal(0.0, 1.0, (4, 2))
        assert place(BOARD, SIZE, Optics(), CornersPx(tuple(map(tuple, wobbling.tolist()))), top="up").points == 4
