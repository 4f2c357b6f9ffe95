"""The conditions a frame was taken under, as far as somebody noted them."""

from __future__ import annotations

from dataclasses import dataclass

from irspot.constants import DEFAULT_U_AMBIENT_K, DEFAULT_U_REFLECTED_K


@dataclass(frozen=True, slots=True)
class Conditions:
    """What surrounds the board and stands between it and the camera.

    Parameters
    ----------
    ambient_degc : float or None
        Air beside the board; None leaves every rise empty.
    u_ambient_k : float
    reflected_degc : float or None
        Reflected temperature; None has the ambient temperature assumed, flagged, with a wide uncertainty.
    u_reflected_k : float
    transmission, u_transmission : float
        Of window and path together.
    window_degc : float or None
        Temperature of window and path; None stands for the ambient, or else the reflected temperature.
    """

    ambient_degc: float | None = None
    u_ambient_k: float = DEFAULT_U_AMBIENT_K
    reflected_degc: float | None = None
    u_reflected_k: float = DEFAULT_U_REFLECTED_K
    transmission: float = 1.0
    u_transmission: float = 0.0
    window_degc: float | None = None
