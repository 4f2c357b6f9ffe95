"""Mutated files: whatever they hold, only `FileInvalid` may come out, with one printable line a problem."""

from __future__ import annotations

import copy
import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from irspot.errors import FileInvalid
from irspot.files import read_board, read_camera, read_study
from irspot.files.board import board_of
from irspot.files.camera import camera_of
from irspot.files.findings import Findings
from irspot.files.study import study_of
from tests.files import samples

DOCUMENTS = {"board": samples.BOARD, "camera": samples.CAMERA, "study": samples.STUDY}
READERS = {"board": read_board, "camera": read_camera, "study": read_study}
QUIET = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
DEFAULT = settings(max_examples=200, deadline=None, suppress_health_check=QUIET)
FULL = settings(max_examples=2000, deadline=None, suppress_health_check=QUIET)

scalars = st.one_of(
    st.none().map(lambda _: {}),
    st.booleans(),
    st.integers(),
    st.integers(min_value=10**300, max_value=10**310),
    st.floats(),
    st.text(max_size=30),
    st.sampled_from(["auto", "front", "elsewhere", "\x1b[2J", "..", "x" * 3000, "nan", "{{7*7}}", "=1+1", "frames/*"]),
    st.dates(),
    st.datetimes(),
)
values = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=5) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=8,
)


def places(document: Any, path: tuple = ()) -> list[tuple]:
    """Every place of a document that can be changed."""
    found = [path] if path else []
    items = (
        document.items() if isinstance(document, dict) else enumerate(document) if isinstance(document, list) else ()
    )
    for key, value in items:
        found += places(value, (*path, key))
    return found


@st.composite
def mutated_documents(draw: st.DrawFn, kind: str) -> dict[str, Any]:
    document = copy.deepcopy(DOCUMENTS[kind])
    for _ in range(draw(st.integers(1, 4))):
        *path, last = draw(st.sampled_from(places(document)))
        holder = document
        for step in path:
            holder = holder[step]
        how = draw(st.sampled_from(["replace", "remove", "rename", "repeat"]))
        if how == "replace":
            holder[last] = draw(values)
        elif how == "remove":
            del holder[last]
        elif isinstance(holder, list):
            holder.append(copy.deepcopy(holder[last]))
        else:
            holder[draw(st.text(min_size=1, max_size=12))] = holder.pop(last)
        if not document:
            break
    return document


def check_refusal(refusal: FileInvalid) -> None:
    problems = refusal.problems()
    assert any(problem.severity == "error" for problem in problems)
    for problem in problems:
        assert problem.message
        assert str(problem).isprintable()
        assert len(str(problem)) < 2500


def check_board(board: Any) -> None:
    """What was accepted keeps the promises of the values."""
    assert board.outline.box_mm[:2] == pytest.approx((0.0, 0.0), abs=1e-6)
    assert len({zone.id.lower() for zone in board.zones} | {"elsewhere"}) == len(board.zones) + 1
    for zone in board.zones:
        assert all(math.isfinite(value) for value in zone.shape.box_mm)
        assert 0.0 < zone.emissivity <= 1.0


def run_document(kind: str, document: dict[str, Any], folder: Path) -> None:
    original = copy.deepcopy(document)
    findings = Findings("f.toml")
    try:
        if kind == "board":
            check_board(board_of(document, findings))
        elif kind == "camera":
            camera = camera_of(document, findings)
            assert camera.signal.scale != 0.0
            assert 0.0 < camera.signal.settings.emissivity <= 1.0
        else:
            study = study_of(document, folder / "study.toml", findings)
            assert len(study.order) == len(study.runs) + len(study.bad_runs)
            assert len({run_id.lower() for run_id in study.order}) == len(study.order)
            assert all(run.frame_files for run in study.runs)
            assert all(bad.problems for bad in study.bad_runs)
    except FileInvalid as refusal:
        check_refusal(refusal)
    # NaN is unlike itself, so documents are compared as they print.
    assert repr(document) == repr(original)


def run_text(kind: str, data: bytes, folder: Path) -> None:
    path = folder / f"mutated-{kind}.toml"
    path.write_bytes(data)
    try:
        READERS[kind](path)
    except FileInvalid as refusal:
        check_refusal(refusal)


@st.composite
def mutated_texts(draw: st.DrawFn, kind: str) -> bytes:
    data = bytearray(samples.toml(DOCUMENTS[kind]).encode())
    for _ in range(draw(st.integers(1, 6))):
        at = draw(st.integers(0, len(data)))
        end = min(len(data), at + draw(st.integers(0, 40)))
        new = draw(
            st.binary(max_size=8) | st.text(alphabet="[]{}=\"'.,#\n\\0123456789abe-+_ \t", max_size=12).map(str.encode)
        )
        how = draw(st.sampled_from(["replace", "insert", "double", "cut"]))
        if how == "replace":
            data[at:end] = new
        elif how == "insert":
            data[at:at] = new
        elif how == "double":
            data[at:at] = data[at:end]
        elif draw(st.booleans()):
            del data[at:]
    return bytes(data)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    samples.study_folder(tmp_path)
    return tmp_path


@pytest.mark.parametrize("kind", DOCUMENTS)
def test_mutated_documents(kind, folder):
    DEFAULT(given(mutated_documents(kind))(lambda document: run_document(kind, document, folder)))()


@pytest.mark.parametrize("kind", DOCUMENTS)
def test_mutated_texts(kind, folder):
    DEFAULT(given(mutated_texts(kind))(lambda data: run_text(kind, data, folder)))()


@pytest.mark.full
@pytest.mark.parametrize("kind", DOCUMENTS)
def test_mutated_documents_in_full(kind, folder):
    FULL(given(mutated_documents(kind))(lambda document: run_document(kind, document, folder)))()


@pytest.mark.full
@pytest.mark.parametrize("kind", DOCUMENTS)
def test_mutated_texts_in_full(kind, folder):
    FULL(given(mutated_texts(kind))(lambda data: run_text(kind, data, folder)))()
