"""Scenes for judging cold frames and references: those of `trust_scenes`, seen by cameras that err as real ones do.

The camera's error is an offset and a gain, each within what its file states of it; its pattern is shading, rows and
columns, and pixels that differ; patches beside the board are of the temperature and emissivity that is stated of them,
give or take what is stated. A cold frame shows an even wall or the unpowered board, at room temperature.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Reference
from irspot.frame import Frame
from irspot.radiometry.band_table import band_table
from irspot.synthetic.camera_draw import CameraDraw, Shown, TruePatch, sensed_degc
from irspot.synthetic.sensor import with_noise
from irspot.synthetic.trust_parts import BAND, SIZE_PX, Surroundings, seen
from irspot.synthetic.trust_scenes import TrustScene, Wishes, trust_scene

FloatArray = NDArray[np.float64]

RADIUS_PX: Final = 6.4
_PLACES_PX: Final = ((7.0, 7.0), (200.0, 152.0), (200.0, 7.0))
_EVEN_DEGC: Final = 23.0
"""Where the sizes of a pattern are given in kelvins."""


@dataclass(frozen=True, slots=True)
class Fault:
    """What is drawn of a camera and of what helps against it.

    Parameters
    ----------
    patches_degc : tuple of (float, float)
        A range for the temperature of each patch in view.
    pattern_k : float
        Sizes of shading, up to; rows and columns and single pixels have up to a third of it; 0 for none.
    """

    patches_degc: tuple[tuple[float, float], ...] = ()
    pattern_k: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class CameraScene:
    """A scene and its cold frame.

    Parameters
    ----------
    scene : TrustScene
        Its board has the references.
    cold : Frame or None
    """

    scene: TrustScene
    cold: Frame | None


def camera_scene(seed: int, wishes: Wishes, fault: Fault) -> CameraScene:
    """Draw a scene.

    Parameters
    ----------
    seed : int
    wishes : Wishes
        Of the scene; its `limit_k` bounds the camera's offset, `limit_k` over 100 K its gain.
    fault : Fault
    """
    random = np.random.default_rng([seed, 7])
    references, patches = _patches(random, fault)
    pattern = _pattern(random, fault.pattern_k)
    about_degc = float(np.mean([patch.degc for patch in patches])) if patches else 50.0
    gain = float(random.uniform(-1.0, 1.0)) * wishes.limit_k / 100.0
    # At every patch the error is within the camera's limit.
    furthest_k = max((abs(patch.degc - about_degc) for patch in patches), default=0.0)
    offset_k = float(random.uniform(-1.0, 1.0)) * (wishes.limit_k - abs(gain) * furthest_k)

    def shown_degc(degc: FloatArray) -> FloatArray:
        table = band_table(BAND)
        patterned = np.asarray(table.temperature_degc(np.asarray(table.radiance(degc)) + pattern))
        return patterned + offset_k + (gain * (patterned - about_degc) if patches else 0.0)

    scene = trust_scene(seed, wishes, camera_draw=CameraDraw(shown_degc, patches))
    cold = _cold(random, scene, shown_degc) if fault.pattern_k else None
    return CameraScene(replace(scene, board=replace(scene.board, references=references)), cold)


def _patches(random: np.random.Generator, fault: Fault) -> tuple[tuple[Reference, ...], tuple[TruePatch, ...]]:
    references, patches = [], []
    for number, (span, (x_px, y_px)) in enumerate(zip(fault.patches_degc, _PLACES_PX, strict=False)):
        degc, emissivity = float(random.uniform(*span)), float(random.uniform(0.93, 0.97))
        u_k, u_emissivity = float(random.uniform(0.1, 0.4)), float(random.uniform(0.003, 0.01))
        px = (x_px, y_px, RADIUS_PX)
        references.append(Reference(f"patch-{number}", None, px, degc, None, u_k, emissivity, u_emissivity))
        true = (degc + u_k * random.standard_normal(), emissivity + u_emissivity * random.standard_normal())
        patches.append(TruePatch(*px, float(true[0]), min(1.0, float(true[1]))))
    return tuple(references), tuple(patches)


def _pattern(random: np.random.Generator, pattern_k: float) -> FloatArray:
    """Draw what a camera adds to the radiance of each pixel."""
    columns, rows = SIZE_PX
    x, y = np.linspace(-1.0, 1.0, columns), np.linspace(-1.0, 1.0, rows)[:, None]
    tilt, hollow = random.uniform(-1.0, 1.0, 2), float(random.uniform(-1.0, 1.0))
    shading = 0.5 * (tilt[0] * x + tilt[1] * y) + hollow * (x * x + y * y) / 2.0
    fine_k = pattern_k / 3.0
    lines = random.standard_normal(columns) + random.standard_normal(rows)[:, None]
    single = random.standard_normal((rows, columns))
    deviation_k = pattern_k * shading + fine_k * random.uniform() * (0.3 * lines + single)
    # Its median is part of the camera's offset, which is drawn by itself.
    deviation_k -= np.median(deviation_k)
    return np.asarray(deviation_k * float(band_table(BAND).slope(_EVEN_DEGC)))


def _cold(random: np.random.Generator, scene: TrustScene, shown_degc: Shown) -> Frame:
    """Show the camera an even wall, or the board before it is powered, some frames averaged."""
    ambient_degc = scene.conditions.ambient_degc or 21.0
    room_degc = ambient_degc + float(random.uniform(-1.0, 1.0))
    wall = np.full(scene.frame.shape, room_degc)
    truth = wall if random.random() < 0.5 else _unpowered(random, scene, room_degc)
    count = int(2 ** random.integers(0, 5))
    accuracy = scene.frame.camera.accuracy
    noise_k = accuracy.noise_k / float(np.sqrt(count))
    noisy = with_noise(shown_degc(truth), replace(accuracy, noise_k=noise_k), int(random.integers(2**31)))
    degc = np.asarray(noisy, np.float32)
    return Frame(degc, scene.frame.camera, "cold", averaged=count, noise_k=noise_k if count > 1 else None)


def _unpowered(random: np.random.Generator, scene: TrustScene, room_degc: float) -> FloatArray:
    """Show the board cold: it, and parts of other emissivities, mirror surroundings that are somewhat warmer."""
    parts = [replace(true.part, above_k=0.0) for true in scene.zones]
    surroundings_degc = room_degc + float(random.uniform(0.0, 5.0))
    board_degc = room_degc + float(random.uniform(-0.2, 0.2))
    return sensed_degc(seen(parts, Surroundings(board_degc, room_degc, surroundings_degc)), scene.blur_px)
