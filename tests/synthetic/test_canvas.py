"""What lines of sight meet: held against stepping along single rays in space."""

import numpy as np
import pytest

from irspot.shapes import Circle, rectangle
from irspot.synthetic.canvas import paint
from irspot.synthetic.parts import Cable, Part, Patch, Surroundings
from irspot.synthetic.surface import covers, face_rises, surface_of
from irspot.synthetic.view import Pose, project, rays, sample_directions

from .scenes import small_board, small_scene

LEANING = Pose(distance_mm=100.0, aim_mm=(31.0, 19.0), tilt_deg=12.0, turn_deg=-15.0, roll_deg=20.0)


def painted(scene):
    view = scene.view
    surface = surface_of(scene.board, face_rises(scene.board, scene.load)[scene.side], "on", scene.side, 20.0)
    seen = rays(sample_directions(view.camera.optics, view.size_px, view.supersample), scene.pose, scene.side)
    return paint(scene, surface, seen), seen


@pytest.mark.parametrize("side", ["front", "rear"])
@pytest.mark.parametrize("shape", [rectangle(22.0, 12.0, 14.0, 9.0), Circle(30.0, 18.0, 6.0)])
def test_a_body_is_hit_where_a_ray_passes_through_it(side, shape):
    body = Part("body", shape, 15.0, 0.4, side, follow=0.0, own_rise_k=40.0)
    canvas, seen = painted(small_scene(small_board([body]), side=side, pose=LEANING))
    hit = canvas.emissivity == 0.4
    # Step from the top of the body down to the face and ask at every step whether the ray is inside.
    stepped = np.zeros_like(hit)
    for height in np.linspace(15.0, 0.0, 601):
        stepped |= covers(shape, seen.x_mm + height * seen.lean_x, seen.y_mm + height * seen.lean_y)
    # Steps of 1/40 mm miss at most a ray that grazes an edge.
    assert np.count_nonzero(hit != stepped) <= 3
    assert np.all(hit[stepped])
    np.testing.assert_allclose(canvas.degc[hit], 60.0)
    assert 500 < np.count_nonzero(hit) < hit.size


def test_taller_bodies_hide_lower_ones():
    low = Part("low", rectangle(20.0, 10.0, 20.0, 20.0), 1.0, 0.5, follow=0.0)
    tall = Part("tall", rectangle(24.0, 14.0, 6.0, 6.0), 8.0, 0.3, follow=0.0)
    scene = small_scene(small_board([tall, low]), pose=LEANING)
    canvas, _ = painted(scene)
    top_px = project(np.array([[27.0, 17.0, 8.0]]), LEANING, "front", scene.view.camera.optics, scene.view.size_px)[0]
    column, row = np.rint((top_px + 0.5) * 2 - 0.5).astype(int)
    assert canvas.emissivity[row, column] == 0.3


def test_patches_change_emissivity_and_leave_temperature():
    plain, seen = painted(small_scene(small_board(), pose=LEANING))
    ring, _ = painted(small_scene(small_board(patches=[Patch(Circle(30.0, 20.0, 5.0), 0.1)]), pose=LEANING))
    np.testing.assert_array_equal(plain.degc, ring.degc)
    np.testing.assert_array_equal(ring.emissivity == 0.1, np.hypot(seen.x_mm - 30.0, seen.y_mm - 20.0) <= 5.0)
    same = ring.emissivity != 0.1
    np.testing.assert_array_equal(ring.emissivity[same], plain.emissivity[same])


def test_patches_of_the_other_side_do_not_show():
    canvas, _ = painted(small_scene(small_board(patches=[Patch(Circle(30.0, 20.0, 5.0), 0.1, "rear")])))
    assert not np.any(canvas.emissivity == 0.1)


def test_a_cable_lies_over_the_board_and_one_below_it_is_hidden():
    over = Cable(((-20.0, 20.0), (80.0, 20.0)), 2.0, height_mm=5.0, rise_k=11.0, emissivity=0.77)
    under = Cable(((30.0, -20.0), (30.0, 60.0)), 2.0, height_mm=-5.0, rise_k=11.0, emissivity=0.66)
    canvas, seen = painted(small_scene(surroundings=Surroundings(cables=(over, under))))
    on_over = np.abs(seen.y_mm + 5.0 * seen.lean_y - 20.0) <= 2.0
    assert np.all(canvas.emissivity[on_over & (np.abs(seen.x_mm - 30.0) < 40.0)] == 0.77)
    on_under = canvas.emissivity == 0.66
    assert np.any(on_under)
    assert not np.any(on_under & covers(rectangle(0.0, 0.0, 60.0, 40.0), seen.x_mm, seen.y_mm))
    np.testing.assert_allclose(canvas.degc[on_over | on_under][0], 31.0)


def test_the_bench_is_warmest_beside_the_board():
    canvas, seen = painted(small_scene(surroundings=Surroundings(glow_k=6.0, bench_mm=0.0)))
    bench = (canvas.emissivity == 0.93) & (seen.y_mm > 0.0) & (seen.y_mm < 40.0)
    beside = seen.x_mm - 60.0
    near = canvas.degc[bench & (beside > 0.0) & (beside < 1.0)]
    far = canvas.degc[bench & (beside > 8.0)]
    assert near.size > 50
    assert far.size > 50
    assert near.min() > far.max()
