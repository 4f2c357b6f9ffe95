"""How often printed numbers are read, asked for, or read wrongly, over pictures drawn at random, and how long it takes.

Run by hand: ``python tests/benchmarks/bench_labels.py [count [first seed]]`` (twice 1,000 pictures by default, in one
thread), with the extra ``ocr`` installed. Pictures differ in size, colour map, bar, ticks, ink, plates, labels (2 to 5,
0 to 2 decimals, with and without unit), in what lies behind the labels, and in compression; the second half is drawn
with other faces than the first. "Legible" are those whose digits are at least 9 px high and lie within the picture;
they include labels over hot parts of their own colour, and black ink on dark scenes.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from functools import lru_cache
from pathlib import Path

import matplotlib
import numpy as np
from PIL import ImageFont

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from irspot.decoding.label_reading import LEAST_DIGITS_PX
from irspot.decoding.labels import printed_scale
from irspot.decoding.ocr import engine
from irspot.errors import BarRefused
from irspot.opencv import load_cv2
from irspot.synthetic import color_ink
from tests.decoding.labelled_frames import Labelled, labelled, misread

FACES = (
    "DejaVuSansMono-Bold",
    "DejaVuSerif",
    "STIXGeneral",
    "STIXGeneralBol",
    "cmss10",
    "DejaVuSans-Oblique",
    "cmtt10",
)
FIRST_SEED = 20_000


def draw_with(face: str | None) -> None:
    """Have labels drawn in a face that matplotlib brings along, or in Pillow's own."""

    @lru_cache(maxsize=64)
    def font(size_px: int, bold: bool) -> object:
        if face is None:
            return ImageFont.load_default(size_px)
        path = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / f"{face}.ttf"
        return ImageFont.truetype(path, size_px, layout_engine=ImageFont.Layout.BASIC)

    color_ink._font = font  # type: ignore[assignment]


def outcome(case: Labelled) -> tuple[str, float]:
    """Read one picture's labels; say how that went and how long it took, ms."""
    start = time.perf_counter()
    try:
        printed = printed_scale(case.frame.rgb, case.bar)
    except BarRefused:
        return "asked", 1e3 * (time.perf_counter() - start)
    taken = 1e3 * (time.perf_counter() - start)
    wrong = misread(case, printed)
    if wrong:
        print(wrong)
    return "wrong" if wrong else "read", taken


def measure(what: str, seeds: range, faces: tuple[str | None, ...] | None) -> None:
    """Print a line of the table."""
    counts: Counter[tuple[str, str]] = Counter()
    taken = []
    for seed in seeds:
        if faces is not None:
            draw_with(faces[seed % len(faces)])
        case = labelled(seed)
        kind = "legible" if case.whole and case.digits_px >= LEAST_DIGITS_PX else "small or cut"
        result, milliseconds = outcome(case)
        counts[kind, result] += 1
        taken.append(milliseconds)
    legible = sum(count for (kind, _), count in counts.items() if kind == "legible")
    every = sum(counts.values())
    read = counts["legible", "read"] + counts["small or cut", "read"]
    wrong = counts["legible", "wrong"] + counts["small or cut", "wrong"]
    print(
        f"{what:<34}{every:>9}{100 * read / every:>8.1f} %{100 * counts['legible', 'read'] / legible:>13.1f} %"
        f"{wrong:>8}{np.median(taken):>10.0f}{np.quantile(taken, 0.95):>8.0f}"
    )


def main() -> None:
    """Measure and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    first = int(sys.argv[2]) if len(sys.argv) > 2 else FIRST_SEED
    load_cv2().setNumThreads(1)
    engine()
    print(f"{'pictures':<34}{'count':>9}{'read':>10}{'of legible':>15}{'wrong':>8}{'median ms':>10}{'p95':>8}")
    print(f"{'target':<34}{'':>9}{'high':>10}{'high':>15}{'0':>8}")
    measure("face of the demo's pictures", range(first, first + count), None)
    measure("eight other faces", range(first + count, first + 2 * count), (*FACES, None))


if __name__ == "__main__":
    main()
