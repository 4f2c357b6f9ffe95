"""Colour-mapped pictures decoded, against the nearest of the bar's colours (a KD-tree) given the same bar.

Rendered scenes of known truth (640 x 480, parts 8 to 40 px across, a bar of 336 px), seven colour maps, five formats:
RMS and 99th percentile of the error, error of the maximum of every hot part (at least 0.35 of the span), all in % of
the span; the share of pixels within two of their own standard uncertainties; then what overlays do, and the time taken.

Run by hand:  python tests/benchmarks/bench_decoding.py [number of scenes, 8 by default]
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.spatial import cKDTree

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from irspot.color_wish import BarScale
from irspot.decoding.decode import decode_picture
from irspot.decoding.find_bar import find_bar
from irspot.decoding.known_bar import KnownBar
from irspot.decoding.picture import picture_of, read_picture
from irspot.synthetic.color_frames import encode
from irspot.synthetic.color_style import BLACK, WHITE, ColorStyle, Crosshair, Logo, OverlayText, Shade
from tests.decoding.reread_frames import (
    FORMATS,
    MAPS,
    Reread,
    reread,
    scene_frame,
    true_bar,
)
from tests.decoding.test_decode import quantisation_floor
from tests.decoding.test_overlays import wrong_and_lost

FIRST_SEED = 1000
RMS_TARGETS = {"JPEG 95 4:4:4": 0.25, "JPEG 85 4:2:0": 0.32, "JPEG 70 4:2:0": 0.40}
REPEATS = 9


@dataclass(frozen=True)
class Errors:
    """What one decoder makes of all scenes of one map and format, % of span."""

    rms: float
    p99: float
    zone_mean: float
    zone_bias: float
    zone_worst: float

    @classmethod
    def of(cls, made: list[Reread]) -> Errors:
        errors = np.concatenate([each.error_percent for each in made])
        zones = np.array([error for each in made for error in each.hottest_errors()])
        return cls(
            float(np.sqrt(np.mean(errors**2))),
            float(np.quantile(np.abs(errors), 0.99)),
            float(np.mean(np.abs(zones))),
            float(np.mean(zones)),
            float(np.abs(zones).max()),
        )


def by_nearest_color(made: Reread) -> Reread:
    """Decode the same picture by the nearest of its bar's colours, at the same pixels."""
    bar = true_bar(made.picture, made.frame)
    index = cKDTree(bar.path_rgb).query(made.picture.rgb.reshape(-1, 3).astype(np.float64))[1]
    place = ((index + 0.5) / len(bar.path_rgb)).reshape(made.picture.shape)
    degc = (made.frame.low_degc + place * made.span).astype(np.float32)
    known = np.isfinite(made.decoded.temperature_degc)
    return replace(made, decoded=replace(made.decoded, temperature_degc=np.where(known, degc, np.float32(np.nan))))


def accuracy(scenes: int) -> None:
    """Print the table of errors, as the guide has it."""
    print("| format | map | RMS | target | 99 % | hot maxima | bias | worst | in 2 u |")
    print("|---|---|---|---|---|---|---|---|---|")
    for how in FORMATS:
        for cmap in MAPS:
            made = [reread(FIRST_SEED + k, ColorStyle(cmap=cmap), how) for k in range(scenes)]
            ours, theirs = Errors.of(made), Errors.of([by_nearest_color(each) for each in made])
            target = RMS_TARGETS.get(how)
            if how == "PNG":
                target = 1.1 * float(np.mean([_floor(cmap, each) for each in made]))
            cells = [
                how,
                cmap,
                f"{ours.rms:.3f} ({theirs.rms:.2f})",
                "" if target is None else f"{target:.3f}",
                f"{ours.p99:.2f} ({theirs.p99:.2f})",
                f"{ours.zone_mean:.2f} ({theirs.zone_mean:.2f})",
                f"{ours.zone_bias:+.2f} ({theirs.zone_bias:+.2f})",
                f"{ours.zone_worst:.1f} ({theirs.zone_worst:.1f})",
                f"{np.mean([each.covered() for each in made]):.1%}",
            ]
            print(f"| {' | '.join(cells)} |", flush=True)


