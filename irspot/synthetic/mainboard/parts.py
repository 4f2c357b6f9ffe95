"""What is truly on an invented mainboard: bodies with powers, and bare metal."""

from __future__ import annotations

import numpy as np

from irspot.shapes import Circle, rectangle
from irspot.synthetic.mainboard.design import (
    ALL_LOADS,
    PITCH_MM,
    PROCESSOR_W,
    Box,
    Design,
    Powers,
    chipset_box,
    holes,
    inductor_w,
    left_start,
    stage_w,
    storage_box,
    top_start,
)
from irspot.synthetic.parts import Part, Patch


def parts(design: Design, random: np.random.Generator) -> list[Part]:
    """All bodies of a board, with the emissivities its board file states.

    Parameters
    ----------
    design : Design
    random : Generator
        For the spread from part to part.
    """
    return [*_power_parts(design, random), *_other_parts(design), *_passive_parts(design)]


def _even(watts: float) -> Powers:
    """The same power under every load."""
    return tuple((load, watts) for load in ALL_LOADS)


def _power_parts(design: Design, random: np.random.Generator) -> list[Part]:
    """Stages, inductors and capacitors of both banks, with a spread of a few per cent from part to part."""
    bank: list[Part] = []
    for index in range(design.left):
        y = left_start(design) + index * PITCH_MM
        bank.append(_stage(design, f"ps-left-part{index}", (30.0, y + 1.5, 5.0, 6.0), random))
        bank.append(_inductor(design, f"ind-left-part{index}", (43.0, y + 0.5, 8.0, 8.0)))
        bank.append(_can(f"can-left{index}", 58.0, y + 4.5))
    for index in range(design.top):
        x, h = top_start(design) + index * PITCH_MM, design.height_mm
        bank.append(_stage(design, f"ps-top-part{index}", (x + 1.5, h - 23.5, 6.0, 5.0), random))
        bank.append(_inductor(design, f"ind-top-part{index}", (x + 0.5, h - 42.0, 8.0, 8.0)))
        bank.append(_can(f"can-top{index}", x + 4.5, h - 49.0))
    return bank


def _stage(design: Design, name: str, box: Box, random: np.random.Generator) -> Part:
    spread = 1.0 + 0.03 * random.standard_normal()
    return Part(
        name,
        rectangle(*box),
        height_mm=0.8,
        emissivity=0.93,
        power_w=tuple((load, spread * stage_w(design, load)) for load in ALL_LOADS),
        k_per_w=design.case_k_per_w,
        hot_at=(0.42, 0.55),
        edge_share=0.5,
    )


def _inductor(design: Design, name: str, box: Box) -> Part:
    return Part(
        name,
        rectangle(*box),
        height_mm=5.0,
        emissivity=0.90,
        power_w=tuple((load, inductor_w(design, load)) for load in ALL_LOADS),
        into_board=0.7,
        k_per_w=34.0,
        edge_share=0.75,
    )


def _can(name: str, x: float, y: float) -> Part:
    """An electrolytic capacitor: its bare aluminium top mirrors the cool room."""
    return Part(name, Circle(x, y, 3.2), height_mm=9.0, emissivity=0.18, follow=0.85)


