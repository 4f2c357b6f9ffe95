"""What is known of a camera's error beyond its limits: its pattern, and what patches of known temperature show."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

USED: Final = "used"
"""State of a patch that a frame was corrected by."""
DOUBTFUL: Final = "reads further off than the camera's limit and the patch's uncertainty allow"
AT_ODDS: Final = "contradicts another patch"


@dataclass(frozen=True, slots=True, eq=False)
class Pattern:
    """The camera's own pattern: how each pixel deviates, in in-band radiance, from the median of an even scene.

    Parameters
    ----------
    radiance : ndarray of float32, shape (rows, columns)
        Deviation, to be taken off. [W m⁻² sr⁻¹]
    at_degc : float
        Median radiance temperature of the scene it was taken from.
    noise_k : float
        Noise that each pixel of it carries, at `at_degc`.
    scene_k : ndarray of float32, shape (rows, columns)
        Bound on what may be the scene's contrast instead, at `at_degc`.
    frames : int
        How many were averaged.
    spread_k : float
        Robust standard deviation of the pattern, at `at_degc`.
    """

    radiance: NDArray[np.float32]
    at_degc: float
    noise_k: float
    scene_k: NDArray[np.float32]
    frames: int
    spread_k: float


@dataclass(frozen=True, slots=True)
class PatchSeen:
    """A patch of known temperature as one frame shows it.

    Parameters
    ----------
    id : str
        Of the reference.
    state : str
        ``used``, or why it was not.
    pixels : int
        Those averaged.
    shown_degc, expected_degc : float
        Mean radiance temperature, and the one it should show by its temperature, emissivity and surroundings; NaN
        where nothing could be averaged.
    u_k : float
        Standard uncertainty of their difference.
    """

    id: str
    state: str
    pixels: int = 0
    shown_degc: float = float("nan")
    expected_degc: float = float("nan")
    u_k: float = float("nan")

    @property
    def off_k(self) -> float:
        """What takes the shown temperature to the expected one."""
        return self.expected_degc - self.shown_degc


@dataclass(frozen=True, slots=True)
class Line:
    """A correction of radiance temperatures: ``T + offset_k + gain (T - about_degc)``.

    Parameters
    ----------
    offset_k, gain : float
        The gain is 0 where the patches do not tell it.
    about_degc : float
        Weighted mean of the patches' temperatures, where offset and gain are independent of each other.
    u_offset_k, u_gain : float
    gain_bound : float
        Bound (K/K) on a gain that was not measured; 0 for one that was.
    """

    offset_k: float
    about_degc: float
    u_offset_k: float
    gain: float = 0.0
    u_gain: float = 0.0
    gain_bound: float = 0.0

    def u_at(self, radiance_degc: float) -> float:
        """Standard uncertainty of the correction at a radiance temperature."""
        return float(np.hypot(self.u_offset_k, self.u_gain * (radiance_degc - self.about_degc)))


@dataclass(frozen=True, slots=True)
class Held:
    """What came of holding a frame against patches of known temperature.

    Parameters
    ----------
    patches : tuple of PatchSeen
    line : Line or None
        None where nothing is corrected.
    limit_k : float
        Least bound on the camera's error, from a patch that cannot be believed.
    gain_assumed : bool
        Whether the camera file states no limit that grows with temperature.
    """

    patches: tuple[PatchSeen, ...]
    line: Line | None = None
    limit_k: float = 0.0
    gain_assumed: bool = False
