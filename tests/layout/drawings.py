"""Outlines of known geometry, written as Gerber profile layers and DXF drawings by hand: a slot with round ends,
a rectangle with a round corner, a cut-out."""

from __future__ import annotations

import math

WIDTH, HEIGHT, RADIUS, HOLE = 100.0, 60.0, 10.0, 4.0
X0, Y0 = 25.0, -40.0
"""Lower-left corner of the rectangle; its upper right corner is round."""
AREA = WIDTH * HEIGHT - (1.0 - math.pi / 4.0) * RADIUS**2


def gerber(unit: str = "mm", *, region: bool = False, hole: bool = True, close: bool = True) -> str:
    """The profile in the syntax of RS-274X with an X2 attribute; coordinates of six decimals."""
    per = 1.0 if unit == "mm" else 25.4

    def xy(x: float, y: float) -> str:
        return f"X{round((x + X0) / per * 1e6):d}Y{round((y + Y0) / per * 1e6):d}"

    def ij(i: float, j: float) -> str:
        return f"I{round(i / per * 1e6):d}J{round(j / per * 1e6):d}"

    lines = ["%TF.FileFunction,Profile,NP*%", "%FSLAX46Y46*%", "%MOMM*%" if unit == "mm" else "%MOIN*%"]
    lines += ["%ADD10C,0.1*%", "G75*", "D10*"]
    lines += ["G36*"] if region else []
    lines += [xy(0.0, 0.0) + "D02*", "G01*", xy(WIDTH, 0.0) + "D01*", xy(WIDTH, HEIGHT - RADIUS) + "D01*", "G03*"]
    lines += [xy(WIDTH - RADIUS, HEIGHT) + ij(-RADIUS, 0.0) + "D01*", "G01*", xy(0.0, HEIGHT) + "D01*"]
    lines += [xy(0.0, 0.0 if close else 5.0) + "D01*"]
    lines += ["G37*"] if region else []
    if hole:
        lines += [xy(50.0 + HOLE, 20.0) + "D02*", "G02*", xy(50.0 + HOLE, 20.0) + ij(-HOLE, 0.0) + "D01*"]
    return "\n".join([*lines, "M02*", ""])


def dxf(insunits: int | None = 4, *, per: float = 1.0, polyline: bool = False) -> str:
    """The profile as a DXF drawing of group codes and values, R12 style; `per` is mm to its unit."""

    def point(code: int, x: float, y: float) -> list[str]:
        return [str(code), f"{(x + X0) / per:.9f}", str(code + 10), f"{(y + Y0) / per:.9f}"]

    def line(x0: float, y0: float, x1: float, y1: float) -> list[str]:
        return ["0", "LINE", "8", "edge", *point(10, x0, y0), *point(11, x1, y1)]

    head = ["0", "SECTION", "2", "HEADER", "9", "$ACADVER", "1", "AC1015"]
    head += [] if insunits is None else ["9", "$INSUNITS", "70", str(insunits)]
    head += ["0", "ENDSEC", "0", "SECTION", "2", "ENTITIES"]
    right, top = WIDTH, HEIGHT
    if polyline:
        # A bulge is the tangent of a quarter of the arc's angle.
        corners = [(0.0, 0.0, 0.0), (right, 0.0, 0.0), (right, top - RADIUS, math.tan(math.pi / 8.0))]
        corners += [(right - RADIUS, top, 0.0), (0.0, top, 0.0)]
        body = ["0", "LWPOLYLINE", "100", "AcDbEntity", "8", "edge", "100", "AcDbPolyline", "90", "5", "70", "1"]
        for x, y, bulge in corners:
            body += [*point(10, x, y), "42", f"{bulge:.12f}"]
    else:
        # Out of order and against each other's direction, as drawings are.
        body = [*line(0.0, 0.0, right, 0.0), *line(0.0, top, right - RADIUS, top), *line(0.0, top, 0.0, 0.0)]
        body += [*line(right, top - RADIUS, right, 0.0)]
        body += ["0", "ARC", "8", "edge", *point(10, right - RADIUS, top - RADIUS), "40", f"{RADIUS / per:.9f}"]
        body += ["50", "0.0", "51", "90.0"]
    body += ["0", "CIRCLE", "8", "holes", *point(10, 50.0, 20.0), "40", f"{HOLE / per:.9f}"]
    return "\n".join([*head, *body, "0", "ENDSEC", "0", "EOF", ""])
