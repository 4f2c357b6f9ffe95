"""``irspot twoview`` as its user runs it."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from irspot.cli.main import main
from irspot.columns import TWO_VIEW_COLUMNS
from irspot.synthetic.view import project
from irspot.synthetic.view_pairs import SIZE_PX, ViewPair, view_pair
from irspot.two_views import ZoneInTwoViews
from irspot.workflow.two_views import notes_on
from tests.tiny import write_tiff


@pytest.fixture(scope="module")
def pair() -> ViewPair:
    return view_pair(21, apart_deg=(14.0, 18.0))


def corners(pair: ViewPair, which: int) -> str:
    flat = np.column_stack([pair.board.outline.array_mm, np.zeros(4)])
    places = project(flat, pair.poses[which], "front", pair.frames[which].camera.optics, SIZE_PX)
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in places)


def write(folder: Path, pair: ViewPair) -> list[str]:
    """Write two frames, board and camera; give the arguments."""
    for name, frame in zip("ab", pair.frames, strict=True):
        write_tiff(folder / f"{name}.tiff", np.asarray(frame.stored, np.float64))
    x1, y1 = pair.board.outline.box_mm[2:]
    board = f'schema = 1\nname = "Pair (invented)"\n[outline]\nwidth_mm = {x1}\nheight_mm = {y1}\n'
    for zone in pair.board.zones:
        x0, y0, x1, y1 = zone.shape.box_mm
        board += (
            f'[[zone]]\nid = "{zone.id}"\nrole = "r"\nrect_mm = [{x0}, {y0}, {x1 - x0}, {y1 - y0}]\n'
            f"emissivity = {zone.emissivity}\nu_emissivity = {zone.u_emissivity}\nheight_mm = {zone.height_mm}\n"
        )
    (folder / "board.toml").write_text(board, encoding="utf-8")
    optics = pair.frames[0].camera.optics
    (folder / "camera.toml").write_text(
        f'schema = 1\nname = "Pair"\n[signal]\nunit = "K"\nscale = 0.01\n[optics]\nfocal_px = {optics.focal_px}\n'
        f"blur_px = {optics.blur_px}\n[accuracy]\nlimit_k = 2.0\nlimit_relative = 0.0\nnoise_k = 0.1\n",
        encoding="utf-8",
    )
    a, b, board_file, camera = (str(folder / name) for name in ("a.tiff", "b.tiff", "board.toml", "camera.toml"))
    return [a, b, "--board", board_file, "--camera", camera, "--top", "up", "--ambient-degc", "22"]


def by_hand(pair: ViewPair) -> list[str]:
    return ["--corners-px", corners(pair, 0), "--corners-px-b", corners(pair, 1)]


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["twoview", *arguments])


def test_a_table_in_a_pipe(tmp_path: Path, pair: ViewPair) -> None:
    result = run(*write(tmp_path, pair), *by_hand(pair))
    assert result.exit_code == 0, result.stderr
    rows = list(csv.DictReader(io.StringIO(result.stdout), delimiter="\t"))
    assert list(rows[0]) == [column.name for column in TWO_VIEW_COLUMNS]
    assert [row["zone"] for row in rows] == [*(zone.id for zone in pair.board.zones), "elsewhere"]
    for cell, row in zip(pair.cells, rows[:-1], strict=True):
        if cell.kind == "mirror" and row["verdict"] == "steady":
            assert cell.thing is not None
            assert cell.thing.at_mm[2] <= float(row["nearest_mm"])
        elif cell.kind in ("real", "peaks", "raised"):
            assert row["verdict"] != "moved"
            assert float(row["distance_mm"]) >= 0.0
    assert {"steady", "moved"} <= {row["verdict"] for row in rows}


def test_boards_are_found_too(tmp_path: Path, pair: ViewPair) -> None:
    result = run(*write(tmp_path, pair), "--json")
    assert result.exit_code == 0, result.stderr
    assert [frame["placement"]["method"] for frame in json.loads(result.stdout)["frames"]] == ["auto", "auto"]


def test_files_and_json_agree(tmp_path: Path, pair: ViewPair) -> None:
    arguments = [*write(tmp_path, pair), *by_hand(pair), "-o", str(tmp_path / "out"), "--size", "960x540", "--json"]
    result = run(*arguments)
    assert result.exit_code == 0, result.stderr
    document = json.loads(result.stdout)
    assert json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8")) == document
    assert set(document["outputs"]) == {"two_views.csv", "pictures/a.png", "pictures/b.png"}
    for name, digest in document["outputs"].items():
        assert hashlib.sha256((tmp_path / "out" / name).read_bytes()).hexdigest() == digest
    with Image.open(tmp_path / "out" / "pictures" / "b.png") as image:
        assert image.size == (960, 540)
    rows = list(csv.DictReader((tmp_path / "out" / "two_views.csv").read_text(encoding="utf-8").splitlines()))
    assert [row["verdict"] for row in rows] == [row["verdict"] for row in document["rows"]]
    assert [column["name"] for column in document["columns"]] == list(rows[0])
    assert set(document["inputs"]) == {"a.tiff", "b.tiff", "board.toml", "camera.toml"}
    again = run(*arguments)
    assert again.stdout == result.stdout


def test_a_refused_placement_names_its_frame(tmp_path: Path, pair: ViewPair) -> None:
    arguments = write(tmp_path, pair)
    write_tiff(tmp_path / "b.tiff", np.full((241, 317), 30.0))
    result = run(*arguments, "--corners-px", corners(pair, 0), "--json")
    assert result.exit_code == 1
    assert "b.tiff" in result.stderr
    assert json.loads(result.stdout)["error"]["code"]
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--reflected-degc", "-300"], "below absolute zero"),
        (["--u-reflected-k", "-1"], "must not be negative"),
        (["--transmission", "0"], "above 0"),
        (["--corners-px-b", "1,2 3"], "is not a place"),
        (["--point-b", "h1=1,2", "--corners-px-b", "1,2 3,4 5,6 7,8"], "contradict"),
    ],
)
def test_misuse(tmp_path: Path, pair: ViewPair, more: list[str], said: str) -> None:
    result = run(*write(tmp_path, pair), *more)
    assert result.exit_code == 2
    assert said in result.stderr


def test_outputs_go_over_no_input(tmp_path: Path, pair: ViewPair) -> None:
    arguments = [*write(tmp_path, pair), *by_hand(pair)]
    (tmp_path / "two_views.csv").write_text("mine", encoding="utf-8")
    result = run(*arguments, "-o", str(tmp_path))
    assert result.exit_code == 1
    assert "not an output of an earlier run" in result.stderr
    assert (tmp_path / "two_views.csv").read_text(encoding="utf-8") == "mine"


def test_a_swapped_view_is_noted(tmp_path: Path, pair: ViewPair) -> None:
    """The second view placed upside down: nothing stays, and the note says what to check."""
    places = corners(pair, 1).split()
    turned = " ".join(places[2:] + places[:2])
    result = run(*write(tmp_path, pair), "--corners-px", corners(pair, 0), "--corners-px-b", turned, "--top-b", "down")
    assert result.exit_code == 0, result.stderr
    assert "check both placements" in result.stderr


def test_another_state_is_noted(pair: ViewPair) -> None:
    zones = tuple(ZoneInTwoViews(f"z{n}", "steady", "", difference_k=-3.0, U_difference_k=1.0) for n in range(4))
    assert list(notes_on(zones)) == ["most zones read hotter in B: was the board in the same state both times?"]
    assert list(notes_on(zones[:2])) == []
