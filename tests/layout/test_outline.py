"""Outlines of known geometry come out of Gerber and DXF files within the stated tolerance."""

from __future__ import annotations

import builtins
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from irspot.errors import FileInvalid, LibraryMissing
from irspot.layout.loops import FLAT_MM, arc_points, loops_of
from irspot.layout.outline import kind_of, read_outline
from irspot.shapes import signed_area
from tests.layout.drawings import AREA, HEIGHT, RADIUS, WIDTH, X0, Y0, dxf, gerber


def written(tmp_path: Path, name: str, text: str) -> Path:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


CASES = {
    "gerber": gerber(),
    "gerber in inches": gerber("inch"),
    "gerber region": gerber(region=True),
    "dxf": dxf(),
    "dxf in inches": dxf(1, per=25.4),
    "dxf polyline with a bulge": dxf(polyline=True),
}


@pytest.mark.parametrize("name", CASES)
def test_the_outline_is_the_one_drawn(name: str, tmp_path: Path) -> None:
    pytest.importorskip("gerbonara" if name.startswith("gerber") else "ezdxf")
    drawn = read_outline(written(tmp_path, "edge.txt", CASES[name]))
    assert drawn.outline.box_mm == pytest.approx((0.0, 0.0, WIDTH, HEIGHT), abs=1e-5)
    assert drawn.origin_mm == pytest.approx((X0, Y0), abs=1e-5)
    corners = drawn.outline.array_mm
    # An arc's chords lie inside it, by the tolerance at most: so does what they cut off of the area.
    missing = AREA - signed_area(corners)
    assert 0.0 < missing < FLAT_MM * RADIUS * np.pi / 2.0
    on_arc = corners[(corners[:, 0] > WIDTH - RADIUS + 1e-4) & (corners[:, 1] > HEIGHT - RADIUS + 1e-4)]
    away = np.hypot(*(on_arc - [WIDTH - RADIUS, HEIGHT - RADIUS]).T)
    assert len(on_arc) >= 5
    np.testing.assert_allclose(away, RADIUS, atol=1e-4)
    assert any("loops inside it (cut-outs, holes), left out: 1" in note for note in drawn.notes)


def test_an_arcs_chords_stand_off_by_no_more_than_the_tolerance() -> None:
    points = arc_points((5.0, 0.0), (-5.0, 0.0), (0.0, 0.0), clockwise=False)
    middles = 0.5 * (points[1:] + points[:-1])
    off = 5.0 - np.hypot(*middles.T)
    assert 0.5 * FLAT_MM < off.max() <= FLAT_MM
    assert points[:, 1].min() >= 0.0
    assert arc_points((5.0, 0.0), (-5.0, 0.0), (0.0, 0.0), clockwise=True)[:, 1].max() <= 0.0
    whole = arc_points((5.0, 0.0), (5.0, 0.0), (0.0, 0.0), clockwise=True)
    assert signed_area(whole[:-1]) == pytest.approx(-25.0 * np.pi, rel=0.01)


def test_lines_in_any_order_and_direction_make_a_loop() -> None:
    square = np.array([[0.0, 0.0], [8.0, 0.0], [8.0, 8.0], [0.0, 8.0]])
    edges = [np.array([square[i], square[(i + 1) % 4]]) for i in (2, 0, 3, 1)]
    edges[1] = edges[1][::-1]
    loops = loops_of([*edges, np.array([[20.0, 20.0], [30.0, 30.0]])])
    assert loops.largest is not None
    assert signed_area(loops.largest) == pytest.approx(64.0)
    assert (loops.inside, loops.beside, loops.open_ends) == (0, 0, 1)


def test_the_largest_of_several_loops_counts_and_the_others_are_said(tmp_path: Path) -> None:
    pytest.importorskip("ezdxf")
    small = dxf().replace("\n0\nENDSEC\n0\nEOF", "\n0\nCIRCLE\n8\nrail\n10\n200.0\n20\n0.0\n40\n5.0\n0\nENDSEC\n0\nEOF")
    notes = read_outline(written(tmp_path, "edge.dxf", small)).notes
    assert any("loops inside it (cut-outs, holes), left out: 1" in note for note in notes)
    assert any("smaller loops beside it, left out: 1" in note for note in notes)
    hole = read_outline(written(tmp_path, "edge.dxf", dxf()), "holes")
    assert hole.outline.box_mm[2:] == pytest.approx((8.0, 8.0), abs=0.05)


@pytest.mark.parametrize(
    ("text", "library", "says"),
    [
        (
            gerber(close=False, hole=False),
            "gerbonara",
            "draws no closed loop (found open lines: 1, the nearest two ends 5.000 mm",
        ),
        (gerber().replace("%MOMM*%\n", ""), "gerbonara", "cannot be read as Gerber"),
        (dxf(0), "ezdxf", "states no unit of length (found $INSUNITS = 0)"),
        (dxf(None), "ezdxf", "states no unit of length"),
        (dxf()[:120], "ezdxf", ""),
        ("hello", "ezdxf", "is no outline"),
        ("%FSLAX46Y46*%\n%MOMM*%\nM02*\n", "gerbonara", "draws no line"),
    ],
)
def test_what_is_no_outline_is_refused(text: str, library: str, says: str, tmp_path: Path) -> None:
    pytest.importorskip(library)
    with pytest.raises(FileInvalid) as refused:
        read_outline(written(tmp_path, "edge.txt", text))
    assert says in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_layer_that_is_not_there_is_named(tmp_path: Path) -> None:
    pytest.importorskip("ezdxf")
    with pytest.raises(FileInvalid, match="did you mean 'edge'"):
        read_outline(written(tmp_path, "edge.dxf", dxf()), "edges")


@pytest.mark.parametrize(("text", "library"), [(gerber(), "gerbonara"), (dxf(), "ezdxf")])
def test_a_missing_library_is_one_line_with_the_command(
    text: str, library: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usual = builtins.__import__

    def without(name: str, *args: Any, **kwargs: Any) -> Any:
        if name.split(".")[0] == library:
            raise ImportError(name)
        return usual(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(LibraryMissing) as missing:
        read_outline(written(tmp_path, "edge.txt", text))
    assert str(missing.value).endswith("pip install 'irspot[layout]'")
    assert "\n" not in str(missing.value)


def test_kinds_are_told_by_how_files_begin(tmp_path: Path) -> None:
    assert kind_of(written(tmp_path, "a", gerber())) == "gerber"
    assert kind_of(written(tmp_path, "a", "999\nmade by hand\n" + dxf())) == "dxf"
    assert kind_of(written(tmp_path, "a", "Ref,X,Y\n")) == ""
