"""What the conversions cost for one 640 x 512 frame, against one ``numpy.interp`` with a table of 4,096 entries.

Run by hand: ``python tests/benchmarks/bench_radiometry.py``. Every figure is the best of many repeats in one thread;
"with OpenCV" and "numpy alone" are the two ways of `irspot.radiometry.gather`, which give the same bits.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from irspot.camera import Band, Camera, Settings, Signal
from irspot.frame import Frame
from irspot.radiometry import apparent_temperature, radiance_temperature, stored_to_surface, surface_temperature

SHAPE = (512, 640)
BAND = Band(8.0, 14.0)
UNIFORM = {"emissivity": 0.93, "reflected_degc": 23.0}


@dataclass(frozen=True)
class Measured:
    """One line of the table."""

    what: str
    target: str
    best_ms: float
    ratio: float


def best_ms(run: Callable[[], object], repeats: int = 60) -> float:
    """Shortest of many runs, in ms."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        run()
        times.append(time.perf_counter() - start)
    return 1e3 * min(times)


def smooth_frame(rng: np.random.Generator) -> np.ndarray:
    """A board-like scene, 22 to 115 °C, with a camera's noise."""
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    scene = np.full(SHAPE, 22.0)
    for cx, cy, height, width in ((200, 300, 60, 63), (450, 150, 35, 16), (90, 90, 20, 110), (520, 420, 25, 9)):
        scene += height * np.exp(-((x - cx) ** 2 + (y - cy) ** 2) / (2.0 * width**2))
    return (scene + 0.05 * rng.standard_normal(SHAPE)).astype(np.float32)


def frames(rng: np.random.Generator) -> dict[str, np.ndarray]:
    """The two kinds of frame: neighbours alike, and neighbours unlike."""
    return {"smooth": smooth_frame(rng), "random": rng.uniform(-20.0, 150.0, SHAPE).astype(np.float32)}


def interp_ms(values: np.ndarray) -> float:
    """The yardstick: one numpy.interp over the same pixels."""
    degc = np.linspace(-60.0, 600.0, 4096)
    table = apparent_temperature(degc, emissivity=0.5, reflected_degc=23.0, band=BAND)
    return best_ms(lambda: np.interp(values, degc, table))


def lines(name: str, degc: np.ndarray, rng: np.random.Generator) -> list[Measured]:
    """Measure every conversion on one frame."""
    yardstick = interp_ms(degc)
    camera = Camera(signal=Signal(unit="K", scale=0.01), band=BAND)
    words = Frame(np.round((degc + 273.15) * 100.0).astype(np.uint16), camera, "words")
    kelvins = Frame(degc + np.float32(273.15), Camera(signal=Signal(unit="K"), band=BAND), "kelvins")
    corrected = Frame(degc, Camera(signal=Signal(settings=Settings(0.95, 22.0)), band=BAND), "corrected")
    emissivity = rng.uniform(0.3, 0.95, SHAPE).astype(np.float32)
    out = np.empty(SHAPE, np.float32)
    double = degc.astype(np.float64)
    runs: list[tuple[str, float | None, Callable[[], object]]] = [
        (
            "float32, emissivity per pixel → surface",
            0.5,
            lambda: surface_temperature(degc, emissivity=emissivity, reflected_degc=23.0, band=BAND, out=out),
        ),
        ("float32, uniform → surface", 0.5, lambda: surface_temperature(degc, band=BAND, out=out, **UNIFORM)),
        ("uint16, uniform → surface (table reused)", 0.05, lambda: stored_to_surface(words, out=out, **UNIFORM)),
        ("uint16 → radiance temperature", 0.05, lambda: radiance_temperature(words)),
        ("float32 kelvins → radiance temperature", 0.05, lambda: radiance_temperature(kelvins)),
        ("float32, settings undone", 0.5, lambda: radiance_temperature(corrected)),
        ("float64, uniform → surface (exact way)", None, lambda: surface_temperature(double, band=BAND, **UNIFORM)),
    ]
    measured = [Measured(f"{name}: numpy.interp, 4,096 entries", "", yardstick, 1.0)]
    for what, target, run in runs:
        run()
        took = best_ms(run)
        measured.append(Measured(f"{name}: {what}", "" if target is None else f"{target:.2f}", took, took / yardstick))
    return measured


def print_table(title: str) -> None:
    """Print one table: both frames."""
    rng = np.random.default_rng(20260301)
    print(f"\n{title}\n{'640 x 512 frame':<58}{'best ms':>9}{'ratio':>8}{'at most':>9}")
    for name, degc in frames(rng).items():
        for line in lines(name, degc, rng):
            print(f"{line.what:<58}{line.best_ms:>9.3f}{line.ratio:>8.3f}{line.target:>9}")


def print_building() -> None:
    """Print what the first use costs in a fresh process."""
    code = (
        "import time, numpy; from irspot.camera import Band; a = time.perf_counter()\n"
        "from irspot.radiometry import band_table; b = time.perf_counter()\n"
        "t = band_table(Band()); c = time.perf_counter(); t.forward(50.0); d = time.perf_counter()\n"
        "print(1e3 * (b - a), 1e3 * (c - b), 1e3 * (d - c))"
    )
    runs = [subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True) for _ in range(9)]
    least = np.min([[float(number) for number in run.stdout.split()] for run in runs], axis=0)
    print("\nfirst use (best of 9 fresh processes)                      best ms  at most")
    for what, took, target in zip(
        ("import irspot.radiometry, after numpy", "tables of the default band", "... and for float32 frames"),
        least,
        ("", "5", ""),
        strict=True,
    ):
        print(f"{what:<58}{took:>8.2f}{target:>9}")


if __name__ == "__main__":
    print_table("numpy alone (OpenCV not loaded)")
    import cv2

    cv2.setNumThreads(1)
    print_table(f"with OpenCV {cv2.__version__} loaded, one thread")
    print_building()
