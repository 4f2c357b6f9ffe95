from __future__ import annotations

import pytest

from irspot.board import Limit, Mark, Site
from irspot.errors import FileInvalid, Problem
from irspot.files import board_problems, read_board
from irspot.shapes import Circle, Polygon
from tests.files import samples


def problems_of(tmp_path, document) -> tuple[Problem, ...]:
    return board_problems(samples.save(tmp_path / "b.toml", document))


def only(problems: tuple[Problem, ...]) -> Problem:
    assert len(problems) == 1, [str(p) for p in problems]
    return problems[0]


def test_every_key_arrives(tmp_path):
    board = read_board(samples.save(tmp_path / "k7.toml", samples.BOARD))
    assert (board.name, board.coating, board.thickness_mm) == ("Kestrel K7 (invented)", "none", 1.6)
    # A rectangle's corners begin lower left and run counter-clockwise: corners_px follows them.
    assert board.outline == Polygon(((0.0, 0.0), (244.0, 0.0), (244.0, 305.0), (0.0, 305.0)))
    first, chip, behind, plain = board.zones
    assert first.shape == Polygon(((14.0, 210.0), (30.0, 210.0), (30.0, 280.0), (14.0, 280.0)))
    assert first.exclude == (
        Circle(20.0, 240.0, 2.0),
        Polygon(((25.0, 260.0), (27.0, 260.0), (27.0, 263.0), (25.0, 263.0))),
    )
    assert (first.id, first.name, first.role, first.side) == (
        "ps-left",
        "Power stages, left bank",
        "power-stage",
        "front",
    )
    assert (first.height_mm, first.emissivity, first.u_emissivity, first.surface) == (0.8, 0.93, 0.02, "bare part")
    assert (first.cover, first.measures, first.reflected_degc, first.u_reflected_k) == ("bare", "case", 24.0, 1.5)
    assert first.limit == Limit(105.0, "case", "part data sheet, revision B")
    assert chip.shape == Circle(120.5, 150.0, 11.0)
    assert (chip.emissivity, chip.u_emissivity, chip.emissivity_assumed) == (0.9, 0.04, False)
    assert (behind.side, behind.cover, behind.emissivity, behind.u_emissivity) == ("rear", "obscured", 0.9, 0.03)
    assert (plain.emissivity, plain.u_emissivity, plain.emissivity_assumed) == (0.9, 0.03, True)
    assert board.sites == (Site("tc1", 22.0, 245.0, "rear", "T", 2, 0.13, "polyimide tape", 4.0, 0.95),)
    assert board.marks[0] == Mark("hole-a", 10.16, 6.35)
    assert board_problems(tmp_path / "k7.toml") == ()


def test_all_problems_are_reported_at_once(tmp_path):
    document = samples.board(
        name="line one\nline two",
        colour="green",
        zone=[
            {"id": "a", "rect_mm": [10, 10, 5, 5], "rolle": "x", "emissivity": 1.2, "cover": "bar"},
            {"id": "b", "polygon_mm": [[0, 0], [10, 10], [10, 0], [0, 10]], "limit_degc": 90},
            {"id": "A", "circle_mm": [50, 50, 4], "material": "solder mas"},
        ],
    )
    found = {problem.key: problem for problem in problems_of(tmp_path, document)}
    assert set(found) == {
        "name",
        "colour",
        "zone[0].rolle",
        "zone[0].emissivity",
        "zone[0].cover",
        "zone[1].polygon_mm",
        "zone[1].limit_degc",
        "zone[2].id",
        "zone[2].material",
    }
    assert all(problem.severity == "error" for problem in found.values())
    assert found["zone[0].rolle"].hint == "did you mean 'role'?"
    assert found["zone[0].emissivity"].found == "1.2"
    assert found["zone[0].emissivity"].wanted == "a number above 0 and at most 1"
    assert found["zone[0].cover"].hint == "did you mean 'bare'?"
    assert found["zone[2].material"].hint == "did you mean 'solder mask'?"
    assert found["name"].hint == "write it on one line"
    assert "corners 0–1 and 2–3" in found["zone[1].polygon_mm"].message
    with pytest.raises(FileInvalid) as refusal:
        read_board(tmp_path / "b.toml")
    assert len(refusal.value.problems()) == len(found)
    assert len(str(refusal.value).splitlines()) == len(found)


