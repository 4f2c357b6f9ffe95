"""A lens fitted from frames of a target: what ``irspot lens`` does."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import NO_CAMERA, Camera
from irspot.color_wish import NO_WISH
from irspot.errors import FrameUnreadable, IrspotError
from irspot.frame import Frame
from irspot.registration.lens_fit import LensFit, LensWish, fit_lens
from irspot.registration.lens_target import Target, find_target
from irspot.workflow.pool import Progress

_MOST_OF_A_FILE: Final = 40
"""Frames taken of one recording, evenly spread: more tell nothing new."""
_GOOD_TILT_DEG: Final = 15.0
_GOOD_FOCAL_SHARE: Final = 0.01
_GOOD_COVERAGE: Final = 0.4
_GOOD_RESIDUAL_PX: Final = 0.3
_GOOD_VIEWS: Final = 4
_STRAY: Final = 3.0
"""A view that misses by so many times the residual of the middle one is not the target, or it moved."""


@dataclass(frozen=True, slots=True)
class LensJob:
    """What to fit.

    Parameters
    ----------
    files : tuple of Path
    target : Target
    camera_file : Path or None
        What frames are read by; its principal point is kept unless it is to be fitted.
    write : Path or None
        Camera file to be given the lens.
    principal, tangential : bool
        Fit these too.
    """

    files: tuple[Path, ...]
    target: Target
    camera_file: Path | None = None
    write: Path | None = None
    principal: bool = False
    tangential: bool = False


@dataclass(frozen=True, slots=True)
class LensResult:
    """A lens, the frames that show it, and what is worth knowing.

    Parameters
    ----------
    fit : LensFit
    size_px : tuple of int
    used, missing : tuple of str
        Frames with and without the whole target.
    warnings : tuple of str
    """

    fit: LensFit
    size_px: tuple[int, int]
    used: tuple[str, ...]
    missing: tuple[str, ...]
    warnings: tuple[str, ...]


def lens_of_files(job: LensJob, progress: Progress | None = None) -> LensResult:
    """Find the target in frames, fit the lens, and write it if that was asked for.

    Parameters
    ----------
    job : LensJob
    progress : callable, optional

    Returns
    -------
    LensResult

    Raises
    ------
    IrspotError
        If a file cannot be read or written, no frame shows the target, or the lens stays open.
    """
    from irspot.files.camera_edit import refuse_hfov

    camera = _camera(job)
    if job.write is not None:
        refuse_hfov(job.write)
    used: list[str] = []
    missing: list[str] = []
    views: list[NDArray[np.float64]] = []
    size_px = camera.optics.size_px
    for number, file in enumerate(job.files, start=1):
        for frame in _frames(file, camera):
            size_px = _same_size(frame, size_px)
            found = find_target(_whole(frame), job.target)
            (missing if found is None else used).append(frame.name)
            if found is not None:
                views.append(found)
        if progress is not None:
            progress(number, len(job.files), file.name)
    if size_px is None or not views:
        raise _nothing_found(job, missing)
    wish = LensWish(job.principal, job.tangential, camera.optics.principal_px)
    result = judged(fit_lens(job.target, views, size_px, wish), size_px, tuple(used), tuple(missing))
    if job.write is not None:
        _write(job.write, result, job)
    return result


def _camera(job: LensJob) -> Camera:
    from irspot.files import read_camera

    file = job.camera_file or job.write
    return NO_CAMERA if file is None else read_camera(file)


def _frames(file: Path, camera: Camera) -> Iterator[Frame]:
    from irspot.workflow.open_any import open_any

    source = open_any(file, camera, NO_WISH)
    chosen = np.unique(np.linspace(0, source.count - 1, min(source.count, _MOST_OF_A_FILE)).astype(int))
    for index in chosen:
        yield source.frame(int(index))


def _same_size(frame: Frame, size_px: tuple[int, int] | None) -> tuple[int, int]:
    own = (frame.shape[1], frame.shape[0])
    if size_px is not None and own != size_px:
        raise FrameUnreadable(
            "the frames are not of one size",
            file=frame.name,
            found=f"{own[0]} x {own[1]} px",
            wanted=f"{size_px[0]} x {size_px[1]} px, as the camera file or a frame before has it",
        )
    return own


def _whole(frame: Frame) -> NDArray[np.float32]:
    """Give a frame's temperatures, dead and unmeasured pixels filled in from their neighbours."""
    from irspot.measurement.pixels import pixels_of
    from irspot.opencv import load_cv2

    pixels = pixels_of(frame)
    if pixels.sound.all():
        return pixels.radiance_degc
    if not pixels.sound.any():
        return np.zeros(frame.shape, dtype=np.float32)
    image = np.where(pixels.sound, pixels.radiance_degc, np.float32(np.median(pixels.radiance_degc[pixels.sound])))
    smooth = load_cv2().medianBlur(image, 5)
    return np.where(pixels.sound, image, smooth)


