"""Colour-mapped pictures with printed numbers, drawn at random, for tests and benchmarks."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from irspot.color_picture import Bar
from irspot.decoding.label_rules import tidy
from irspot.decoding.labels import PrintedScale
from irspot.synthetic.color_frames import ColorFrame, decoded, encode, render, resized
from irspot.synthetic.color_scenes import SIZES, parts_scene, random_style
from irspot.synthetic.color_style import ColorStyle


@dataclass(frozen=True, slots=True, eq=False)
class Labelled:
    """A picture with at least two numbers at its bar."""

    frame: ColorFrame
    style: ColorStyle

    @property
    def bar(self) -> Bar:
        """Its bar; labels are read without its colours."""
        return Bar(self.frame.bar_px, self.frame.low_end, np.zeros((2, 3)))

    @property
    def digits_px(self) -> int:
        """Height of the lowest label."""
        return min(label.box_px[3] - label.box_px[1] for label in self.frame.labels)

    @property
    def whole(self) -> bool:
        """Whether no label is cut off by the picture's edge."""
        rows, columns = self.frame.rgb.shape[:2]
        boxes = [label.box_px for label in self.frame.labels]
        return all(x0 >= 2 and y0 >= 2 and x1 <= columns - 2 and y1 <= rows - 2 for x0, y0, x1, y1 in boxes)


def labelled(seed: int) -> Labelled:
    """Draw one: ends below zero, around the room or far above, PNG or JPEG at 95, 85 or 70, some resized by 1.5."""
    rng = np.random.default_rng([seed, 77])
    size = SIZES[int(rng.integers(0, len(SIZES)))]
    style = next(s for s in (random_style(seed * 53 + k, size) for k in range(200)) if s.labels.count)
    degc = parts_scene(seed, size).degc
    kind = rng.random()
    if kind < 0.15:
        degc = degc - rng.uniform(25.0, 60.0)
    elif kind < 0.25:
        degc = degc * rng.uniform(1.5, 4.0)
    coldest, hottest = np.quantile(degc, [0.002, 0.999])
    span, decimals = max(hottest - coldest, 1.0), style.labels.decimals
    low = round(float(coldest + rng.uniform(-0.15, 0.05) * span), decimals)
    high = round(float(hottest + rng.uniform(-0.08, 0.25) * span), decimals)
    return Labelled(_packed(render(degc, low, high, style), rng), style)


def _packed(frame: ColorFrame, rng: np.random.Generator) -> ColorFrame:
    how = rng.random()
    if how < 0.2:
        frame = resized(frame, 1.5, "bilinear" if how < 0.15 else "nearest")
    if rng.random() < 0.3:
        return frame
    quality, chroma = int(rng.choice([95, 85, 70])), str(rng.choice(["444", "420"]))
    return replace(frame, rgb=decoded(encode(frame.rgb, "jpeg", quality, chroma)))  # type: ignore[arg-type]


def misread(case: Labelled, printed: PrintedScale) -> str:
    """Say what is wrong with what was read: a number that is not printed there, an end off by more than its bound."""
    frame = case.frame
    true = {tidy(label.text).removesuffix("°C") for label in frame.labels}
    off = (printed.scale.low_degc - frame.low_degc, printed.scale.high_degc - frame.high_degc)
    if set(printed.texts) <= true and max(map(abs, off)) <= printed.bound_k + 1e-9:
        return ""
    return f"wrong: {printed} for {sorted(true)}, {frame.low_degc} to {frame.high_degc}"
