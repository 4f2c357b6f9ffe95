"""Commands on a board whose marks tell the way round: no ``--top`` is given anywhere."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from irspot.cli.main import main
from irspot.synthetic.marked_scenes import MarkedScene, marked_scene
from tests.cli.test_place import write_scene

SEED = 5003


@pytest.fixture(scope="module")
def marked() -> MarkedScene:
    return marked_scene(SEED, shape="rectangle", size_px=(384, 288), share_drawn=1.0, count=6)


def write_marked(folder: Path, marked: MarkedScene) -> list[str]:
    """Write a scene's frame, board with marks and a zone, and camera; give the arguments that name them, no top."""
    arguments = write_scene(folder, marked.scene)
    board = folder / "board.toml"
    text = board.read_text(encoding="utf-8")
    text += '[[zone]]\nid = "middle"\nside = "{}"\ncircle_mm = [{}, {}, 12]\n'.format(
        marked.scene.side, *middle(marked)
    )
    for mark in marked.scene.board.marks:
        text += f'[[mark]]\nid = "{mark.id}"\nx_mm = {mark.x_mm}\ny_mm = {mark.y_mm}\n'
    board.write_text(text, encoding="utf-8")
    return arguments[: arguments.index("--top")]


def middle(marked: MarkedScene) -> list[float]:
    x0, y0, x1, y1 = marked.scene.board.outline.box_mm
    return [round((x0 + x1) / 2.0, 1), round((y0 + y1) / 2.0, 1)]


def run(command: str, *arguments: str) -> Result:
    return CliRunner().invoke(main, [command, *arguments])


def test_place_needs_no_top_and_names_the_marks(tmp_path: Path, marked: MarkedScene) -> None:
    arguments = write_marked(tmp_path, marked)
    result = run("place", *arguments)
    assert result.exit_code == 0, result.stderr
    facts = dict(line.split("\t") for line in result.stdout.split("\n\n")[1].splitlines())
    assert facts["method"] == "auto"
    assert len(facts["marks"].split()) >= 3
    document = json.loads(run("place", *arguments, "--json").stdout)
    assert document["placement"]["marks"] == facts["marks"].split()
    corners = np.array([corner["px"] for corner in document["placement"]["corners"]])
    assert np.hypot(*(corners - marked.scene.corners_px).T).max() < 1.0


def test_place_says_which_way_round_the_marks_show(tmp_path: Path, marked: MarkedScene) -> None:
    sides = ("up", "right", "down", "left")
    wrong = sides[(sides.index(marked.scene.top) + 2) % 4]
    result = run("place", *write_marked(tmp_path, marked), "--top", wrong)
    assert result.exit_code == 1
    assert f"wanted {marked.scene.top}, by the marks" in result.stderr
    assert f'set top = "{marked.scene.top}"' in result.stderr


def test_measure_needs_no_top(tmp_path: Path, marked: MarkedScene) -> None:
    result = run("measure", *write_marked(tmp_path, marked), "--json")
    assert result.exit_code == 0, result.stderr
    document = json.loads(result.stdout)
    placement = document["frame"]["placement"]
    assert len(placement["marks"]) >= 3
    assert document["rows"][0]["zone"] == "middle"
    assert document["rows"][0]["max_degc"] is not None


STUDY = """\
schema = 1
title = "Marked (invented)"
camera = "camera.toml"
utc_offset = "+00:00"
[[board]]
id = "b"
file = "board.toml"
[[load]]
id = "stock"
[[run]]
id = "r"
board = "b"
load = "stock"
side = "{side}"
frames = "frame.tiff"
placement = "auto"
ambient_degc = 21.0
reflected_degc = 22.0
"""


def test_check_and_run_need_no_top(tmp_path: Path, marked: MarkedScene) -> None:
    write_marked(tmp_path, marked)
    study = tmp_path / "study.toml"
    study.write_text(STUDY.format(side=marked.scene.side), encoding="utf-8")
    checked = run("check", str(study))
    assert checked.exit_code == 0, checked.output
    result = run("run", str(study), "-o", str(tmp_path / "out"))
    assert result.exit_code == 0, result.output
    document = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    text = json.dumps(document)
    assert '"marks": ["mark-' in text
    assert document["rows"][0]["max_degc"] is not None