def _nothing_found(job: LensJob, missing: list[str]) -> IrspotError:
    target = job.target
    what = "dots" if target.kind == "dots" else "inner corners"
    return IrspotError(
        f"no frame shows the whole target of {target.columns} x {target.rows} {what}",
        file=missing[0] if missing else "",
        hint="count along both sides; all of it must be in view, in focus and far from its ground in temperature",
    )


def judged(fit: LensFit, size_px: tuple[int, int], used: tuple[str, ...], missing: tuple[str, ...]) -> LensResult:
    """Add what is worth knowing about a fit.

    Parameters
    ----------
    fit : LensFit
    size_px : tuple of int
    used, missing : tuple of str
    """
    return LensResult(fit, size_px, used, missing, tuple(_warnings(fit, used)))


def _warnings(fit: LensFit, used: tuple[str, ...]) -> Iterator[str]:
    tilt = max(fit.tilts_deg)
    if tilt < _GOOD_TILT_DEG:
        yield (
            f"the target was tilted by {tilt:.0f} degrees at most, too little to tell the focal length from the "
            "distance; tilt it by 20 to 40 degrees, to several sides"
        )
    elif fit.u_focal_px > _GOOD_FOCAL_SHARE * fit.focal_px:
        yield "the focal length is uncertain by more than 1 %; take more frames, tilted by 20 to 40 degrees"
    if len(used) < _GOOD_VIEWS:
        yield f"only {len(used)} of the frames show the target; take ten or so"
    if fit.coverage < _GOOD_COVERAGE:
        yield (
            f"the target was seen in {100 * fit.coverage:.0f} % of the image; beyond, the distortion is a guess: move "
            "it into all corners"
        )
    if fit.residual_px > _GOOD_RESIDUAL_PX:
        yield f"the points scatter by {fit.residual_px:.2f} px; check focus and counts, and that the target is flat"
    middle = float(np.median(fit.view_residuals_px))
    for name, residual in zip(used, fit.view_residuals_px, strict=True):
        if residual > max(_STRAY * middle, 0.1):
            yield f"{name} fits badly ({residual:.2f} px); leave it out if the target moved or is bent there"


def lens_document(result: LensResult) -> dict[str, Any]:
    """Describe a fitted lens for people and scripts; uncertainties are standard ones.

    Parameters
    ----------
    result : LensResult
    """
    fit = result.fit
    half = result.size_px[0] / 2.0
    return {
        "focal_px": fit.focal_px,
        "u_focal_px": fit.u_focal_px,
        "hfov_deg": 2.0 * math.degrees(math.atan(half / fit.focal_px)),
        "principal_px": list(fit.principal_px),
        "u_principal_px": list(fit.u_principal_px),
        "distortion": list(fit.distortion),
        "u_distortion": list(fit.u_distortion),
        "residual_px": fit.residual_px,
        "points": fit.points,
        "frames": list(result.used),
        "frame_residuals_px": list(fit.view_residuals_px),
        "tilts_deg": list(fit.tilts_deg),
        "without_target": list(result.missing),
        "coverage": fit.coverage,
        "size_px": list(result.size_px),
        "warnings": list(result.warnings),
    }


def _write(file: Path, result: LensResult, job: LensJob) -> None:
    from irspot.atomic import write_atomic
    from irspot.files.camera_edit import with_lens

    fit = result.fit
    values: dict[str, Any] = {
        "size_px": list(result.size_px),
        "focal_px": _rounded(fit.focal_px, fit.u_focal_px),
        "distortion": [_rounded(each, u) for each, u in zip(fit.distortion, fit.u_distortion, strict=True)],
    }
    if job.principal:
        values["principal_px"] = [
            _rounded(each, u) for each, u in zip(fit.principal_px, fit.u_principal_px, strict=True)
        ]
    write_atomic(file, with_lens(file, values))


def _rounded(value: float, u: float) -> float:
    """Round to a hundredth of the uncertainty or finer: nothing is lost, and nothing is claimed."""
    if not u > 0.0:
        return value
    return round(value, max(0, 2 - math.floor(math.log10(u))))