WITH_ZONE = {"zone": samples.with_zone()["zone"]}
REFERENCE = {"id": "r", "temperature_degc": 40.0, "u_k": 0.3}


@pytest.mark.parametrize(
    ("changes", "key", "says"),
    [
        ({"rect_mm": None}, "zone[0]", "exactly one shape"),
        ({"circle_mm": [20, 30, 4]}, "zone[0]", "exactly one shape"),
        ({"rect_mm": [10, 20, 0, 4]}, "zone[0].rect_mm", "above 0"),
        ({"rect_mm": [10, 20, 4]}, "zone[0].rect_mm", "too few"),
        ({"rect_mm": None, "circle_mm": [10, 20, -1]}, "zone[0].circle_mm", "above 0"),
        ({"rect_mm": None, "polygon_mm": [[1, 1], [9, 9]]}, "zone[0].polygon_mm", "too few"),
        ({"rect_mm": None, "polygon_mm": [[1, 1], [5, 5], [9, 9]]}, "zone[0].polygon_mm", "itself"),
        ({"rect_mm": None, "polygon_mm": [[1, 1], [9, 1], [9, 9], [1, 1]]}, "zone[0].polygon_mm", "repeats"),
        ({"rect_mm": None, "polygon_mm": [[1, 1], [9, 1], [9, 1], [1, 8]]}, "zone[0].polygon_mm", "repeats"),
        ({"rect_mm": None, "polygon_mm": [[1, 1], [9, 1], [9, float("nan")]]}, "zone[0].polygon_mm[2][1]", "finite"),
        ({"rect_mm": None, "polygon_mm": [[1, 1], [9, 1], [9, "2"]]}, "zone[0].polygon_mm[2][1]", "number"),
        ({"rect_mm": [-90, 0, 40, 40]}, "zone[0]", "outside the outline"),
        ({"u_reflected_k": 1.0}, "zone[0].u_reflected_k", "without reflected_degc"),
        ({"exclude": [{"circle_mm": [20, 30, 1], "rect_mm": [20, 30, 1, 1]}]}, "zone[0].exclude[0]", "exactly one"),
        ({"exclude": [{"oval_mm": [20, 30, 1], "circle_mm": [20, 30, 1]}]}, "zone[0].exclude[0].oval_mm", "unknown"),
        ({"id": "Elsewhere"}, "zone[0].id", "reserved"),
        ({"id": "_x"}, "zone[0].id", "form"),
        ({"id": "x" * 65}, "zone[0].id", "form"),
        ({"id": None}, "zone[0].id", "missing"),
        ({"emissivity": 0.0}, "zone[0].emissivity", "too small"),
        ({"emissivity": True}, "zone[0].emissivity", "not a number"),
        ({"emissivity": 0.9, "material": "glass"}, "zone[0].material", "contradicts"),
        ({"u_emissivity": 0.1}, "zone[0].u_emissivity", "without"),
        ({"limit_kind": "case"}, "zone[0].limit_kind", "without limit_degc"),
        ({"limit_source": "sheet"}, "zone[0].limit_source", "without limit_degc"),
        ({"limit_degc": 90.0}, "zone[0].limit_degc", "kind"),
        ({"limit_degc": 90.0, "limit_kind": "juncton"}, "zone[0].limit_kind", "not one of"),
        ({"psi_jt_k_per_w": 0.8}, "zone[0].psi_jt_k_per_w", "without power_w"),
        ({"psi_jt_k_per_w": 0.8, "power_w": 3.0}, "zone[0].psi_jt_k_per_w", "no case"),
        ({"u_psi_jt_k_per_w": 0.1}, "zone[0].u_psi_jt_k_per_w", "without psi_jt_k_per_w"),
        ({"u_power_w": 0.1}, "zone[0].u_power_w", "without power_w"),
        ({"name": "x" * 2001}, "zone[0].name", "too long"),
        ({"name": "x\u202ey"}, "zone[0].name", "form"),
        ({"reflected_degc": -300}, "zone[0].reflected_degc", "too small"),
    ],
)
def test_wrong_zones_are_refused(tmp_path, changes, key, says):
    problem = only(problems_of(tmp_path, samples.with_zone(**changes)))
    assert (problem.severity, problem.key) == ("error", key)
    assert says in problem.message
    assert problem.file.endswith("b.toml")


