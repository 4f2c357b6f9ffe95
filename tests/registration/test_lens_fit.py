"""Lenses fitted to views of known truth, and held against OpenCV's own calibration."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from irspot.camera import Optics
from irspot.errors import IrspotError
from irspot.registration.lens_fit import LensWish, fit_lens
from irspot.registration.lens_target import Target, find_target

from .lens_scenes import poses_of, target_frame, true_places

DOTS, CHECKER = Target("dots", 7, 5, 20.0), Target("checker", 8, 6, 25.0)
SIZE = (643, 509)
LENS = Optics(focal_px=812.0, principal_px=(326.3, 249.1), distortion=(-0.21, 0.06, 0.0011, -0.0008, 0.0))


def views_of(target, optics=LENS, size=SIZE, noise_px=0.05, seed=0, **more):
    random = np.random.default_rng(seed)
    return [
        true_places(target, view, optics, size) + noise_px * random.standard_normal((target.columns * target.rows, 2))
        for view in poses_of(target, optics.focal_px, size, **more)
    ]


ALL = LensWish(principal=True, tangential=True)


def pulls(fit, optics=LENS):
    """How far each value is off, in its own standard uncertainty."""
    found = [fit.focal_px, *fit.principal_px, *fit.distortion[:4]]
    u = [fit.u_focal_px, *fit.u_principal_px, *fit.u_distortion[:4]]
    true = [optics.focal_px, *optics.principal_px, *optics.distortion[:4]]
    return (np.array(found) - true) / u


def test_exact_points_give_the_lens_exactly():
    fit = fit_lens(DOTS, views_of(DOTS, noise_px=0.0), SIZE, ALL)
    assert fit.focal_px == pytest.approx(812.0, abs=1e-3)
    np.testing.assert_allclose(fit.principal_px, LENS.principal_px, atol=1e-3)
    np.testing.assert_allclose(fit.distortion, LENS.distortion, atol=1e-5)
    assert fit.residual_px < 1e-5
    assert max(fit.tilts_deg) == pytest.approx(28.0, abs=0.05)


def pulls_of(count):
    return np.array([pulls(fit_lens(DOTS, views_of(DOTS, seed=seed), SIZE, ALL)) for seed in range(count)])


def test_uncertainties_are_those_that_repetition_shows():
    """The pulls of all seven values scatter as standard normal ones do."""
    found = pulls_of(12)
    assert np.mean(np.abs(found) <= 2.0) >= 0.9
    assert 0.7 < np.sqrt(np.mean(found**2)) < 1.3


@pytest.mark.full
def test_uncertainties_are_those_that_many_repetitions_show():
    found = pulls_of(150)
    assert np.mean(np.abs(found) <= 2.0) == pytest.approx(0.954, abs=0.03)
    assert np.sqrt(np.mean(found**2)) == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("wish", [LensWish(principal_px=LENS.principal_px, tangential=True), ALL, LensWish()])
def test_opencv_fits_the_same_lens(wish, mirrored):
    views = views_of(CHECKER)
    if mirrored:
        views = [view.reshape(6, 8, 2)[:, ::-1].reshape(-1, 2) for view in views]
    fit = fit_lens(CHECKER, views, SIZE, wish)
    flags = cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_FIX_K3 | cv2.CALIB_USE_INTRINSIC_GUESS
    flags |= 0 if wish.principal else cv2.CALIB_FIX_PRINCIPAL_POINT
    flags |= 0 if wish.tangential else cv2.CALIB_ZERO_TANGENT_DIST
    middle = wish.principal_px or ((SIZE[0] - 1) / 2.0, (SIZE[1] - 1) / 2.0)
    camera = np.array([[800.0, 0.0, middle[0]], [0.0, 800.0, middle[1]], [0.0, 0.0, 1.0]])
    flat = np.column_stack([CHECKER.places_mm * [1.0, -1.0 if not mirrored else 1.0], np.zeros(48)])
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 300, 1e-14)
    rms, camera, bend, *_ = cv2.calibrateCamera(
        [flat.astype(np.float32)] * len(views),
        [view.astype(np.float32) for view in views],
        SIZE,
        camera,
        np.zeros(5),
        flags=flags,
        criteria=criteria,
    )
    assert fit.focal_px == pytest.approx(camera[0, 0], rel=2e-5)
    np.testing.assert_allclose(fit.principal_px, camera[:2, 2], atol=0.02)
    np.testing.assert_allclose(fit.distortion, bend.ravel()[:5], atol=2e-4)
    assert fit.residual_px == pytest.approx(rms, rel=1e-3)


@pytest.mark.parametrize(
    ("target", "size", "focal"),
    [(DOTS, (321, 251), 420.0), (CHECKER, (321, 251), 420.0), (DOTS, (161, 121), 190.0)],
    ids=["dots", "checker", "small"],
)
def test_frames_of_known_truth(target, size, focal):
    """From thermal frames to the lens: 1 % of focal length, distortion within what is stated, a tenth of a pixel."""
    lens = Optics(focal_px=focal, distortion=(-0.2, 0.05, 0.0, 0.0, 0.0))
    views = []
    for number, view in enumerate(poses_of(target, focal, size, count=8)):
        contrast = 8.0 if number % 2 else -8.0
        frame = target_frame(target, view, lens, size, contrast_k=contrast, noise_k=0.05, seed=number)
        views.append(find_target(frame, target))
    assert all(view is not None for view in views)
    fit = fit_lens(target, views, size)
    print(f"focal {fit.focal_px:.2f} ± {fit.u_focal_px:.2f} ({focal}), {fit.distortion[:2]} ± {fit.u_distortion[:2]}")
    assert fit.focal_px == pytest.approx(focal, rel=0.01)
    off = np.abs(np.subtract(fit.distortion, lens.distortion))
    assert np.all(off <= 2.0 * np.array(fit.u_distortion))
    assert fit.residual_px < 0.1
    assert fit.coverage > 0.4


def test_one_view_straight_on_leaves_the_focal_length_open():
    from irspot.synthetic.view import Pose

    random = np.random.default_rng(1)
    straight = true_places(DOTS, Pose(700.0, (60.0, 40.0)), LENS, SIZE) + random.normal(0.0, 0.05, (35, 2))
    fit = fit_lens(DOTS, [straight], SIZE)
    assert max(fit.tilts_deg) < 15.0
    assert fit.u_focal_px > 0.01 * fit.focal_px


def test_too_few_points_are_refused():
    small = Target("dots", 2, 2, 20.0)
    with pytest.raises(IrspotError, match="do not determine"):
        fit_lens(small, views_of(small, count=1), SIZE)
