"""A board's zones fitted onto another of its family lie where the known motion puts them, all their keys kept."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

from irspot.errors import FileInvalid
from irspot.files import read_board
from irspot.layout.plane import Plane
from irspot.workflow.zone_ground import GroundWish
from irspot.workflow.zones_command import make_zones
from irspot.workflow.zones_fit import FitJob, fit_zones
from irspot.workflow.zones_from import Misfit

TEMPLATE = """\
schema = 1
name = "Whimbrel W2"
[outline]
width_mm = 100.0
height_mm = 60.0
[[zone]]
id = "ps"
name = "Power stages"
role = "power-stage"
rect_mm = [10.0, 40.0, 8.0, 12.0]
exclude = [{ circle_mm = [14.0, 46.0, 1.0] }]
height_mm = 0.8
emissivity = 0.93
u_emissivity = 0.02
limit_degc = 105.0
limit_kind = "surface"
[[zone]]
id = "chip"
side = "rear"
circle_mm = [60.0, 20.0, 6.0]
[[site]]
id = "tc1"
x_mm = 14.0
y_mm = 50.0
side = "rear"
[[mark]]
id = "hole-a"
x_mm = 5.0
y_mm = 5.0
[[mark]]
id = "hole-b"
x_mm = 95.0
y_mm = 5.0
[[mark]]
id = "hole-c"
x_mm = 95.0
y_mm = 55.0
[[reference]]
id = "foil"
px = [10, 10, 4]
temperature_degc = 30.0
"""
TURN = 90.0
C, S = math.cos(math.radians(TURN)), math.sin(math.radians(TURN))
KNOWN = Plane(C, -S, 80.0, S, C, 10.0)
"""A quarter of a turn and a move: the other board stands upright and is larger."""
MARKS = {"hole-a": (5.0, 5.0), "hole-b": (95.0, 5.0), "hole-c": (95.0, 55.0)}


def other_board(marks: tuple[str, ...]) -> str:
    text = '# another board\nschema = 1\nname = "Whimbrel W3"\n[outline]\nwidth_mm = 90.0\nheight_mm = 120.0\n'
    for name in marks:
        x, y = KNOWN.at(*MARKS[name])
        text += f'[[mark]]\nid = "{name}"\nx_mm = {x!r}\ny_mm = {y!r}\n'
    return text


@pytest.fixture
def template(tmp_path: Path) -> Path:
    path = tmp_path / "w2.toml"
    path.write_text(TEMPLATE, encoding="utf-8")
    return path


def onto(tmp_path: Path, *marks: str) -> GroundWish:
    path = tmp_path / "w3.toml"
    path.write_text(other_board(marks), encoding="utf-8")
    return GroundWish(output=path)


def test_zones_follow_the_marks_that_both_boards_have(template: Path, tmp_path: Path) -> None:
    made = fit_zones(FitJob(template, onto(tmp_path, *MARKS), with_sites=True, with_marks=True))
    (tmp_path / "w3.toml").write_bytes(made.content)
    board, before = read_board(tmp_path / "w3.toml"), read_board(template)
    for zone, old in zip(board.zones, before.zones, strict=True):
        if zone.id == "ps":
            carried = KNOWN.carry(old.shape.array_mm)  # type: ignore[union-attr]
            np.testing.assert_allclose(sorted(zone.shape.array_mm.tolist()), sorted(carried.tolist()), atol=1e-8)  # type: ignore[union-attr]
            hole = zone.exclude[0]
            assert (hole.x_mm, hole.y_mm) == pytest.approx(KNOWN.at(14.0, 46.0))  # type: ignore[union-attr]
        for name in ("name", "role", "side", "height_mm", "emissivity", "u_emissivity", "limit"):
            assert getattr(zone, name) == getattr(old, name)
    assert board.zones[1].shape.radius_mm == pytest.approx(6.0)  # type: ignore[union-attr]
    assert (board.sites[0].x_mm, board.sites[0].y_mm) == pytest.approx(KNOWN.at(14.0, 50.0))
    assert len(board.marks) == 3, "marks that hold the fit stay as they are"
    assert "3 points: turned by 90.00°, scale 1.0000" in made.notes[0]
    assert made.warnings == ("references of w2.toml are not carried along: they belong to its frames",)


@pytest.mark.parametrize(
    "names", [("hole-a", "ps"), ("tc1", "upper-right", "CHIP"), ("hole-a", "hole-b", "hole-c", "chip")]
)
def test_named_points_may_be_marks_sites_zones_and_corners(
    names: tuple[str, ...], template: Path, tmp_path: Path
) -> None:
    places = {**MARKS, "ps": (14.0, 46.0), "tc1": (14.0, 50.0), "upper-right": (100.0, 60.0), "CHIP": (60.0, 20.0)}
    places["chip"] = places["CHIP"]
    points = tuple((name, *KNOWN.at(*places[name])) for name in names)
    made = fit_zones(FitJob(template, onto(tmp_path), points=points))
    shape = made.zones[0].shape
    np.testing.assert_allclose(np.mean(shape.array_mm, axis=0), KNOWN.at(14.0, 46.0), atol=1e-8)  # type: ignore[union-attr]


def test_a_pure_move_keeps_rectangles(template: Path, tmp_path: Path) -> None:
    points = (("hole-a", 6.1, 5.3), ("hole-c", 96.1, 55.3))
    made = fit_zones(FitJob(template, GroundWish(size_mm=(120.0, 70.0)), points=points))
    assert tomllib.loads(made.content.decode())["zone"][0]["rect_mm"] == pytest.approx([11.1, 40.3, 8.0, 12.0])


def test_some_zones_of_one_side_only(template: Path, tmp_path: Path) -> None:
    wish = onto(tmp_path, *MARKS)
    assert [zone.id for zone in fit_zones(FitJob(template, wish, side="rear")).zones] == ["chip"]
    assert [zone.id for zone in fit_zones(FitJob(template, wish, only=("P*",))).zones] == ["ps"]
    assert [zone.id for zone in fit_zones(FitJob(template, wish, leave_out=("ps",))).zones] == ["chip"]
    with pytest.raises(FileInvalid, match="none of the zones is wanted"):
        fit_zones(FitJob(template, wish, only=("x",)))


def test_what_does_not_fit_is_refused_with_what_to_try(template: Path, tmp_path: Path) -> None:
    with pytest.raises(FileInvalid, match=r"shares too few marks with the board \(found hole-a\); give --point"):
        fit_zones(FitJob(template, onto(tmp_path, "hole-a")))
    with pytest.raises(FileInvalid, match="has no 'hole-x', which --point names; did you mean 'hole-"):
        fit_zones(FitJob(template, onto(tmp_path), points=(("hole-x", 1.0, 2.0), ("hole-a", 3.0, 4.0))))
    wrong = (("hole-a", 5.0, 5.0), ("hole-b", 95.0, 5.0), ("hole-c", 95.0, 40.0))
    with pytest.raises(FileInvalid, match=r"cannot be fitted .*'hole-"):
        fit_zones(FitJob(template, onto(tmp_path), points=wrong))


def test_zones_beside_the_other_board_are_refused_and_shown(template: Path, tmp_path: Path) -> None:
    points = (("hole-a", 5.0, 5.0), ("hole-b", 95.0, 5.0))
    job = FitJob(template, GroundWish(output=tmp_path / "new.toml", size_mm=(100.0, 30.0)), points=points)
    with pytest.raises(Misfit, match=r"1 of 2 zones would lie outside the outline .*ps at 14.0, 46.0 mm"):
        make_zones(job, preview=tmp_path / "p.png", size=(800, 600))
    assert (tmp_path / "p.png").stat().st_size > 1000
    assert not (tmp_path / "new.toml").exists()


def test_zones_that_are_there_are_never_replaced_silently(template: Path, tmp_path: Path) -> None:
    wish = onto(tmp_path, *MARKS)
    (tmp_path / "w3.toml").write_bytes(fit_zones(FitJob(template, wish)).content)
    with pytest.raises(FileInvalid, match="has zones of these ids already"):
        fit_zones(FitJob(template, wish))
    again = fit_zones(FitJob(template, wish, replace=True))
    assert len(again.board.zones) == 2
