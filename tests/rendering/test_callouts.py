"""Callouts never overlap, stay in their gutters, and their leaders do not cross."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from irspot.rendering.callouts import Box, Gutter, Place, place_callouts, spread, uncrossed
from irspot.rendering.leaders import Leader, Point, bent_clear

LEFT = Gutter("left", Box(40.0, 130.0, 440.0, 870.0))
RIGHT = Gutter("right", Box(1480.0, 130.0, 1880.0, 870.0))
HEIGHT, GAP, RING = 54, 3, 17.0

spot = st.tuples(st.floats(500, 1420), st.floats(130, 870))
spots = st.lists(st.one_of(spot, spot, spot, st.none()), max_size=24)


def leaders_cross(first: Leader, second: Leader) -> bool:
    """Whether any piece of one crosses a piece of the other."""
    pieces = itertools.product(itertools.pairwise(first), itertools.pairwise(second))
    return any(segments_cross(one, other) for one, other in pieces)


def segments_cross(first: tuple[Point, Point], second: tuple[Point, Point]) -> bool:
    """Solve for where the two lines meet; touching ends do not count."""
    (a, b), (c, d) = np.array(first), np.array(second)
    system = np.column_stack([b - a, c - d])
    if abs(np.linalg.det(system)) < 1e-6:
        return False
    s, t = np.linalg.solve(system, c - a)
    return bool(1e-9 < s < 1 - 1e-9 and 1e-9 < t < 1 - 1e-9)


def check(points: list[Point | None], gutters: list[Gutter], places: tuple[Place, ...]) -> None:
    assert len(places) == len(points)
    for one, other in itertools.combinations(places, 2):
        assert not one.box.overlaps(other.box)
        if one.box.x0 == other.box.x0:
            assert abs(one.box.y0 - other.box.y0) >= HEIGHT + GAP
        if one.leader and other.leader:
            assert not leaders_cross(one.leader, other.leader)
    for point, place in zip(points, places, strict=True):
        gutter = next(g for g in gutters if g.side == place.side)
        assert gutter.box.holds(place.box)
        assert place.box.height == HEIGHT
        assert (place.leader is None) == (point is None)
        if place.leader and point:
            # The leader starts on the ring and ends at the callout's middle, on the side that faces the frame.
            assert np.hypot(place.leader[0][0] - point[0], place.leader[0][1] - point[1]) == pytest.approx(RING)
            assert place.leader[-1] == (gutter.port_x, place.box.y0 + HEIGHT / 2)


@settings(deadline=None, max_examples=150)
@given(spots)
def test_two_gutters(points: list[Point | None]) -> None:
    check(points, [LEFT, RIGHT], place_callouts(points, [LEFT, RIGHT], HEIGHT, GAP, RING))


@settings(deadline=None, max_examples=100)
@given(spots.map(lambda points: points[:13]))
def test_one_gutter(points: list[Point | None]) -> None:
    check(points, [RIGHT], place_callouts(points, [RIGHT], HEIGHT, GAP, RING))


@pytest.mark.full
@settings(deadline=None, max_examples=3000)
@given(spots)
def test_two_gutters_many(points: list[Point | None]) -> None:
    check(points, [LEFT, RIGHT], place_callouts(points, [LEFT, RIGHT], HEIGHT, GAP, RING))


def test_full_gutters_hold_as_many_as_they_say() -> None:
    count = LEFT.capacity(HEIGHT, GAP)
    assert count == 13  # 13 * 54 + 12 * 3 = 738 of 740
    points: list[Point | None] = [(600.0 + i, 300.0) for i in range(2 * count)]
    check(points, [LEFT, RIGHT], place_callouts(points, [LEFT, RIGHT], HEIGHT, GAP, RING))
    with pytest.raises(ValueError, match="room for 26"):
        place_callouts([*points, (700.0, 300.0)], [LEFT, RIGHT], HEIGHT, GAP, RING)


def test_spots_go_to_the_side_they_are_on() -> None:
    places = place_callouts([(1400.0, 200.0), (510.0, 800.0), (520.0, 300.0)], [LEFT, RIGHT], HEIGHT, GAP, RING)
    assert [place.side for place in places] == ["right", "left", "left"]


def test_a_callout_alone_stands_level_with_its_spot() -> None:
    (place,) = place_callouts([(600.0, 400.0)], [LEFT, RIGHT], HEIGHT, GAP, RING)
    assert place.box.y0 + HEIGHT / 2 == 400.0


@given(st.lists(st.floats(0, 500), max_size=12).map(sorted))
def test_spread_is_the_least_squares_stack(wanted: list[float]) -> None:
    tops = spread(wanted, -1e6, 1e6, 30, 5)
    assert all(later - earlier >= 35 for earlier, later in itertools.pairwise(tops))

    # No box, and no run of touching boxes, gains by moving up or down by a pixel or more.
    def cost(stack: list[int]) -> float:
        return sum((top + 15 - middle) ** 2 for top, middle in zip(stack, wanted, strict=True))

    for start, end in itertools.combinations(range(len(tops) + 1), 2):
        for step in (-1, 1):
            moved = [top + step if start <= i < end else top for i, top in enumerate(tops)]
            if all(later - earlier >= 35 for earlier, later in itertools.pairwise(moved)):
                assert cost(moved) >= cost(tops) - 2.0 * len(tops)


def test_uncrossing_swaps_what_heights_alone_would_cross() -> None:
    # The far spot is a little higher, so by height it comes first; but its leader passes below the near spot.
    far, near = (1000.0, 300.0), (520.0, 310.0)
    ports = np.array([[440.0, 500.0], [440.0, 800.0]])
    assert segments_cross((far, (440.0, 500.0)), (near, (440.0, 800.0)))
    slots = uncrossed(np.array([far, near]), ports, np.array([far, near]), RING)
    assert slots == [1, 0]
    assert not segments_cross((far, (440.0, 800.0)), (near, (440.0, 500.0)))


def test_leaders_avoid_other_rings_where_they_can() -> None:
    # Both assignments are free of crossings, but one leader runs through the other spot's ring.
    a, b = (700.0, 400.0), (600.0, 400.0)
    ports = np.array([[440.0, 400.0], [440.0, 520.0]])
    slots = uncrossed(np.array([a, b]), ports, np.array([a, b]), RING)
    assert slots == [1, 0]


def passes(leader: Leader, spot: Point) -> bool:
    """Whether a leader comes nearer to a spot than the ring, found by walking along it."""
    walk = [np.linspace(a, b, 400) for a, b in itertools.pairwise(np.array(leader))]
    return bool(np.min(np.hypot(*(np.concatenate(walk) - np.array(spot)).T)) < RING - 0.2)


def test_a_leader_bends_around_a_ring_in_its_way() -> None:
    far, near = (600.0, 400.0), (560.0, 400.0)
    straight: list[Leader | None] = [((600.0 - RING, 400.0), (440.0, 390.0)), ((560.0 - RING, 400.0), (440.0, 450.0))]
    assert passes(straight[0] or (), near)
    bent, other = bent_clear(straight, [far, near], RING, (440.0, 100.0, 1480.0, 900.0))
    assert other == straight[1]
    assert bent is not None
    assert len(bent) == 3
    assert bent[-1] == (440.0, 390.0)
    assert not passes(bent, near)
    assert not passes(bent, far)
    assert not leaders_cross(bent, other or ())


def test_a_leader_with_no_way_round_stays_straight() -> None:
    straight: list[Leader | None] = [((600.0 - RING, 400.0), (440.0, 400.0)), None]
    bent, _ = bent_clear([*straight[:1], None], [(600.0, 400.0), (560.0, 400.0)], RING, (440.0, 399.0, 1480.0, 401.0))
    assert bent == straight[0]


@settings(deadline=None, max_examples=60)
@given(spots)
def test_bends_only_ever_help(points: list[Point | None]) -> None:
    places = place_callouts(points, [LEFT, RIGHT], HEIGHT, GAP, RING)
    for i, place in enumerate(places):
        if place.leader and len(place.leader) == 3:
            for j, point in enumerate(points):
                if point is not None and point != points[i]:
                    assert not passes(place.leader, point), (i, j)
            assert LEFT.port_x <= place.leader[1][0] <= RIGHT.port_x
            assert LEFT.box.y0 <= place.leader[1][1] <= LEFT.box.y1
