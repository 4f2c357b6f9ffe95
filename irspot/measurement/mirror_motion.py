"""How far the image of a thing moves along a flat mirror when the camera moves.

The line from the camera to the thing's mirror image, as far below the surface as the thing is above, meets the surface
where the thing is seen; similar triangles do the rest.
"""

from __future__ import annotations


def image_moves_mm(thing_mm: float, camera_mm: float, across_mm: float) -> float:
    """Say how far an image moves: ``b h / (H + h)``.

    Parameters
    ----------
    thing_mm : float
        Height h of the thing above the surface.
    camera_mm : float
        Height H of the camera.
    across_mm : float
        Way b of the camera, at that height.

    Examples
    --------
    >>> image_moves_mm(100.0, 300.0, 80.0)
    20.0
    """
    return across_mm * thing_mm / (camera_mm + thing_mm)


def nearest_told_mm(needed_mm: float, camera_mm: float, across_mm: float) -> float:
    """Say how high a thing must be for its image to move so far: the above, turned round.

    Returns
    -------
    float
        Infinite where no image of anything would move so far.

    Examples
    --------
    >>> nearest_told_mm(20.0, 300.0, 80.0), nearest_told_mm(80.0, 300.0, 80.0)
    (100.0, inf)
    """
    return camera_mm * needed_mm / (across_mm - needed_mm) if across_mm > needed_mm else float("inf")
