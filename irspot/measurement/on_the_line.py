"""Camera errors found from patches of known temperature: a line through them, and frames corrected by it.

With x_i the radiance temperature a patch shows, y_i the one it should show less x_i, u_i the standard uncertainty of
y_i and w_i = 1 / u_i²: weighted least squares (JCGM 100:2008, H.3, in weighted form) about the weighted mean
X = Σ w x / Σ w, where both are independent, ::

    offset = Σ w y / Σ w,                      u² = 1 / Σ w
    gain   = Σ w (x - X) y / Σ w (x - X)²,     u² = 1 / Σ w (x - X)²
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from irspot.camera_error import Line


def line_through(shown_degc: ArrayLike, off_k: ArrayLike, u_k: ArrayLike, gain_bound: float) -> Line:
    """Find the correction that patches of known temperature ask for.

    Parameters
    ----------
    shown_degc : array_like, shape (n,)
        Radiance temperatures the patches show.
    off_k : array_like, shape (n,)
        What takes these to the expected ones.
    u_k : array_like, shape (n,)
        Standard uncertainties of `off_k`, all above zero.
    gain_bound : float
        What the camera's limit leaves of a gain that is not measured, in K/K.

    Returns
    -------
    Line
        Offset and gain where the patches tell the gain to better than what the camera's limit leaves of it; else,
        where they are too close in temperature for that, the offset alone, at their weighted mean.

    Examples
    --------
    >>> found = line_through([40.0, 80.0], [1.0, 2.0], [0.2, 0.2], 0.02)
    >>> round(found.offset_k, 3), round(found.gain, 4), round(found.u_at(120.0), 3)
    (1.5, 0.025, 0.447)
    >>> line_through([40.0, 44.0], [1.0, 1.4], [0.2, 0.2], 0.02).gain  # four kelvins apart tell no gain
    0.0
    """
    x, y, w = np.asarray(shown_degc, np.float64), np.asarray(off_k, np.float64), 1.0 / np.square(u_k)
    about = float(np.sum(w * x) / np.sum(w))
    offset, u_offset = float(np.sum(w * y) / np.sum(w)), float(np.sum(w) ** -0.5)
    lever = float(np.sum(w * (x - about) ** 2))
    if lever <= 0.0 or lever**-0.5 >= gain_bound:
        return Line(offset, about, u_offset, gain_bound=gain_bound)
    return Line(offset, about, u_offset, float(np.sum(w * (x - about) * y)) / lever, lever**-0.5)


def on_the_line(radiance_degc: NDArray[np.float32], line: Line) -> NDArray[np.float32]:
    """Radiance temperatures as they would be with patches shown at their own temperatures.

    Parameters
    ----------
    radiance_degc : ndarray of float32
        [°C]
    line : Line

    Returns
    -------
    ndarray of float32
        T + offset + gain (T - about).
    """
    about, gain = np.float32(line.about_degc), np.float32(line.gain)
    return np.asarray(radiance_degc + np.float32(line.offset_k) + gain * (radiance_degc - about), np.float32)
