"""Zones of lists: exact round trips, what is asked, wrong units and sides caught with the right proposal."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from irspot.errors import FileInvalid, OutputRefused, UsageError
from irspot.files import read_board
from irspot.layout.packages import SizeRules
from irspot.layout.part import Part, Size
from irspot.layout.placing import REAR_WAYS, Placing
from irspot.layout.plane import shifted
from irspot.layout.roles import RoleRules
from irspot.workflow.zone_ground import GroundWish
from irspot.workflow.zones_from import MadeZones, Misfit, zones_from_list
from irspot.workflow.zones_job import ZonesJob
from tests.layout.dialects import DIALECTS, Dialect
from tests.layout.drawings import X0, Y0, gerber
from tests.layout.parts import BOARD, FRONT, OUTLINE, PARTS

WIDTH = 100.0


@pytest.fixture
def board(tmp_path: Path) -> Path:
    path = tmp_path / "d1.toml"
    path.write_text(BOARD, encoding="utf-8")
    return path


def made(path: Path, board: Path, **more: object) -> MadeZones:
    return zones_from_list(ZonesJob(path, GroundWish(board_file=board), **more))  # type: ignore[arg-type]


def listed(tmp_path: Path, parts: tuple[Part, ...], head: str = "Ref,X (mm),Y (mm),Rot,Side,Package") -> Path:
    rows = [f"{p.ref},{p.x_mm!r},{p.y_mm!r},{p.rotation_deg!r},{p.side},{p.package}" for p in parts]
    path = tmp_path / "list.csv"
    path.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize("dialect", DIALECTS, ids=lambda dialect: dialect.name)
def test_zones_written_as_a_list_and_read_again_are_the_same(dialect: Dialect, board: Path, tmp_path: Path) -> None:
    truth = {
        part.ref: Placing(shifted(0.0, 0.0), "as-listed", WIDTH).shape(part, part.size or Size(1.0, 1.0))
        for part in PARTS
    }
    path = tmp_path / "parts.txt"
    dialect.write(path, PARTS)
    again = made(path, board, unit=dialect.unit, rear="as-listed")
    assert [zone.id for zone in again.zones] == list(truth)
    # What the board file then holds, read by its own reader.
    out = tmp_path / "out.toml"
    out.write_bytes(again.content)
    zones = {zone.id: zone for zone in read_board(out).zones}
    for part in PARTS:
        zone = zones[part.ref]
        np.testing.assert_allclose(zone.shape.array_mm, truth[part.ref].array_mm, atol=1e-9)  # type: ignore[union-attr]
        assert (zone.side, zone.measures, zone.height_mm) == (part.side, "case", 0.9)


@pytest.mark.parametrize("rear", REAR_WAYS)
def test_the_rear_is_turned_over_by_every_way_to_the_same_zones(rear: str, board: Path, tmp_path: Path) -> None:
    def as_given(part: Part) -> Part:
        if part.side == "front" or rear == "as-listed":
            return part
        x = -part.x_mm if rear == "negated" else WIDTH - part.x_mm
        return replace(part, x_mm=x, rotation_deg=-part.rotation_deg)

    straight = made(listed(tmp_path, PARTS), board, rear="as-listed")
    turned = made(listed(tmp_path, tuple(map(as_given, PARTS))), board, rear=rear)
    for one, other in zip(straight.zones, turned.zones, strict=True):
        np.testing.assert_allclose(
            sorted(other.shape.array_mm.tolist()),
            sorted(one.shape.array_mm.tolist()),
            atol=1e-8,  # type: ignore[union-attr]
        )


def in_unit(parts: tuple[Part, ...], mm_per: float) -> tuple[Part, ...]:
    return tuple(replace(part, x_mm=part.x_mm / mm_per, y_mm=part.y_mm / mm_per) for part in parts)


@pytest.mark.parametrize(("unit", "mm_per"), [("mm", 1.0), ("mil", 0.0254), ("inch", 25.4)])
def test_a_list_without_unit_is_refused_and_the_likely_one_proposed(
    unit: str, mm_per: float, board: Path, tmp_path: Path
) -> None:
    path = listed(tmp_path, in_unit(PARTS, mm_per), "Ref,X,Y,Rot,Side,Package")
    with pytest.raises(FileInvalid) as refused:
        made(path, board, rear="as-listed")
    assert "states no unit of its places (found Q1 at" in str(refused.value)
    assert str(refused.value).endswith(f"on this board they can only be in {unit}: say --unit {unit}")
    assert len(made(path, board, unit=unit, rear="as-listed").zones) == len(PARTS)


@pytest.mark.parametrize("said", ["mm", "mil", "inch"])
@pytest.mark.parametrize(("true", "mm_per"), [("mm", 1.0), ("mil", 0.0254), ("inch", 25.4)])
def test_a_wrong_unit_is_caught_and_the_right_one_proposed(
    said: str, true: str, mm_per: float, board: Path, tmp_path: Path
) -> None:
    declared = listed(tmp_path, in_unit(FRONT, mm_per), "Ref,X,Y,Rot,Side,Package")
    if said == true:
        assert len(made(declared, board, unit=said).zones) == len(FRONT)
        return
    with pytest.raises(Misfit, match=f"the list fits with --unit {true}$"):
        made(declared, board, unit=said)
    headed = listed(tmp_path, in_unit(FRONT, mm_per), f"Ref,X ({said}),Y ({said}),Rot,Side,Package")
    with pytest.raises(
        Misfit, match=f"the list fits with the unit {true} where the list says {said}: correct it there$"
    ):
        made(headed, board)


def turned_over(parts: tuple[Part, ...], way: str) -> tuple[Part, ...]:
    def x_of(part: Part) -> float:
        return -part.x_mm if way == "negated" else WIDTH - part.x_mm

    return tuple(replace(part, x_mm=x_of(part)) if part.side == "rear" else part for part in parts)


@pytest.mark.parametrize(
    ("way", "said"), [("negated", "as-listed"), ("negated", "mirrored"), ("mirrored", "as-listed")]
)
def test_a_wrong_side_is_caught_and_the_right_way_proposed(way: str, said: str, board: Path, tmp_path: Path) -> None:
    path = listed(tmp_path, turned_over(PARTS, way))
    with pytest.raises(Misfit, match=f"the list fits with --bottom {way}$"):
        made(path, board, rear=said)
    assert len(made(path, board, rear=way).zones) == len(PARTS)


def test_the_side_that_is_not_wanted_does_not_hide_a_wrong_unit(board: Path, tmp_path: Path) -> None:
    path = listed(tmp_path, in_unit(turned_over(PARTS, "negated"), 0.0254), "Ref,X,Y,Rot,Side,Package")
    with pytest.raises(Misfit, match=r"the list fits with --unit mil$"):
        made(path, board, unit="mm", side="front")
    assert len(made(path, board, unit="mil", side="front").zones) == len(FRONT)


def test_a_list_of_the_rear_alone_without_sides_is_recognised(board: Path, tmp_path: Path) -> None:
    rear = tuple(replace(part, x_mm=-part.x_mm) for part in FRONT)
    path = tmp_path / "list.csv"
    rows = [f"{p.ref},{p.x_mm!r},{p.y_mm!r},{p.package}" for p in rear]
    path.write_text("\n".join(["Ref,X (mm),Y (mm),Package", *rows]), encoding="utf-8")
    with pytest.raises(Misfit, match=r"the list fits with --list-side rear and --bottom negated$"):
        made(path, board)
    assert {zone.side for zone in made(path, board, list_side="rear", rear="negated").zones} == {"rear"}


def test_a_wrong_origin_is_caught_and_the_right_corner_proposed(board: Path, tmp_path: Path) -> None:
    path = listed(tmp_path, tuple(replace(part, x_mm=part.x_mm - 100.0, y_mm=part.y_mm - 70.0) for part in FRONT))
    with pytest.raises(Misfit, match=r"the list fits with --origin upper-right$"):
        made(path, board)
    assert len(made(path, board, origin="upper-right").zones) == len(FRONT)
    both = listed(tmp_path, in_unit(tuple(replace(p, y_mm=p.y_mm - 70.0) for p in FRONT), 0.0254))
    with pytest.raises(Misfit, match=r"the list says mm: correct it there and --origin upper-left$"):
        made(both, board)


def test_an_unusual_origin_is_refused_with_what_to_give(board: Path, tmp_path: Path) -> None:
    path = listed(tmp_path, tuple(replace(part, x_mm=part.x_mm + 57.0, y_mm=part.y_mm - 31.0) for part in FRONT))
    with pytest.raises(Misfit, match=re.escape("give two parts' places with --point REF=x_mm,y_mm")):
        made(path, board)
    by_points = made(path, board, points=(("Q1", 10.0, 60.123457), ("r12", 96.0, 12.7)))
    x0, y0, x1, y1 = by_points.zones[3].shape.box_mm
    assert (0.5 * (x0 + x1), 0.5 * (y0 + y1)) == pytest.approx((80.0, 20.0))
    assert len(made(path, board, origin=(-57.0, 31.0)).zones) == len(FRONT)


def test_points_of_both_sides_agree_only_by_the_right_way(board: Path, tmp_path: Path) -> None:
    path = listed(tmp_path, turned_over(PARTS, "mirrored"))
    points = (("Q1", 10.0, 60.123457), ("U7", 80.0, 20.0), ("C101", 8.0, 63.0))
    made(path, board, rear="mirrored", points=points)
    with pytest.raises(FileInvalid, match="cannot be placed by --point"):
        made(path, board, rear="as-listed", points=points)


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ((("Q1", 1.0, 2.0),), "one --point tells no turn"),
        ((("Q1", 1.0, 2.0), ("Q9", 3.0, 4.0)), "has no part 'Q9', which --point names; known: Q1, Q2"),
    ],
)
def test_wrong_points_are_refused(points: tuple[object, ...], says: str, board: Path, tmp_path: Path) -> None:
    with pytest.raises((FileInvalid, UsageError)) as refused:
        made(listed(tmp_path, FRONT), board, points=points)
    assert says in str(refused.value)


def test_it_is_asked_how_the_rear_is_given_only_where_it_is_wanted(board: Path, tmp_path: Path) -> None:
    path = listed(tmp_path, PARTS)
    with pytest.raises(UsageError, match=r"3 parts are on the rear.*only --bottom as-listed puts them inside"):
        made(path, board)
    assert len(made(path, board, side="front").zones) == len(FRONT)
    assert len(made(path, board, leave_out=("C1??", "U1??", "D1??")).zones) == len(FRONT)


def test_only_some_parts_with_roles_and_a_surface(board: Path, tmp_path: Path) -> None:
    rules = RoleRules((("q*", "power-stage"),), by_letter=True)
    chosen = made(listed(tmp_path, FRONT), board, only=("Q*", "l1"), roles=rules, material="solder mask").zones
    assert [(zone.id, zone.role) for zone in chosen] == [
        ("Q1", "power-stage"),
        ("Q2", "power-stage"),
        ("L1", "inductor"),
    ]
    assert {zone.material for zone in chosen} == {"solder mask"}
    with pytest.raises(FileInvalid, match="none of the parts is wanted"):
        made(listed(tmp_path, FRONT), board, only=("Z*",))


def test_a_code_of_two_meanings_is_asked_about(board: Path, tmp_path: Path) -> None:
    parts = (*FRONT, Part("R5", 50.0, 50.0, package="R0603"), Part("R6", 52.0, 50.0, package="R0805"))
    path = listed(tmp_path, parts)
    with pytest.raises(FileInvalid, match=r"line 8: the size of R5 is open.*'R0805' in the list speaks for inches"):
        made(path, board)
    zone = made(path, board, sizes=SizeRules(codes="imperial")).zones[-2]
    assert zone.shape.box_mm == pytest.approx((49.2, 49.6, 50.8, 50.4))


def test_parts_without_a_size_are_left_out_and_said(board: Path, tmp_path: Path) -> None:
    parts = (*FRONT, Part("U9", 50.0, 50.0, package="odd one"))
    result = made(listed(tmp_path, parts), board)
    assert len(result.zones) == len(FRONT)
    assert "parts without a size, left out: 1 (U9); their packages: 'odd one'" in result.warnings[0]
    assert len(made(listed(tmp_path, parts), board, sizes=SizeRules(default=Size(3.0, 3.0))).zones) == len(parts)
    with pytest.raises(FileInvalid, match="no part has a size"):
        made(listed(tmp_path, parts), board, only=("U9",))


def test_parts_of_the_rear_that_stand_askew_are_said(board: Path, tmp_path: Path) -> None:
    (warning,) = made(listed(tmp_path, PARTS), board, rear="as-listed").warnings
    assert warning.startswith("parts of the rear that stand askew: 1 (U102)")


def test_designators_that_stand_twice(board: Path, tmp_path: Path) -> None:
    same = (*FRONT, FRONT[0])
    assert any(
        "parts that stand twice at one place, taken once: 1" in w for w in made(listed(tmp_path, same), board).warnings
    )
    other = (*FRONT, replace(FRONT[0], ref="q1", x_mm=40.0), replace(FRONT[0], x_mm=50.0))
    with pytest.raises(FileInvalid, match=r"line 8: 'q1' stands on line 2 too, 30.00 mm away, and 1 more"):
        made(listed(tmp_path, other), board)
    numbered = made(listed(tmp_path, other), board, number_duplicates=True).zones
    assert [zone.id for zone in numbered if zone.id.lower().startswith("q1")] == ["Q1", "q1-2", "Q1-3"]


def test_designators_that_are_no_ids_are_made_ones(board: Path, tmp_path: Path) -> None:
    parts = (replace(FRONT[0], ref="=cmd|x"), replace(FRONT[1], ref="elsewhere"), *FRONT[2:])
    result = made(listed(tmp_path, parts), board)
    assert [zone.id for zone in result.zones[:2]] == ["x-cmd-x", "part-elsewhere"]
    assert "'=cmd|x' becomes 'x-cmd-x'" in result.warnings


def test_a_part_off_the_board_alone_is_named(board: Path, tmp_path: Path) -> None:
    many = tuple(replace(FRONT[0], ref=f"R{i}", x_mm=10.0 + i, y_mm=10.0 + 0.3 * i) for i in range(45))
    path = listed(tmp_path, (*many, replace(FRONT[0], ref="FID1", x_mm=-20.0)))
    with pytest.raises(Misfit, match=r"1 of 46 parts lie outside the outline .*leave them out with --leave-out 'FID1'"):
        made(path, board)


def test_comments_and_order_of_the_board_file_stay(board: Path, tmp_path: Path) -> None:
    content = made(listed(tmp_path, FRONT), board).content.decode()
    lines = iter(content.splitlines())
    assert all(line in lines for line in BOARD.splitlines()), "in this order, new lines in between"
    assert [zone["id"] for zone in tomllib.loads(content)["zone"]] == ["patch", *(part.ref for part in FRONT)]


def test_zones_that_are_there_are_never_replaced_silently(board: Path, tmp_path: Path) -> None:
    limited = BOARD.replace('id = "patch"', 'id = "Q1"').replace(
        "u_emissivity", 'limit_degc = 90.0 # sheet\nlimit_kind = "case"\nu_emissivity'
    )
    board.write_text(limited, encoding="utf-8")
    with pytest.raises(FileInvalid, match=r"has zones of these ids already \(found 1: Q1\); --replace"):
        made(listed(tmp_path, FRONT), board)
    again = made(listed(tmp_path, FRONT), board, replace=True)
    zone = again.board.zones[0]
    assert zone.shape == again.zones[0].shape
    assert zone.limit is not None
    assert "limit_degc = 90.0 # sheet" in again.content.decode()


def test_a_new_board_begins_with_a_size_or_a_profile_layer(tmp_path: Path) -> None:
    path = listed(tmp_path, FRONT)
    sized = zones_from_list(ZonesJob(path, GroundWish(size_mm=(100.0, 70.0), name="New one")))
    assert (sized.board.name, sized.board.outline.box_mm) == ("New one", (0.0, 0.0, 100.0, 70.0))
    pytest.importorskip("gerbonara")
    profile = tmp_path / "edge.gbr"
    profile.write_text(gerber(), encoding="utf-8")
    shared = tuple(replace(part, x_mm=part.x_mm + X0, y_mm=part.y_mm + Y0 - 5.0) for part in FRONT[2:])
    by_drawing = zones_from_list(ZonesJob(listed(tmp_path, shared), GroundWish(outline_file=profile)))
    x0, y0, x1, y1 = by_drawing.zones[1].shape.box_mm
    assert (0.5 * (x0 + x1), 0.5 * (y0 + y1)) == pytest.approx((80.0, 15.0))
    assert "the list counts from where the outline's drawing does" in by_drawing.notes


def test_it_is_asked_how_large_the_board_is(board: Path, tmp_path: Path) -> None:
    path = listed(tmp_path, FRONT)
    with pytest.raises(UsageError, match="nothing says how large the board is"):
        zones_from_list(ZonesJob(path, GroundWish()))
    with pytest.raises(UsageError, match="two things say how large the board is"):
        zones_from_list(ZonesJob(path, GroundWish(board_file=board, size_mm=(1.0, 2.0))))
    with pytest.raises(OutputRefused, match="is there already and has an outline"):
        zones_from_list(ZonesJob(path, GroundWish(output=board, size_mm=(100.0, 70.0))))
    assert OUTLINE.box_mm[2] == WIDTH
