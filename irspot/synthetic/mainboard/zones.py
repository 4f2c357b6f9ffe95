"""The model an invented mainboard's board file states: zones and thermocouple sites."""

from __future__ import annotations

from dataclasses import replace

from irspot.board import Limit, Site, Zone
from irspot.files.materials import MATERIALS
from irspot.shapes import Circle, rectangle
from irspot.synthetic.mainboard.design import (
    PITCH_MM,
    Design,
    chipset_box,
    left_start,
    storage_box,
    top_start,
)


def zones(design: Design) -> tuple[Zone, ...]:
    """All zones a careful board file would have, with the emissivities it would state."""
    names = dict(design.zone_names)
    usual = (*_stage_zones(design), *_front_zones(design), *_rear_zones(design))
    return tuple(replace(zone, name=names.get(zone.id, zone.name)) for zone in usual)


def _stage_zones(design: Design) -> tuple[Zone, ...]:
    left, top, h = left_start(design), top_start(design), design.height_mm
    stage = Zone(
        "",
        rectangle(0, 0, 1, 1),
        role="power-stage",
        height_mm=0.8,
        emissivity=0.93,
        u_emissivity=0.02,
        surface="bare part, moulding compound",
        measures="case",
        limit=Limit(105.0, "case", "part data sheet (invented), revision B"),
    )
    inductor = Zone(
        "",
        rectangle(0, 0, 1, 1),
        role="inductor",
        height_mm=5.0,
        emissivity=0.90,
        u_emissivity=0.03,
        surface="pressed ferrite powder",
        measures="case",
        limit=Limit(125.0, "surface", "part data sheet (invented)"),
    )
    left_length, top_length = design.left * PITCH_MM + 3.0, design.top * PITCH_MM + 3.0
    return (
        replace(
            stage, id="ps-left", name="Power stages, left bank", shape=rectangle(27.5, left - 1.5, 10.0, left_length)
        ),
        replace(stage, id="ps-top", name="Power stages, top bank", shape=rectangle(top - 1.5, h - 26, top_length, 10)),
        replace(
            inductor,
            id="ind-left",
            name="Inductors left, 0.22 µH",
            shape=rectangle(43.0, left + 0.5, 8.0, left_length - 4.0),
        ),
        replace(
            inductor,
            id="ind-top",
            name="Inductors top, 0.22 µH",
            shape=rectangle(top + 0.5, h - 42.0, top_length - 4.0, 8.0),
        ),
    )


def _front_zones(design: Design) -> tuple[Zone, ...]:
    h = design.height_mm
    x, y, wide, tall = chipset_box(design)
    screw = Circle(x + 6.0, y + tall - 6.0, 3.5)
    return (
        Zone(
            "chipset",
            rectangle(x, y, wide, tall),
            name="Chipset heatsink",
            role="chipset",
            exclude=(screw,),
            height_mm=8.0,
            emissivity=MATERIALS["anodised aluminium"].emissivity,
            u_emissivity=MATERIALS["anodised aluminium"].u_emissivity,
            material="anodised aluminium",
            cover="heatsink",
            measures="heatsink",
        ),
        # Labels and moulding of many colours: nobody measured their emissivity.
        Zone(
            "memory",
            rectangle(166.0, h - 150.0, 38.0, 133.0),
            name="Memory modules",
            role="memory",
            height_mm=31.0,
            emissivity_assumed=True,
        ),
        Zone(
            "m2",
            rectangle(*storage_box(design)),
            name="M.2 drive, top side",
            role="storage",
            height_mm=3.0,
            emissivity=0.92,
            u_emissivity=0.02,
            surface="paper label",
            measures="case",
            limit=Limit(80.0, "surface", "common practice"),
        ),
        Zone(
            "lan",
            rectangle(24.0, h - 156.0, 9.0, 9.0),
            name="Network controller",
            role="controller",
            height_mm=0.9,
            emissivity_assumed=True,
            measures="case",
        ),
    )


def _rear_zones(design: Design) -> tuple[Zone, ...]:
    left, top, h = left_start(design), top_start(design), design.height_mm
    x, y, wide, tall = chipset_box(design)
    mask = Zone(
        "",
        rectangle(0, 0, 1, 1),
        side="rear",
        emissivity=MATERIALS["solder mask"].emissivity,
        u_emissivity=MATERIALS["solder mask"].u_emissivity,
        material="solder mask",
        measures="board",
        limit=Limit(105.0, "board", "laminate data sheet (invented), continuous operation"),
    )
    return (
        replace(
            mask,
            id="rear-ps-left",
            name="Rear, left power stages",
            role="power-stage-rear",
            shape=rectangle(26.0, left - 3.0, 13.0, design.left * PITCH_MM + 6.0),
        ),
        replace(
            mask,
            id="rear-ps-top",
            name="Rear, top power stages",
            role="power-stage-rear",
            shape=rectangle(top - 3.0, h - 27.5, design.top * PITCH_MM + 6.0, 13.0),
        ),
        replace(
            mask,
            id="rear-chipset",
            name="Rear of the chipset",
            role="chipset-rear",
            shape=Circle(x + wide / 2.0, y + tall / 2.0, 18.0),
        ),
        Zone(
            "rear-controller",
            rectangle(57.0, h - 148.0, 7.0, 7.0),
            name="Phase controller, rear",
            role="controller",
            side="rear",
            height_mm=0.9,
            emissivity=0.93,
            u_emissivity=0.02,
            surface="bare part, moulding compound",
            measures="case",
        ),
    )


def sites(design: Design) -> tuple[Site, ...]:
    """Thermocouple sites behind a middle stage of each bank."""
    left = left_start(design) + (design.left // 2) * PITCH_MM + PITCH_MM / 2.0
    top = top_start(design) + (design.top // 2) * PITCH_MM + PITCH_MM / 2.0
    bead = Site("tc1", 32.5, left, "rear", "K", 2, 0.13, "polyimide tape", 4.0)
    return (bead, replace(bead, id="tc2", x_mm=top, y_mm=design.height_mm - 21.0))
