"""Blur read off edges, against scenes of known blur."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.measurement.blur import ASSUMED_BLUR_PX, blur_of
from irspot.measurement.sharpness import edge_blur, outline_blur
from irspot.synthetic.trust_scenes import Wishes, trust_scene


@pytest.mark.parametrize("blur_px", [0.5, 0.9, 1.4, 2.0])
def test_blur_of_scenes(blur_px: float) -> None:
    found = []
    for seed in range(6):
        scene = trust_scene(seed, Wishes(blur_px=(blur_px, blur_px), states_blur=0.0))
        blur = blur_of(scene.frame, scene.placement, scene.board.outline)
        assert blur.known == "estimated"
        found.append(blur.px)
        assert blur.outline_px is None or blur.outline_px > 0.7 * blur_px
    # Heat that spreads adds to it; nothing takes away.
    assert np.median(found) == pytest.approx(blur_px, rel=0.1, abs=0.15)
    assert min(found) > 0.85 * blur_px


def test_defocus_shows_at_the_outline() -> None:
    for seed in range(6):
        sharp = trust_scene(seed, Wishes(blur_px=(0.7, 0.7), states_blur=1.0))
        assert not blur_of(sharp.frame, sharp.placement, sharp.board.outline).defocused
        soft = trust_scene(seed, Wishes(blur_px=(2.5, 2.5), states_blur=1.0), stated_blur_px=0.7)
        blur = blur_of(soft.frame, soft.placement, soft.board.outline)
        assert blur.outline_px is None or blur.defocused


def test_a_slope_is_no_edge() -> None:
    y, x = np.mgrid[0:90, 0:120].astype(np.float32)
    slope = 30.0 + 0.2 * x + 0.1 * y
    assert edge_blur(slope, 0.05) is None
    around = np.array([(20.0 + k, 20.0) for k in range(80)] + [(100.0, 20.0 + k) for k in range(50)])
    assert outline_blur(slope, 0.05, around) is None


def test_an_even_frame_and_a_tiny_one_tell_nothing() -> None:
    noise = np.random.default_rng(0).normal(30.0, 0.05, (60, 80)).astype(np.float32)
    assert edge_blur(noise, 0.05) is None
    assert edge_blur(noise[:7, :7], 0.05) is None
    assert edge_blur(np.full((60, 80), np.nan, np.float32), 0.05) is None
    assert ASSUMED_BLUR_PX > 0.0


def test_gaps_do_not_spoil_edges() -> None:
    scene = trust_scene(3, Wishes(blur_px=(1.0, 1.0)))
    degc = np.array(scene.frame.stored, np.float32)
    whole = edge_blur(degc, 0.05)
    degc[40:60, 60:80] = np.nan
    found = edge_blur(degc, 0.05)
    assert whole is not None
    assert found is not None
    assert found.blur_px == pytest.approx(whole.blur_px, rel=0.1)
