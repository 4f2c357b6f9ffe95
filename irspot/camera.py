"""The camera as its file describes it: how stored numbers become temperatures, and what the maker promises."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from irspot.constants import DEFAULT_BAND_UM, DEFAULT_LIMIT_K, DEFAULT_LIMIT_RELATIVE, DEFAULT_NOISE_K

Unit = Literal["degC", "K", "degF", "counts"]


@dataclass(frozen=True, slots=True)
class Settings:
    """What the camera had applied to its signal before storing it (undone before ours).

    Parameters
    ----------
    emissivity : float
    reflected_degc : float
    transmission : float
    window_degc : float
    """

    emissivity: float = 1.0
    reflected_degc: float = 20.0
    transmission: float = 1.0
    window_degc: float = 20.0

    @property
    def neutral(self) -> bool:
        """Whether the stored temperature is the radiance temperature already."""
        return self.emissivity == 1.0 and self.transmission == 1.0


@dataclass(frozen=True, slots=True)
class Signal:
    """How stored numbers become temperatures: ``temperature = stored * scale + offset`` in `unit`.

    Parameters
    ----------
    unit : {"degC", "K", "degF", "counts"}
        With ``counts`` either `points_degc` or `radiance` says what they mean.
    scale, offset : float
        With `radiance`, they give in-band radiance (W m⁻² sr⁻¹) instead of a temperature.
    points_degc : tuple of (float, float)
        Black-body calibration ``(count, degC)``, counts rising; interpolated linearly in radiance.
    radiance : bool
        See `scale`.
    settings : Settings
        What the camera had applied.
    """

    unit: Unit = "degC"
    scale: float = 1.0
    offset: float = 0.0
    points_degc: tuple[tuple[float, float], ...] = ()
    radiance: bool = False
    settings: Settings = Settings()


@dataclass(frozen=True, slots=True)
class RawLayout:
    """How a raw dump is laid out: frames of ``height`` rows of ``width`` numbers after ``skip_bytes``."""

    width: int
    height: int
    dtype: str
    byte_order: Literal["little", "big"] = "little"
    skip_bytes: int = 0


@dataclass(frozen=True, slots=True)
class Optics:
    """Geometry of the lens.

    Parameters
    ----------
    size_px : tuple of int or None
        ``(columns, rows)`` that frames must have.
    focal_px : float or None
        Focal length in pixels (from ``hfov_deg`` where the file gives that).
    principal_px : tuple of float or None
        Where the optical axis meets the image; None stands for its middle.
    distortion : tuple of float
        k1 k2 p1 p2 k3 of the OpenCV model; all zero for none. Needs `focal_px`.
    blur_px : float or None
        Standard deviation of the point spread.
    """

    size_px: tuple[int, int] | None = None
    focal_px: float | None = None
    principal_px: tuple[float, float] | None = None
    distortion: tuple[float, float, float, float, float] = (0.0, 0.0, 0.0, 0.0, 0.0)
    blur_px: float | None = None

    @property
    def distorted(self) -> bool:
        """Whether the lens bends straight lines."""
        return any(self.distortion)


NO_OPTICS = Optics()
"""Of a camera of which nothing is known."""


@dataclass(frozen=True, slots=True)
class Band:
    """The spectral band: flat from `lower_um` to `upper_um`, or a Sakuma-Hattori equation.

    Parameters
    ----------
    lower_um, upper_um : float
    sakuma_hattori : tuple of float or None
        ``(A, B, C)`` of ``L = C / (exp(c2 / (A T + B)) - 1)`` with A in µm, B in µm K, C in W m⁻² sr⁻¹.
    """

    lower_um: float = DEFAULT_BAND_UM[0]
    upper_um: float = DEFAULT_BAND_UM[1]
    sakuma_hattori: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class Accuracy:
    """What the maker promises, as bounds on radiance temperature.

    Parameters
    ----------
    limit_k, limit_relative : float
        The bound is the larger of `limit_k` and `limit_relative` times the reading in °C.
    repeatability_k : float
        Standard uncertainty of the part that differs from frame to frame.
    noise_k : float
        Standard deviation of one pixel.
    range_degc : tuple of float or None
        What the camera is made to measure.
    warm_up_min : float or None
    assumed : bool
        True where the camera file states no limit and ours stand in.
    """

    limit_k: float = DEFAULT_LIMIT_K
    limit_relative: float = DEFAULT_LIMIT_RELATIVE
    repeatability_k: float = 0.0
    noise_k: float = DEFAULT_NOISE_K
    range_degc: tuple[float, float] | None = None
    warm_up_min: float | None = None
    assumed: bool = True


@dataclass(frozen=True, slots=True)
class Colorbar:
    """Where a colour-mapped frame carries its colour bar, for cameras that always draw it in one place.

    Parameters
    ----------
    bar_px : tuple of int or None
        ``(x0, y0, x1, y1)``, ends exclusive.
    low_end : {"top", "bottom", "left", "right"} or None
    ticks : tuple of (float, float)
        ``(place, degC)``, places from 0 at the low end to 1 at the high end; empty where the numbers change.
    ignore_px : tuple of tuple of int
        Boxes that hold no picture: logos, clocks.
    """

    bar_px: tuple[int, int, int, int] | None = None
    low_end: Literal["top", "bottom", "left", "right"] | None = None
    ticks: tuple[tuple[float, float], ...] = ()
    ignore_px: tuple[tuple[int, int, int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Camera:
    """A camera and the range it was set to.

    Parameters
    ----------
    name : str
    signal, raw, optics, band, accuracy, colorbar
        See their types.
    ranges : tuple of (str, Accuracy)
        Named alternatives to `accuracy`.
    dead_px : tuple of (int, int)
        Declared dead pixels, ``(x, y)``.
    declared : bool
        False for the stand-in used where no camera file was given: then a file's numbers must say themselves what
        they are.
    """

    name: str = "no camera file"
    signal: Signal = Signal()
    raw: RawLayout | None = None
    optics: Optics = Optics()
    band: Band = Band()
    accuracy: Accuracy = Accuracy()
    ranges: tuple[tuple[str, Accuracy], ...] = ()
    dead_px: tuple[tuple[int, int], ...] = ()
    colorbar: Colorbar | None = None
    declared: bool = True

    def with_range(self, range_id: str) -> Camera:
        """Give the same camera set to one of its named ranges.

        Raises
        ------
        KeyError
            If there is no such range.
        """
        return replace(self, accuracy=dict(self.ranges)[range_id])

    def with_settings(self, settings: Settings) -> Camera:
        """Give the same camera with other applied settings."""
        return replace(self, signal=replace(self.signal, settings=settings))

    def storing_degc(self) -> Camera:
        """Give the same camera for a frame whose numbers already are radiance temperatures in °C."""
        return replace(self, signal=Signal(unit="degC"), declared=True)

    def showing_degc(self) -> Camera:
        """Give the same camera for a picture whose colours stood for °C under the settings it had applied."""
        signal = Signal(unit="degC", settings=self.signal.settings)
        return replace(self, signal=signal, declared=True)


NO_CAMERA = Camera(declared=False)
"""Stands in where no camera file is given."""
