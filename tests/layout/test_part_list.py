"""Lists of five dialects are read exactly; what is wrong is named by line and column; nothing ends in a traceback."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from irspot.errors import FileInvalid, IrspotError, Problem
from irspot.layout.part import Part
from irspot.layout.part_list import duplicated, read_part_list
from tests.layout.dialects import DIALECTS, Dialect
from tests.layout.parts import PARTS


@pytest.mark.parametrize("dialect", DIALECTS, ids=lambda dialect: dialect.name)
def test_every_dialect_is_read_exactly(dialect: Dialect, tmp_path: Path) -> None:
    path = tmp_path / "parts.txt"
    dialect.write(path, PARTS)
    read = read_part_list(path, dialect.unit)
    assert [part.ref for part in read.parts] == [part.ref for part in PARTS]
    assert [part.side for part in read.parts] == [part.side for part in PARTS]
    for got, wanted in zip(read.parts, PARTS, strict=True):
        assert (got.x_mm, got.y_mm) == pytest.approx((wanted.x_mm, wanted.y_mm), abs=1e-9)
        assert got.rotation_deg == wanted.rotation_deg
    assert read.has_sides


def test_a_list_without_unit_says_so(tmp_path: Path) -> None:
    path = tmp_path / "parts.csv"
    DIALECTS[-1].write(path, PARTS)
    read = read_part_list(path)
    assert read.unit == ""
    assert read.parts[0].x_mm == pytest.approx(PARTS[0].x_mm / 25.4)


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "parts.csv"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no line heads its columns"),
        ("a,b,c\n1,2,3\n", "no line heads its columns (found 'a,b,c'"),
        ("Ref,X (mm),Y (mm)\n", "the list has a header and no parts"),
        ("Ref,X (mm),Y (mm)\nR1,,\n", "no line has a designator and a place"),
        ("Ref,X (mm),Y (mm)\nR1,abc,2\n", "line 2, column 'X (mm)': is no length (found 'abc'"),
        ("Ref,X (mm),Y (mm)\n,1,2\n", "line 2, column 'Ref': has no designator"),
        ("Ref,X (mm),Y (mm)\nR1,1,2,3\n", "line 2: has not the header's cells (found 4 cells; wanted 3)"),
        ("Ref,X (mm),Y (mil)\nR1,1,2\n", "line 1: x and y are headed in two units (found mil and mm)"),
        ("Ref,X (mm),Y (mm),Side\nR1,1,2,sideways\n", "line 2, column 'Side': is no side (found 'sideways'"),
        ("Ref,X (mm),Y (mm),Rot\nR1,1,2,left\n", "line 2, column 'Rot': is no angle"),
        ("Ref;X (mm);Y (mm)\nR1;1,5;2.5\n", "line 2: numbers have both decimal points and decimal commas"),
        ("Ref,X (mm),Y (mm)\nR1,5mil,2\n", "line 2, column 'X (mm)': contradicts the unit of its heading, mm"),
        ("Ref,X,Y\nR1,5mil,2mil\nR2,5,2\n", "some places have a unit and some have none"),
        ("Ref,X (mm),Y (mm),Length,Width\nR1,1,2,0,3\n", "column 'Length': is no size"),
        ("Ref,X,Y\0\nR1,1,2\n", "is no text (found null characters"),
    ],
)
def test_what_is_wrong_is_named_by_its_place(text: str, says: str, tmp_path: Path) -> None:
    with pytest.raises(FileInvalid) as refused:
        read_part_list(written(tmp_path, text))
    assert says in str(refused.value)


def test_every_wrong_line_is_listed(tmp_path: Path) -> None:
    with pytest.raises(FileInvalid) as refused:
        read_part_list(written(tmp_path, "Ref,X (mm),Y (mm)\nR1,1,?\nR2,1,2\nR3,!,2\n"))
    assert [problem.key for problem in refused.value.problems()] == [
        "line 2, column 'Y (mm)'",
        "line 4, column 'X (mm)'",
    ]


@pytest.mark.parametrize(
    ("word", "side"),
    [
        ("Top", "front"),
        ("BOTTOM SIDE", "rear"),
        ("F.Cu", "front"),
        ("b.cu", "rear"),
        ("t", "front"),
        ("Solder", "rear"),
    ],
)
def test_sides_are_understood_by_many_words(word: str, side: str, tmp_path: Path) -> None:
    read = read_part_list(written(tmp_path, f"Ref,X (mm),Y (mm),Side\nR1,1,2,{word}\n"))
    assert read.parts[0].side == side


def test_the_decimal_mark_is_told_by_any_column_of_numbers(tmp_path: Path) -> None:
    read = read_part_list(written(tmp_path, "Ref;X (mm);Y (mm);Rot\nR1;1;2;22,5\n"))
    assert read.parts[0].rotation_deg == 22.5


def test_a_declared_unit_against_the_files_own_is_refused(tmp_path: Path) -> None:
    path = written(tmp_path, "Units used: mil\nRef,X,Y\nR1,1,2\n")
    assert read_part_list(path).parts[0].x_mm == pytest.approx(0.0254)
    with pytest.raises(FileInvalid, match="the list says mil"):
        read_part_list(path, "mm")


def test_lines_without_a_place_are_left_out_and_said(tmp_path: Path) -> None:
    read = read_part_list(written(tmp_path, "Ref,X (mm),Y (mm)\nR1,1,2\nMH1,,\n"))
    assert [part.ref for part in read.parts] == ["R1"]
    assert read.warnings == ("lines without a place, left out: 1 (MH1)",)


def test_without_a_column_of_sides_the_side_is_said(tmp_path: Path) -> None:
    path = written(tmp_path, "Ref,X (mm),Y (mm)\nR1,1,2\n")
    assert not read_part_list(path).has_sides
    assert read_part_list(path, side="rear").parts[0].side == "rear"
    assert any("all parts on the front" in note for note in read_part_list(path).notes)


def test_the_centre_is_preferred_to_other_points(tmp_path: Path) -> None:
    text = "Name,Ref X (mm),Ref Y (mm),Pad X (mm),Pad Y (mm),Mid X (mm),Mid Y (mm)\nR1,1,2,3,4,5,6\n"
    part = read_part_list(written(tmp_path, text)).parts[0]
    assert (part.x_mm, part.y_mm) == (5.0, 6.0)


def test_designators_that_stand_twice_are_found_whatever_their_case(tmp_path: Path) -> None:
    parts = read_part_list(written(tmp_path, "Ref,X (mm),Y (mm)\nR1,1,2\nQ1,3,3\nr1,4,2\n")).parts
    assert [(first.line, again.line) for first, again in duplicated(parts)] == [(2, 4)]


CELL = st.one_of(
    st.sampled_from(
        ["R1", "q1", "1.5", "1,5", "2mm", "3 mil", '4"', "top", "B", "", "nan", "1e999", "-0", "°", '"', "#"]
    ),
    st.text(max_size=6),
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    header=st.permutations(["Ref", "X (mm)", "Mid Y", "Rotation", "Side", "Package", "Length", "Width"]),
    rows=st.lists(st.lists(CELL, min_size=1, max_size=9), max_size=6),
    separator=st.sampled_from([",", ";", "\t", " "]),
    tail=st.text(max_size=20),
)
def test_mangled_lists_are_read_or_refused(
    header: list[str], rows: list[list[str]], separator: str, tail: str, tmp_path: Path
) -> None:
    lines = [separator.join(header), *(separator.join(row) for row in rows), tail]
    path = tmp_path / "mangled.csv"
    path.write_bytes("\n".join(lines).encode("utf-8", "surrogatepass"))
    problems: tuple[Problem, ...] = ()
    parts: tuple[Part, ...] = ()
    try:
        parts = read_part_list(path).parts
    except IrspotError as error:
        problems = error.problems()
    assert bool(parts) != bool(problems)
    assert all(problem.file.endswith("mangled.csv") for problem in problems)
    assert all(part.ref and abs(part.x_mm) < float("inf") for part in parts)


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=st.binary(max_size=200))
def test_any_bytes_are_refused_in_one_line_or_read(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "any.csv"
    path.write_bytes(content)
    with pytest.raises(FileInvalid):
        read_part_list(path)