@pytest.mark.parametrize(
    ("changes", "key", "says"),
    [
        ({"outline": {"width_mm": 30.0}}, "outline", "one shape"),
        ({"outline": {}}, "outline", "one shape"),
        (
            {"outline": {"width_mm": 3.0, "height_mm": 4.0, "polygon_mm": [[0, 0], [9, 0], [0, 9]]}},
            "outline",
            "one shape",
        ),
        ({"outline": {"polygon_mm": [[1, 0], [9, 0], [9, 9]]}}, "outline.polygon_mm", "(0, 0)"),
        ({"outline": {"polygon_mm": [[0, 0], [9, 9], [9, 0], [0, 9]]}}, "outline.polygon_mm", "itself"),
        ({"outline": {"width_mm": 0, "height_mm": 4.0}}, "outline.width_mm", "too small"),
        ({"outline": 3}, "outline", "not a table"),
        ({"schema": 2}, "schema", "newer"),
        ({"schema": True}, "schema", "whole number"),
        ({"zone": 5}, "zone", "not a list"),
        ({"site": [{"id": "t", "x_mm": 1, "y_mm": 1, "class": 4}]}, "site[0].class", "too large"),
        (
            {"site": [{"id": "t", "x_mm": 1, "y_mm": 1}, {"id": "T", "x_mm": 2, "y_mm": 1}]},
            "site[1].id",
            "taken by site[0]",
        ),
        (
            {"mark": [{"id": "t", "x_mm": 1, "y_mm": 1}, {"id": "T", "x_mm": 2, "y_mm": 1}]},
            "mark[1].id",
            "taken by mark[0]",
        ),
        ({"mark": [{"id": "t", "x_mm": 1}]}, "mark[0].y_mm", "missing"),
        ({"reference": [{**REFERENCE, "zone": "z"}]}, "reference[0].zone", "names no zone"),
        ({"reference": [{**REFERENCE, "px": [9.0, 9.0, 0.0]}]}, "reference[0].px", "has no size"),
        ({**WITH_ZONE, "reference": [{**REFERENCE, "zone": "z", "side": "rear"}]}, "reference[0].side", "its own side"),
        ({"reference": [REFERENCE]}, "reference[0]", "needs one place"),
        ({"reference": [{**REFERENCE, "px": [9, 9, 4], "zone": "z"}]}, "reference[0]", "needs one place"),
        ({"reference": [{"id": "r", "px": [9, 9, 4], "emissivity": 0.9}]}, "reference[0]", "has no temperature"),
        ({"reference": [{**REFERENCE, "px": [9, 9, 4], "log_column": "t"}]}, "reference[0].log_column", "contradicts"),
        ({"reference": [{**REFERENCE, "px": [9, 9, 4], "emissivity": 0.3}]}, "reference[0].emissivity", "too small"),
        ({"emissivity": 0.9}, "emissivity", "unknown key"),
    ],
)
def test_wrong_boards_are_refused(tmp_path, changes, key, says):
    document = {**samples.board(zone=[], site=[], mark=[]), **changes}
    problem = only(tuple(p for p in problems_of(tmp_path, document) if p.severity == "error"))
    assert (problem.severity, problem.key) == ("error", key)
    assert says in problem.message


def test_a_key_of_another_table_is_shown_its_place(tmp_path):
    problem = only(problems_of(tmp_path, {**samples.with_zone(), "emissivity": 0.9}))
    assert problem.hint == "that key belongs under [[zone]]"
    problem = only(problems_of(tmp_path, samples.with_zone(coating="none")))
    assert problem.hint == "that key belongs above the first [heading] of the file"


