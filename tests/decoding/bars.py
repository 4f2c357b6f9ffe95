"""Rendered frames for the tests of bars, and how a found bar is judged against the truth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from irspot.color_picture import Bar, End, Rgb
from irspot.synthetic.color_frames import ColorFrame, decoded, encode, render, resized
from irspot.synthetic.color_scenes import SIZES, board_scene, parts_scene, random_scale, random_style
from irspot.synthetic.color_style import ColorStyle

KINDS = ("png", "jpeg 85", "jpeg 70", "resized")


@dataclass(frozen=True)
class Sample:
    rgb: Rgb
    box: tuple[float, ...]
    low_end: End
    slack_px: float


def scene_of(seed: int, size: tuple[int, int]) -> np.ndarray:
    return board_scene(seed % 16, size, seed=seed) if seed % 2 else parts_scene(seed, size).degc


def frame_of(seed: int) -> tuple[ColorStyle, ColorFrame]:
    size = SIZES[seed % len(SIZES)]
    degc = scene_of(seed, size)
    style = random_style(seed, size)
    return style, render(degc, *random_scale(seed, degc), style)


def sample_of(seed: int, kind: str) -> Sample:
    _, frame = frame_of(seed)
    if kind == "resized":
        # True edges fall between pixels; to which of them a half belongs is nobody's to say.
        return Sample(resized(frame, 1.5).rgb, tuple(1.5 * edge for edge in frame.bar_px), frame.low_end, 1.0)
    rgb = frame.rgb if kind == "png" else decoded(encode(frame.rgb, "jpeg", int(kind[5:]), "420"))
    return Sample(rgb, tuple(map(float, frame.bar_px)), frame.low_end, 0.0)


def overlap(a: tuple[float, ...], b: tuple[float, ...]) -> float:
    """Intersection over union."""
    common = max(0.0, min(a[2], b[2]) - max(a[0], b[0])) * max(0.0, min(a[3], b[3]) - max(a[1], b[1]))
    return common / ((a[2] - a[0]) * (a[3] - a[1]) + (b[2] - b[0]) * (b[3] - b[1]) - common)


def faults(bar: Bar, sample: Sample) -> list[str]:
    """Say what is wrong with a found bar: box, ends, direction."""
    box = bar.box_px
    first, last = (1, 3) if sample.low_end in ("top", "bottom") else (0, 2)
    length = sample.box[last] - sample.box[first]
    off = max(abs(box[first] - sample.box[first]), abs(box[last] - sample.box[last]))
    within = all(abs(found - true) <= sample.slack_px for found, true in zip(box, sample.box, strict=True))
    found = []
    if overlap(box, sample.box) < 0.9 and not (sample.slack_px and within):
        found.append("box")
    if off > 0.02 * length + sample.slack_px:
        found.append("ends")
    if bar.low_end != sample.low_end:
        found.append("direction")
    return found