def _other_parts(design: Design) -> list[Part]:
    """Parts with a power of their own beside the processor's supply."""
    h = design.height_mm
    x, y, wide, tall = chipset_box(design)
    block_w = tuple(PROCESSOR_W.items())
    controller_w = _even(design.controller_w)
    return [
        Part("water-block", rectangle(84, h - 120, 56, 56), 20.0, 0.35, "front", block_w, 0.05, 0.09, follow=0.1),
        Part(
            "chipset",
            rectangle(x, y, wide, tall),
            8.0,
            0.84,
            power_w=_even(design.chipset_w),
            into_board=0.45,
            k_per_w=1.6,
            edge_share=0.85,
        ),
        Part("screw", Circle(x + 6.0, y + tall - 6.0, 3.2), 8.6, 0.22),
        Part(
            "m2",
            rectangle(*storage_box(design)),
            3.0,
            0.92,
            power_w=_even(design.storage_w),
            into_board=0.5,
            k_per_w=7.5,
            hot_at=(0.2, 0.5),
            edge_share=0.35,
            follow=0.8,
        ),
        Part("lan", rectangle(24, h - 156, 9, 9), 0.9, 0.90, power_w=_even(0.9), k_per_w=4.0, edge_share=0.7),
        Part("memory-supply", rectangle(217, h - 103, 6, 6), 0.9, 0.92, power_w=_even(0.8), k_per_w=3.0),
        Part("super-io", rectangle(224, 14, 10, 10), 1.0, 0.92, power_w=_even(0.35), k_per_w=3.0, edge_share=0.8),
        Part("audio", rectangle(22, 26, 7, 7), 0.9, 0.92, power_w=_even(0.3), k_per_w=3.0, edge_share=0.8),
        Part("rear-controller", rectangle(57, h - 148, 7, 7), 0.9, 0.93, "rear", controller_w, k_per_w=4.0),
        *(_module(index, h) for index in range(4)),
    ]


def _module(index: int, board_height_mm: float) -> Part:
    """A memory module seen on edge."""
    return Part(
        f"memory-part{index}",
        rectangle(168.0 + 10.0 * index, board_height_mm - 149.0, 4.0, 131.0),
        31.0,
        0.90,
        power_w=(("stock", 1.6), ("overclock", 2.4)),
        into_board=0.4,
        k_per_w=9.0,
        hot_at=(0.5, 0.45),
        edge_share=0.55,
        follow=0.6,
    )


def _passive_parts(design: Design) -> list[Part]:
    h = design.height_mm
    slots = (45.0, 20.0) if design.small else (100.0, 78.0, 56.0, 34.0, 12.0)
    return [
        *(Part(f"slot{at:g}", rectangle(40, at, 89, 7.5), 11.0, 0.94, follow=0.75) for at in slots),
        *(
            Part(f"memory-slot{index}", rectangle(166.8 + 10 * index, h - 152, 6.4, 137), 8.0, 0.94, follow=0.8)
            for index in range(4)
        ),
        *(
            Part(f"jacks{start:g}", rectangle(0, h - start, 18, 31), 28.0, 0.25, follow=0.4)
            for start in (128.0, 88.0, 46.0)
        ),
        Part("supply-plug", rectangle(232.5, h - 125, 9.5, 52), 12.0, 0.94, follow=0.7),
        Part("processor-plug", rectangle(44, h - 13, 18, 10), 12.0, 0.94, follow=0.8),
        Part("coin-cell", Circle(148.0, 40.0, 10.0), 3.5, 0.2, follow=0.9),
        *(Part(f"drive-plug{index}", rectangle(229, 46 + 16 * index, 14, 13), 8.0, 0.94) for index in range(2)),
        Part("backplate", rectangle(74, h - 132, 76, 80), 2.0, 0.88, "rear", follow=0.7),
    ]


def patches(design: Design) -> tuple[Patch, ...]:
    """Bare metal: copper rings about the holes on both sides, and rows of solder joints behind sockets and slots."""
    h = design.height_mm
    rings = [Patch(Circle(x, y, 4.6), 0.12, side) for x, y in holes(design).values() for side in ("front", "rear")]
    rows = [Patch(rectangle(168 + 10 * index, h - 150, 4, 133), 0.5, "rear") for index in range(4)]
    slots = (45.0, 20.0) if design.small else (100.0, 78.0, 56.0, 34.0, 12.0)
    rows += [Patch(rectangle(41, at + 1, 87, 5), 0.5, "rear") for at in slots]
    rows += [Patch(rectangle(234, h - 124, 7, 50), 0.45, "rear"), Patch(rectangle(46, h - 12, 14, 8), 0.45, "rear")]
    rows += [Patch(rectangle(3, h - start + 3, 12, 25), 0.55, "rear") for start in (128.0, 88.0, 46.0)]
    return (*rings, *rows)
