"""An emissivity map: what a frame of the evenly warm board says of every pixel's emissivity, and how surely.

Pixels whose surroundings are alike are calmed: a mean over 5 × 5 of them keeps their noise from choosing the hottest
place. Pixels beside a border between two surfaces stay as they are, so that blur is the same in both frames.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.camera import Camera
from irspot.even_frame import EvenConditions
from irspot.frame import Frame
from irspot.measurement.blur import ASSUMED_BLUR_PX
from irspot.measurement.budget import limit_k
from irspot.measurement.even_checks import refuse_cold, refuse_hotter, refuse_uneven
from irspot.measurement.geometry import check_shape
from irspot.measurement.pixels import Pixels, pixels_of
from irspot.opencv import load_cv2
from irspot.radiometry.even import emissivity_of_even, even_slopes, seen_of_even
from irspot.registration.placement import Placement
from irspot.uncertain import from_bound

F32 = NDArray[np.float32]
BoolArray = NDArray[np.bool_]

_ALIKE_SIGMAS: Final = 4.0
"""Neighbours that differ by less are one surface: of nine pixels' noise hardly any differ by more."""
_CALM_PX: Final = 5
_NODES: Final = np.array([0.0, 0.25, 0.5, 0.75, 1.0])


@dataclass(frozen=True, slots=True, eq=False)
class EmissivityMap:
    """The emissivity of every pixel of an even frame.

    Parameters
    ----------
    emissivity : ndarray of float32, shape (rows, columns)
        Up to 1; NaN where the frame tells nothing.
    noise : ndarray of float32, that shape
        Standard uncertainty by noise alone.
    pixel_noise : float
        That of a pixel that was not calmed.
    placement : Placement
        Of the board in the even frame.
    taken : EvenConditions
    camera : Camera
        That took it.
    name : str
        Of the even frame.
    """

    emissivity: F32
    noise: F32
    pixel_noise: float
    placement: Placement
    taken: EvenConditions
    camera: Camera
    name: str

    @property
    def blur_px(self) -> float:
        """Standard deviation of the point spread."""
        stated = self.camera.optics.blur_px
        return ASSUMED_BLUR_PX if stated is None else stated


@dataclass(frozen=True, slots=True)
class SharedErrors:
    """What all emissivities of a map have in common, at one of them.

    Parameters
    ----------
    u_even : float
        Standard uncertainty by the board's temperature, the reflected one and the frame's repeatability.
    u_camera : float
        By the camera's limit.
    per_camera_k : float
        Change of the emissivity by an error of the camera's limit, as a share of that limit, in this frame. [1/K of
        limit there]
    limit_k : float
        The camera's limit where the even frame shows this emissivity.
    """

    u_even: float
    u_camera: float
    per_camera_k: float
    limit_k: float


def emissivity_map_of(frame: Frame, board: Board, placement: Placement, taken: EvenConditions) -> EmissivityMap:
    """Make an emissivity map.

    Parameters
    ----------
    frame : Frame
        Of the unpowered board, evenly warm.
    board : Board
    placement : Placement
        Of the board in that frame.
    taken : EvenConditions

    Returns
    -------
    EmissivityMap

    Raises
    ------
    MapRefused
        If the board was not at least 20 K warmer than what it reflects, its temperature is out of the camera's range,
        something on it was clearly warmer than stated, or it was not evenly warm as far as can be told.
    PlacementRefused
        If the frame is not of the placement's size.
    """
    check_shape(frame.shape, placement, frame.name)
    refuse_cold(frame, taken)
    pixels = pixels_of(frame)
    band = frame.camera.band
    raw = emissivity_of_even(pixels.radiance_degc, taken, band).astype(np.float32)
    raw[~_readable(pixels)] = np.nan
    per_k = even_slopes(1.0, taken, band).to_radiance_temperature
    pixel_noise = per_k * pixels.noise_k
    noise = np.full(raw.shape, pixel_noise, np.float32)
    if frame.u_decode_k is not None:
        noise = np.hypot(noise, np.float32(per_k) * frame.u_decode_k).astype(np.float32)
        pixel_noise = float(np.nanmedian(noise))
    emissivity, noise = _calmed(raw, noise)
    at_one = shared_errors(1.0, taken, frame.camera)
    u_one = float(np.hypot(at_one.u_even, at_one.u_camera))
    refuse_hotter(emissivity, u_one, board, placement, frame.name)
    refuse_uneven(emissivity, board, placement, taken, frame)
    emissivity = np.where(emissivity > 1.0 + 4.0 * u_one, np.float32(np.nan), np.minimum(emissivity, np.float32(1.0)))
    for array in (emissivity, noise):
        array.flags.writeable = False
    return EmissivityMap(emissivity, noise, pixel_noise, placement, taken, frame.camera, frame.name)