@pytest.mark.parametrize("missing", ["schema", "name", "outline"])
def test_required_keys_are_missed(tmp_path, missing):
    document = samples.board()
    del document[missing]
    assert (missing, "missing") in {(p.key, p.message) for p in problems_of(tmp_path, document)}


@pytest.mark.parametrize(
    ("zones", "key", "says"),
    [
        ([{"id": "a", "rect_mm": [230, 20, 30, 40]}], "zone[0]", "reaches 16.00 mm over the outline"),
        ([{"id": "a", "circle_mm": [122, 152, 400]}], "zone[0]", "over the outline"),
        (
            [{"id": "a", "rect_mm": [10, 20, 30, 40], "exclude": [{"circle_mm": [60, 30, 5]}]}],
            "zone[0].exclude[0]",
            "outside",
        ),
        (
            [{"id": "a", "rect_mm": [10, 20, 30, 40]}, {"id": "b", "rect_mm": [38, 50, 30, 40]}],
            "zone[1]",
            "about 20 mm²",
        ),
        ([{"id": "a", "rect_mm": [10, 20, 30, 40]}, {"id": "b", "circle_mm": [25, 40, 3]}], "zone[1]", "about 28 mm²"),
        ([], "zone", "no zones"),
        (
            [{"id": "a", "rect_mm": [10, 20, 30, 40], "limit_degc": 105.0, "limit_kind": "case"}],
            "zone[0].limit_kind",
            "will not be compared",
        ),
    ],
)
def test_doubtful_zones_are_warned_of(tmp_path, zones, key, says):
    problem = only(problems_of(tmp_path, samples.board(zone=zones)))
    assert (problem.severity, problem.key) == ("warning", key)
    assert says in problem.message


@pytest.mark.parametrize(
    "zones",
    [
        # A common edge, a common slanting edge, one place on both sides, a hole made for the other zone.
        [{"id": "a", "rect_mm": [10, 20, 30, 40]}, {"id": "b", "rect_mm": [40, 20, 30, 40]}],
        [
            {"id": "a", "polygon_mm": [[10, 10], [47, 10], [47, 33]]},
            {"id": "b", "polygon_mm": [[10, 10], [47, 33], [10, 33]]},
        ],
        [{"id": "a", "rect_mm": [10, 20, 30, 40]}, {"id": "b", "rect_mm": [10, 20, 30, 40], "side": "rear"}],
        [
            {"id": "a", "rect_mm": [10, 20, 30, 40], "exclude": [{"rect_mm": [20, 30, 10, 10]}]},
            {"id": "b", "rect_mm": [20, 30, 10, 10]},
        ],
        [{"id": "a", "rect_mm": [0, 0, 244, 305]}],
    ],
)
def test_zones_that_only_touch_are_fine(tmp_path, zones):
    assert problems_of(tmp_path, samples.board(zone=zones)) == ()


@pytest.mark.parametrize("kind", ["site", "mark"])
def test_places_beside_the_board_are_warned_of(tmp_path, kind):
    problem = only(problems_of(tmp_path, samples.board(**{kind: [{"id": "a", "x_mm": 250.5, "y_mm": 10}]})))
    assert (problem.severity, problem.key) == ("warning", f"{kind}[0]")
    assert "6.50 mm outside" in problem.message


def test_a_board_of_too_many_corners_is_refused_at_once(tmp_path):
    corners = [[10 + i * 0.1, 10.0] for i in range(1000)] + [[110.0, 60.0]]
    zones = [{"id": f"z{i}", "polygon_mm": corners[-1000:]} for i in range(11)]
    problem = only(problems_of(tmp_path, samples.board(zone=zones)))
    assert (problem.key, problem.found) == ("zone", "11000")


def test_very_many_zones_on_a_very_detailed_outline_are_refused_at_once(tmp_path):
    steps = [[i * 0.25, 0.0] for i in range(900)]
    outline = {"polygon_mm": [*steps, [244.0, 0.0], [244.0, 305.0], [0.0, 305.0]]}
    zones = [{"id": f"z{i}", "circle_mm": [100, 100, 50 + i]} for i in range(300)]
    problem = only(problems_of(tmp_path, samples.board(outline=outline, zone=zones)))
    assert (problem.key, problem.found) == ("zone", "300")
