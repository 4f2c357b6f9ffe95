"""Files that use every key of the formats, as plain documents and as folders on disk."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import tomlkit

BOARD: dict[str, Any] = {
    "schema": 1,
    "name": "Kestrel K7 (invented)",
    "coating": "none",
    "outline": {"width_mm": 244.0, "height_mm": 305, "thickness_mm": 1.6},
    "zone": [
        {
            "id": "ps-left",
            "name": "Power stages, left bank",
            "role": "power-stage",
            "side": "front",
            "polygon_mm": [[14, 210], [30, 210], [30, 280], [14, 280]],
            "exclude": [{"circle_mm": [20, 240, 2]}, {"rect_mm": [25, 260, 2, 3]}],
            "height_mm": 0.8,
            "emissivity": 0.93,
            "u_emissivity": 0.02,
            "surface": "bare part",
            "cover": "bare",
            "measures": "case",
            "reflected_degc": 24.0,
            "u_reflected_k": 1.5,
            "limit_degc": 105.0,
            "limit_kind": "case",
            "limit_source": "part data sheet, revision B",
        },
        {"id": "chip", "circle_mm": [120.5, 150, 11], "material": "epoxy package", "u_emissivity": 0.04},
        {"id": "behind", "side": "rear", "rect_mm": [14, 210, 16, 70], "material": "Solder Mask", "cover": "obscured"},
        {"id": "plain", "rect_mm": [200, 20, 30, 17]},
    ],
    "site": [
        {
            "id": "tc1",
            "x_mm": 22.0,
            "y_mm": 245.0,
            "side": "rear",
            "type": "T",
            "class": 2,
            "wire_mm": 0.13,
            "attachment": "polyimide tape",
            "footprint_mm": 4.0,
            "cover_emissivity": 0.95,
        }
    ],
    "mark": [
        {"id": "hole-a", "x_mm": 10.16, "y_mm": 6.35},
        {"id": "hole-b", "x_mm": 233.8, "y_mm": 6.35},
        {"id": "hole-c", "x_mm": 233.8, "y_mm": 298.0},
        {"id": "hole-d", "x_mm": 10.16, "y_mm": 298.0},
    ],
    "reference": [
        {"id": "plate", "px": [30, 20, 9.5], "temperature_degc": 40.0, "u_k": 0.3, "emissivity": 0.95},
        {
            "id": "block",
            "px": [600.0, 20, 9.5],
            "side": "rear",
            "temperature_degc": 70,
            "u_k": 0.2,
            "emissivity": 0.96,
            "u_emissivity": 0.01,
        },
    ],
}

CAMERA: dict[str, Any] = {
    "schema": 1,
    "name": "bench camera (invented)",
    "signal": {
        "unit": "K",
        "scale": 0.01,
        "offset": -0.5,
        "emissivity_set": 0.95,
        "reflected_set_degc": 21.0,
        "transmission_set": 0.9,
        "window_set_degc": 22.0,
    },
    "raw": {"width": 640, "height": 512, "dtype": "uint16", "byte_order": "big", "skip_bytes": 8},
    "optics": {
        "size_px": [640, 512],
        "focal_px": 812.0,
        "principal_px": [319.5, 255.5],
        "distortion": [0.1, 0, 0.0, 0.0, 0.0],
        "blur_px": 0.8,
    },
    "band": {"lower_um": 7.5, "upper_um": 13.5},
    "accuracy": {
        "limit_k": 2.0,
        "limit_relative": 0.02,
        "repeatability_k": 0.1,
        "noise_k": 0.05,
        "range_degc": [-20.0, 150],
        "warm_up_min": 20.0,
    },
    "range": [{"id": "high", "limit_k": 4.0, "range_degc": [100, 400]}, {"id": "low", "noise_k": 0.2}],
    "pixels": {"dead_px": [[12, 40], [639, 511]]},
}

STUDY: dict[str, Any] = {
    "schema": 1,
    "title": "Spring mid-range boards (invented)",
    "camera": "camera.toml",
    "reference_ambient_degc": 21.0,
    "ambient_tolerance_k": 1.0,
    "negligible_k": 3.0,
    "reflected_degc": 22.0,
    "u_reflected_k": 3,
    "utc_offset": "-03:30",
    "scale_degc": [20, 95.5],
    "setup": {"cooler": "tower", "fans": 3},
    "board": [
        {
            "id": "k7",
            "file": "boards/k7.toml",
            "price": 240.0,
            "currency": "USD",
            "price_date": "2026-03-01",
            "batch": "spring",
        }
    ],
    "load": [
        {
            "id": "stock",
            "description": "all-core render",
            "duration_min": 60.0,
            "intended_power_w": 372.0,
            "power_point": "wall",
            "power_tolerance_percent": 1.5,
            "clock_tolerance_ghz": 0.1,
        }
    ],
    "run": [
        {
            "id": "first",
            "board": "k7",
            "load": "stock",
            "side": "front",
            "heating": "k7-1",
            "session": "monday",
            "mount": "m1",
            "frames": "frames/k7-*.tiff",
            "corners_px": [[80, 430], [560, 432], [556, 60], [84, 58]],
            "top": "up",
            "ambient_degc": 21.3,
            "u_ambient_k": 0.2,
            "reflected_degc": 23.5,
            "transmission": 0.9,
            "u_transmission": 0.01,
            "window_degc": 25.0,
            "emissivity_set": 0.97,
            "power_w": 371.0,
            "sustained_clock_ghz": 4.8,
            "camera_on_min": 35.0,
            "cold_frame": "frames/cold-*.tiff",
            "range": "high",
            "replaces": "k7-stock-rear",
            "setup": {"fans": 4, "quiet": True},
            "notes": "straight on",
            "photo": "photos/k7.jpg",
            "photo_corners_px": [[310, 1650], [2240, 1662], [2228, 240], [322, 228]],
            "photo_top": "left",
            "photo_opacity": 0.25,
        },
        {
            "board": "k7",
            "load": "stock",
            "side": "rear",
            "frames": "frames/rear.tiff",
            "points_px": {"hole-a": [5, 6], "hole-b": [7.5, 8], "hole-c": [9, 10], "hole-d": [11, 12]},
            "rejected": "fan fell off",
            "photo": "photos/k7.jpg",
            "photo_points_px": {"hole-a": [5, 6], "hole-b": [7.5, 8], "hole-c": [9, 10], "hole-d": [11, 12]},
        },
        {
            "board": "k7",
            "load": "stock",
            "side": "rear",
            "frames": "frames/rec-*.tiff",
            "placement": "auto",
            "readout": "last 20 frames",
            "photo": "photos/k7.jpg",
            "photo_placement": "auto",
            "top": "right",
            "frame_interval_s": 0.111,
            "power_point": "package",
        },
    ],
}

FRAMES = ("k7-10.tiff", "k7-2.TIFF", "rear.tiff", "rec-1.tiff", "rec-2.tiff", "cold-2.tiff", "cold-10.tiff")


def board(**changes: Any) -> dict[str, Any]:
    """A copy of the board document with some root keys replaced."""
    return {**copy.deepcopy(BOARD), **changes}


def with_zone(**changes: Any) -> dict[str, Any]:
    """A board of one zone, changed; a change to None takes the key away."""
    zone = {"id": "z", "rect_mm": [10, 20, 30, 40], **changes}
    return board(zone=[{key: value for key, value in zone.items() if value is not None}])


def camera(table: str = "", **changes: Any) -> dict[str, Any]:
    """A copy of the camera document with keys of one table replaced; a change to None takes the key away."""
    document = copy.deepcopy(CAMERA)
    place = document[table] if table else document
    place.update(changes)
    for key, value in changes.items():
        if value is None:
            del place[key]
    return document


def study(at: int | None = None, /, **changes: Any) -> dict[str, Any]:
    """A copy of the study document with keys of the root or of the run `at` replaced or, by None, taken away."""
    document = copy.deepcopy(STUDY)
    place = document if at is None else document["run"][at]
    place.update(changes)
    for key, value in changes.items():
        if value is None:
            del place[key]
    return document


def toml(document: dict[str, Any]) -> str:
    """Write a document as TOML."""
    return tomlkit.dumps(document)


def save(path: Path, document: dict[str, Any]) -> Path:
    """Write a document to a file as TOML."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(toml(document), encoding="utf-8")
    return path


def study_folder(folder: Path, document: dict[str, Any] | None = None) -> Path:
    """Write a study with its board, camera and (empty) frame files; give the study file."""
    save(folder / "boards" / "k7.toml", BOARD)
    save(folder / "camera.toml", CAMERA)
    (folder / "frames").mkdir(exist_ok=True)
    (folder / "photos").mkdir(exist_ok=True)
    (folder / "photos" / "k7.jpg").touch()
    for name in FRAMES:
        (folder / "frames" / name).touch()
    return save(folder / "study.toml", STUDY if document is None else document)