def _floor(cmap: str, made: Reread) -> float:
    return quantisation_floor(cmap, made.truth[made.clear], made.frame.low_degc, made.frame.high_degc)


def overlays() -> None:
    """Print what is read where something was drawn, and what is lost elsewhere."""
    kinds: dict[str, Callable[[int], tuple[object, ...]]] = {
        "white text, crosshairs": lambda k: (
            OverlayText("Max 71.4 °C", (60 + 40 * k, 40 + 30 * k), 12 + k),
            Crosshair((200 + 30 * k, 300 - 20 * k), arm_px=14, line_px=1 + k % 2),
        ),
        "white emblem": lambda k: (Logo((150 + 40 * k, 330 - 20 * k), 24 + 4 * k, WHITE),),
        "half-dark box": lambda k: (Shade((80 + 30 * k, 60 + 40 * k, 220 + 30 * k, 100 + 40 * k), BLACK, 0.5),),
    }
    print("\noverlaid pixels read wrongly by over 2 % of span / pixels lost elsewhere")
    print(f"{'':30s}" + "".join(f"{kind:>26s}" for kind in kinds))
    for how in ("PNG", "JPEG 85 4:2:0", "JPEG 70 4:2:0"):
        for cmap in MAPS:
            cells = []
            for draw in kinds.values():
                shares = np.array([_covered(cmap, draw(k), FIRST_SEED + k, how) for k in range(4)])
                cells.append("{:12.1%} / {:.3%}".format(*shares.mean(axis=0)))
            print(f"{how:15s} {cmap:13s} " + "".join(f"{cell:>26s}" for cell in cells), flush=True)


def _covered(cmap: str, drawn: tuple[object, ...], seed: int, how: str) -> tuple[float, float]:
    covered, _ = scene_frame(seed, ColorStyle(cmap=cmap, overlays=drawn))  # type: ignore[arg-type]
    plain, _ = scene_frame(seed, ColorStyle(cmap=cmap))
    return wrong_and_lost(covered, plain, how)


def best_ms(work: Callable[[], object]) -> float:
    """Best time of a call, ms."""
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times) * 1e3


def speed() -> None:
    """Print times of one 640 x 480 picture against one KD-tree query over the same pixels."""
    print(
        "\nms, best of", REPEATS, "(target: all <= 1, a video's picture <= 0.5 of the KD-tree's query over 256 colours)"
    )
    with tempfile.TemporaryDirectory() as folder:
        for how in ("PNG", "JPEG 85 4:2:0", "JPEG 70 4:2:0"):
            for cmap in ("inferno", "turbo", "gray"):
                _time_one(Path(folder) / "frame", how, cmap)


def _time_one(path: Path, how: str, cmap: str) -> None:
    frame, _ = scene_frame(FIRST_SEED, ColorStyle(cmap=cmap))
    path.write_bytes(encode(frame.rgb, **FORMATS[how]))  # type: ignore[arg-type]
    scale = BarScale.of_ends(frame.low_degc, frame.high_degc)
    picture = read_picture(path)
    bar = find_bar(picture.rgb)
    pixels = picture.rgb.reshape(-1, 3).astype(np.float64)
    tree = cKDTree(np.unique(bar.path_rgb, axis=0)[:256])
    shown = picture_of(picture.rgb, "", "420")
    known = KnownBar.of(shown, bar)

    def one_of_a_video() -> object:
        assert known.is_in(shown)
        return decode_picture(shown, known.bar, scale, path=known.path)

    query = best_ms(lambda: tree.query(pixels))
    reading = best_ms(lambda: read_picture(path))
    finding = best_ms(lambda: find_bar(picture.rgb))
    decoding = best_ms(lambda: decode_picture(picture, bar, scale))
    video = best_ms(one_of_a_video)
    total = reading + finding + decoding
    print(
        f"{how:15s} {cmap:10s} KD-tree {query:5.1f}   file {reading:4.1f}  bar {finding:5.1f}  decoding {decoding:5.1f}"
        f"  all {total:5.1f} ({total / query:.2f})   video {video:5.1f} ({video / query:.2f})",
        flush=True,
    )


def main() -> None:
    """Print all tables."""
    accuracy(int(sys.argv[1]) if len(sys.argv) > 1 else 8)
    overlays()
    speed()


if __name__ == "__main__":
    main()
