"""Camera files: read, checked whole, converted to `irspot.camera.Camera`."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

from irspot.camera import Accuracy, Band, Camera, Optics, RawLayout, Settings, Signal
from irspot.constants import ZERO_DEGC_KELVIN
from irspot.errors import Problem
from irspot.files.camera_keys import CAMERA
from irspot.files.colorbar import colorbar_of
from irspot.files.findings import Findings, Loc, show, unique_ids
from irspot.files.toml import load
from irspot.files.validate import sound_part

SETTINGS_KEYS = {
    "emissivity_set": "emissivity",
    "reflected_set_degc": "reflected_degc",
    "transmission_set": "transmission",
    "window_set_degc": "window_degc",
}
"""Key → field of `Settings`; runs of a study may override each."""


def read_camera_and_warnings(path: Path) -> tuple[Camera, tuple[Problem, ...]]:
    """Read a camera file.

    Returns
    -------
    Camera
    tuple of Problem
        Warnings.

    Raises
    ------
    FileInvalid
        With everything that is wrong.
    """
    findings = Findings(str(path))
    camera = camera_of(load(path, findings), findings, path.stem)
    return camera, findings.problems


def camera_of(document: dict[str, Any], findings: Findings, fallback_name: str = "camera") -> Camera:
    """Check a parsed camera file and convert it.

    Raises
    ------
    FileInvalid
        With everything that is wrong.
    """
    table = sound_part(document, CAMERA, findings)
    signal = _signal(table.get("signal", {}), findings)
    band = _band(table.get("band", {}), findings)
    optics = _optics(table.get("optics", {}), findings)
    base = table.get("accuracy", {})
    accuracy = _accuracy(base, ("accuracy",), findings)
    ranges = _ranges(table.get("range", []), base, findings)
    dead_px = _dead_pixels(table.get("pixels", {}), optics, findings)
    colorbar = colorbar_of(table["colorbar"], findings) if "colorbar" in table else None
    findings.refuse_if_broken()
    raw = RawLayout(**table["raw"]) if "raw" in table else None
    return Camera(
        name=table.get("name", fallback_name),
        signal=signal,
        raw=raw,
        optics=optics,
        band=band,
        accuracy=accuracy,
        ranges=ranges,
        dead_px=dead_px,
        colorbar=colorbar,
        declared="signal" in table,  # without it, frames must say themselves what their numbers are
    )


def _signal(table: Mapping[str, Any], findings: Findings) -> Signal:
    if table.get("unit") == "counts":
        _check_counts(table, findings)
    else:
        for key in ("points", "radiance"):
            if table.get(key) and not findings.broken("signal", "unit"):
                findings.error(("signal", key), "is only for counts", wanted='unit = "counts"')
    if table.get("scale") == 0.0:
        findings.error(("signal", "scale"), "must not be 0: every number would mean the same")
    return Signal(
        unit=table.get("unit", "degC"),
        scale=table.get("scale", 1.0),
        offset=table.get("offset", 0.0),
        points_degc=_points(table.get("points", []), findings),
        radiance=table.get("radiance", False),
        settings=Settings(**settings_of(table)),
    )


def settings_of(table: Mapping[str, Any]) -> dict[str, float]:
    """Take the applied settings from a table, as keywords of `Settings`."""
    return {name: table[key] for key, name in SETTINGS_KEYS.items() if key in table}


def _check_counts(table: Mapping[str, Any], findings: Findings) -> None:
    points, radiance = "points" in table, table.get("radiance", False)
    wanted = "points = [[count, degc], ...], or radiance = true with scale and offset"
    if points and (radiance or "scale" in table or "offset" in table):
        findings.error(("signal", "points"), "contradict scale, offset and radiance", wanted=wanted)
    elif not points and not radiance and not findings.broken("signal", "points"):
        findings.error(("signal",), "counts alone are no temperature", wanted=wanted)


def _points(points: list[list[float]], findings: Findings) -> tuple[tuple[float, float], ...]:
    loc: Loc = ("signal", "points")
    counts = [count for count, _ in points]
    degc = [temperature for _, temperature in points]
    if index := _first_fall(counts):
        findings.error(
            (*loc, index), "counts must rise", found=show(points[index]), wanted=f"above {counts[index - 1]:g}"
        )
    elif _first_fall(degc) and _first_fall([-temperature for temperature in degc]):
        findings.error(loc, "temperatures must rise from point to point, or fall from point to point")
    for index, temperature in enumerate(degc):
        if temperature < -ZERO_DEGC_KELVIN:
            findings.error((*loc, index), "is below absolute zero", found=f"{temperature:g} °C")
    return tuple((count, temperature) for count, temperature in points)


def _first_fall(values: Iterable[float]) -> int:
    """Index of the first value that does not rise; 0 where all do."""
    return next((index for index, (a, b) in enumerate(pairwise(values), 1) if b <= a), 0)


def _band(table: Mapping[str, Any], findings: Findings) -> Band:
    ends = [key for key in ("lower_um", "upper_um") if key in table]
    if "sakuma_hattori" in table:
        if ends:
            findings.error(("band", "sakuma_hattori"), f"contradicts {' and '.join(ends)}", wanted="one of the two")
        return Band(sakuma_hattori=_sakuma_hattori(table["sakuma_hattori"], findings))
    if len(ends) == 1 and not findings.broken("band"):
        missing = "upper_um" if ends == ["lower_um"] else "lower_um"
        findings.error(("band",), f"needs {missing} beside {ends[0]}")
    if len(ends) == 2 and table["lower_um"] >= table["upper_um"]:
        findings.error(("band", "lower_um"), "must be below upper_um", found=show([table[key] for key in ends]))
    return Band(table["lower_um"], table["upper_um"]) if len(ends) == 2 else Band()


def _sakuma_hattori(values: list[float], findings: Findings) -> tuple[float, float, float]:
    a, b, c = values
    if a <= 0.0 or c <= 0.0:
        findings.error(("band", "sakuma_hattori"), "A and C must be above 0", found=show(values), wanted="[A, B, C]")
    return a, b, c


def _optics(table: Mapping[str, Any], findings: Findings) -> Optics:
    size = table.get("size_px")
    distortion = tuple(table.get("distortion", (0.0,) * 5))
    focal = _focal_px(table, size, findings)
    if any(distortion) and focal is None and not findings.broken("optics"):
        findings.error(("optics", "distortion"), "needs a focal length", wanted="focal_px, or hfov_deg and size_px")
    principal = table.get("principal_px")
    if size and principal and not all(-0.5 <= at <= count - 0.5 for at, count in zip(principal, size, strict=True)):
        findings.warn(("optics", "principal_px"), "lies outside the image", found=show(principal))
    return Optics(
        size_px=tuple(size) if size else None,
        focal_px=focal,
        principal_px=tuple(principal) if principal else None,
        distortion=distortion,
        blur_px=table.get("blur_px"),
    )


def _focal_px(table: Mapping[str, Any], size_px: list[int] | None, findings: Findings) -> float | None:
    """Give the focal length in px: stated, or half the width over the tangent of half the field of view."""
    focal: float | None = table.get("focal_px")
    hfov: float | None = table.get("hfov_deg")
    if hfov is None:
        return focal
    if focal is not None:
        findings.error(("optics", "hfov_deg"), "contradicts focal_px", wanted="one of the two")
    elif size_px is None:
        if not findings.broken("optics", "size_px"):
            findings.error(("optics", "hfov_deg"), "needs the image's size", wanted="size_px = [columns, rows]")
    else:
        return size_px[0] / 2.0 / math.tan(math.radians(hfov) / 2.0)
    return None


def _accuracy(table: Mapping[str, Any], loc: Loc, findings: Findings) -> Accuracy:
    """Make what the maker promises; without any limit ours stands in and is marked as assumed."""
    given = dict(table)
    if limits := given.pop("range_degc", None):
        if limits[0] >= limits[1]:
            findings.error((*loc, "range_degc"), "the low end must be below the high end", found=show(limits))
        given["range_degc"] = tuple(limits)
    stated = [key for key in ("limit_k", "limit_relative") if key in given]
    if len(stated) == 1:
        # A maker who states one bound does not promise the other: it is zero, so the stated one is the larger.
        given[{"limit_k": "limit_relative", "limit_relative": "limit_k"}[stated[0]]] = 0.0
    return Accuracy(**given, assumed=not stated)


def _ranges(
    tables: list[dict[str, Any]], base: Mapping[str, Any], findings: Findings
) -> tuple[tuple[str, Accuracy], ...]:
    unique_ids(tables, ("range",), findings)
    ranges = []
    for index, table in enumerate(tables):
        own = {key: value for key, value in table.items() if key != "id"}
        # A range that states a limit of its own states all of it; what is wrong in [accuracy] is reported there only.
        left = _LIMITS if own.keys() & _LIMITS else frozenset()
        kept = {k: v for k, v in base.items() if k not in left and not findings.broken("accuracy", k)}
        ranges.append((table.get("id", ""), _accuracy({**kept, **own}, ("range", index), findings)))
    return tuple(ranges)


_LIMITS: Final = frozenset({"limit_k", "limit_relative"})


def _dead_pixels(table: Mapping[str, Any], optics: Optics, findings: Findings) -> tuple[tuple[int, int], ...]:
    dead = table.get("dead_px", [])
    for index, (x, y) in enumerate(dead):
        if optics.size_px and (x >= optics.size_px[0] or y >= optics.size_px[1]):
            size = f"{optics.size_px[0]} × {optics.size_px[1]}"
            loc: Loc = ("pixels", "dead_px", index)
            findings.error(loc, "lies outside the image", found=show([x, y]), wanted=f"[x, y] inside {size}")
    return tuple((x, y) for x, y in dead)
