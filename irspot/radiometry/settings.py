"""Undoing the settings a camera had applied before it stored a temperature."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from irspot.camera import Band, Settings
from irspot.radiometry.model import apparent_temperature


def undone(stored_degc: ArrayLike, settings: Settings, band: Band) -> NDArray[np.floating[Any]]:
    """Radiance temperature behind a temperature the camera had corrected by its own settings.

    Parameters
    ----------
    stored_degc : array_like
        The surface temperature as the camera computed it. [°C]
    settings : Settings
    band : Band

    Returns
    -------
    ndarray
        [°C]; NaN where the settings are physically impossible.

    Notes
    -----
    What the camera did is `irspot.radiometry.model.surface_temperature`, so undoing it is `apparent_temperature`.
    """
    if settings.neutral:
        return np.asarray(stored_degc)
    return apparent_temperature(
        stored_degc,
        emissivity=settings.emissivity,
        reflected_degc=settings.reflected_degc,
        transmission=settings.transmission,
        window_degc=settings.window_degc,
        band=band,
    )