def shared_errors(emissivity: float, taken: EvenConditions, camera: Camera) -> SharedErrors:
    """Say how uncertain a map is where it gives an emissivity, by what all of its pixels share.

    Parameters
    ----------
    emissivity : float
    taken : EvenConditions
    camera : Camera
    """
    slopes = even_slopes(emissivity, taken, camera.band)
    accuracy = camera.accuracy
    limit = limit_k(accuracy, seen_of_even(emissivity, taken, camera.band))
    parts = (
        slopes.to_surface * taken.u_k,
        slopes.to_reflected * taken.u_reflected_k,
        slopes.to_radiance_temperature * accuracy.repeatability_k,
    )
    per_k = slopes.to_radiance_temperature
    return SharedErrors(float(np.linalg.norm(parts)), per_k * from_bound(limit), per_k, limit)


def u_shared(emissivity: F32, taken: EvenConditions, camera: Camera) -> F32:
    """Standard uncertainty of many emissivities by what a map's pixels share.

    The camera's part counts where its error is another one in the frame that is measured; where it is the same, the
    budget weighs both together.
    """
    errors = [shared_errors(float(node), taken, camera) for node in _NODES]
    total = [each.u_even if taken.same_session else float(np.hypot(each.u_even, each.u_camera)) for each in errors]
    return np.interp(emissivity, _NODES, total).astype(np.float32)


@lru_cache(maxsize=8)
def differences(mapped: EmissivityMap, reach_px: int) -> F32:
    """Say by how much emissivities within a reach of each pixel differ from its own, beyond noise.

    Parameters
    ----------
    mapped : EmissivityMap
        Kept by identity.
    reach_px : int

    Returns
    -------
    ndarray of float32, shape (rows, columns)
    """
    cv2 = load_cv2()
    block = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach_px + 1, 2 * reach_px + 1))
    largest = _largest_difference(mapped.emissivity, block)
    return np.asarray(np.maximum(largest - np.float32(mapped.pixel_noise), np.float32(0.0)))


def _readable(pixels: Pixels) -> BoolArray:
    sound = pixels.sound
    for state in (pixels.clipped.high, pixels.clipped.low, pixels.clipped.beyond):
        sound = sound if state is None else sound & ~state
    return sound


def _calmed(raw: F32, noise: F32) -> tuple[F32, F32]:
    """Take means where the surroundings are alike; give their noise as well."""
    cv2 = load_cv2()
    alike = _largest_difference(raw, np.ones((3, 3), np.uint8)) <= _ALIKE_SIGMAS * noise
    known = np.where(alike, raw, np.float32(0.0))
    size, how = (_CALM_PX, _CALM_PX), {"normalize": False, "borderType": cv2.BORDER_CONSTANT}
    count = np.maximum(cv2.boxFilter(alike.astype(np.float32), -1, size, **how), 1.0)
    mean = cv2.boxFilter(known, -1, size, **how) / count
    calm = np.where(alike, mean, raw).astype(np.float32)
    return calm, np.where(alike, noise / np.sqrt(count), noise).astype(np.float32)


def _largest_difference(values: F32, block: NDArray[np.uint8]) -> F32:
    """Largest difference from the middle over a block; NaN in the middle stays, elsewhere it counts for nothing."""
    cv2 = load_cv2()
    unknown = np.isnan(values)
    high = cv2.dilate(np.where(unknown, np.float32(-1e3), values), block)
    low = cv2.erode(np.where(unknown, np.float32(1e3), values), block)
    return np.asarray(np.maximum(high - values, values - low), np.float32)
