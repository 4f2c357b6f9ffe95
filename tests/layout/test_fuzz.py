"""Mutated layout files: only `FileInvalid` may come out of them, with printable lines, or something sound."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from irspot.errors import FileInvalid
from irspot.layout.outline import read_outline
from irspot.layout.packages import read_packages
from irspot.layout.part_list import read_part_list
from tests.layout.dialects import DIALECTS
from tests.layout.drawings import dxf, gerber
from tests.layout.parts import PARTS

QUIET = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
DEFAULT = settings(max_examples=40, deadline=None, suppress_health_check=QUIET)
FULL = settings(max_examples=2000, deadline=None, suppress_health_check=QUIET)
JUNK = st.one_of(
    st.binary(max_size=12),
    st.sampled_from(
        [
            b"",
            b"\0",
            b"9" * 30,
            b"-",
            b"1e308",
            b"nan",
            b"\x1b[2J",
            b'"',
            b",",
            b"\n",
            b"G36*",
            b"%SRX9Y9I1J1*%",
            b"mil",
        ]
    ),
)
EDITS = st.lists(st.tuples(st.floats(0.0, 1.0), st.integers(0, 12), JUNK), min_size=1, max_size=5)


def mutated(content: bytes, edits: list[tuple[float, int, bytes]]) -> bytes:
    for share, length, junk in edits:
        start = int(share * len(content))
        content = content[:start] + junk + content[start + length :]
    return content


def lists(tmp_path: Path) -> list[bytes]:
    path = tmp_path / "sound.txt"
    contents = []
    for dialect in DIALECTS:
        dialect.write(path, PARTS)
        contents.append(path.read_bytes())
    return contents


PACKAGES = [b"package,length_mm,width_mm,height_mm\nA*,1.5,2.5,0.5\nB,3,4,\n"]
SOUND: dict[str, tuple[Callable[[Path], Any], Callable[[Path], list[bytes]]]] = {
    "lists": (read_part_list, lists),
    "packages": (read_packages, lambda _: PACKAGES),
    "gerber": (read_outline, lambda _: [gerber().encode(), gerber("inch", region=True).encode()]),
    "dxf": (read_outline, lambda _: [dxf().encode(), dxf(polyline=True).encode()]),
}
LIBRARIES = {"gerber": "gerbonara", "dxf": "ezdxf"}


def check(kind: str, which: int, edits: list[tuple[float, int, bytes]], tmp_path: Path) -> None:
    read, sound = SOUND[kind]
    contents = sound(tmp_path)
    path = tmp_path / "mutated.txt"
    path.write_bytes(mutated(contents[which % len(contents)], edits))
    lines: list[str] = []
    try:
        read(path)
    except FileInvalid as error:
        lines = [str(problem) for problem in error.problems()]
    assert all(line.isprintable() and "mutated.txt" in line for line in lines)


@DEFAULT
@given(kind=st.sampled_from(list(SOUND)), which=st.integers(0, 4), edits=EDITS)
def test_mutated_layout_files(kind: str, which: int, edits: list[tuple[float, int, bytes]], tmp_path: Path) -> None:
    if kind in LIBRARIES:
        pytest.importorskip(LIBRARIES[kind])
    check(kind, which, edits, tmp_path)


@pytest.mark.full
@pytest.mark.parametrize("kind", SOUND)
def test_two_thousand_mutated_layout_files_of_each_kind(kind: str, tmp_path: Path) -> None:
    if kind in LIBRARIES:
        pytest.importorskip(LIBRARIES[kind])

    @FULL
    @given(which=st.integers(0, 4), edits=EDITS)
    def run(which: int, edits: list[tuple[float, int, bytes]]) -> None:
        check(kind, which, edits, tmp_path)

    run()


@pytest.mark.parametrize(
    ("text", "library", "says"),
    [
        (gerber().replace("M02*", "%SRX99999Y99999I1J1*%\nM02*"), "gerbonara", "repeats itself too often"),
        (gerber().replace("X25000000", "X99999999999999"), "gerbonara", "further off than 10 m"),
        (dxf().replace("40\n10.000000000", "40\n1e14"), "ezdxf", "further off than 10 m"),
    ],
)
def test_files_that_would_take_for_ever_are_refused(text: str, library: str, says: str, tmp_path: Path) -> None:
    pytest.importorskip(library)
    path = tmp_path / "edge.txt"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileInvalid, match=says):
        read_outline(path)
