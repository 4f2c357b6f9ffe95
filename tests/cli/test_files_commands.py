"""check, new and schema, through the group."""

from __future__ import annotations

import json

import jsonschema
import pytest
from click.testing import CliRunner, Result

from irspot.cli.main import main
from tests.tiny import write_tiny


def invoke(*arguments: object) -> Result:
    result = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def test_check_of_a_sound_study(tmp_path):
    result = invoke("check", write_tiny(tmp_path))
    assert (result.exit_code, result.stderr) == (0, "")
    *runs, summary = result.stdout.splitlines()
    assert runs[0].startswith("run w1-stock-front: 2 frame files, 131 × 97 px, in K, 2 zones, the smallest, '")
    assert runs[1].startswith("run w1-stock-rear: 1 frame file, 131 × 97 px, in K, 1 zone, the smallest, 'ps-rear'")
    assert summary == "0 errors, 0 warnings; 2 of 2 runs can be evaluated"


def broken(folder):
    path = write_tiny(folder)
    path.write_text(
        path.read_text().replace("ambient_degc = 21.5", "ambiant_degc = 21.5").replace("frames/rear", "frames/r")
    )
    board = folder / "boards" / "w1.toml"
    text = board.read_text(encoding="utf-8").replace("emissivity = 0.95\nu_emissivity = 0.02\n", "")
    board.write_text(text, encoding="utf-8")
    return path


def test_check_prints_every_problem_to_stdout_one_a_line(tmp_path):
    result = invoke("check", broken(tmp_path))
    assert (result.exit_code, result.stderr) == (1, "")
    lines = result.stdout.splitlines()
    assert [line.split(":")[0] for line in lines[:3]] == ["error", "error", "warning"]
    assert not any(line.startswith(("error", "warning")) for line in lines[3:])
    assert "run[0].ambiant_degc: unknown key; did you mean 'ambient_degc'?" in lines[0]
    assert "run[1].frames: matches no file" in lines[1]
    assert "zone 'ps-rear' states neither emissivity nor material" in lines[2]
    assert lines[-1] == "2 errors, 1 warning; 0 of 2 runs can be evaluated"


def test_check_as_json(tmp_path):
    result = invoke("check", broken(tmp_path), "--json")
    assert result.exit_code == 1
    body = json.loads(result.stdout)
    assert (body["errors"], body["warnings"], body["ready"], body["listed"]) == (2, 1, 0, 2)
    assert body["problems"][0]["key"] == "run[0].ambiant_degc"
    good = json.loads(invoke("check", write_tiny(tmp_path / "good"), "--json").stdout)
    assert good["runs"][0]["size_px"] == [131, 97]
    assert good["runs"][0]["across_px"].keys() == {"ps", "chip"}


@pytest.mark.parametrize("name", ["none.toml", "."])
def test_check_of_no_study(tmp_path, name):
    result = invoke("check", tmp_path / name)
    assert result.exit_code == 1
    assert result.stdout.startswith("error: ")


def test_new_writes_templates_that_check_understands(tmp_path):
    result = invoke("new", tmp_path / "s")
    assert result.exit_code == 0
    assert result.stdout.splitlines()[0] == str(tmp_path / "s" / "study.toml")
    checked = invoke("check", tmp_path / "s" / "study.toml")
    assert checked.exit_code == 1
    assert len([line for line in checked.stdout.splitlines() if line.startswith("error")]) == 1
    assert "run[0].frames: matches no file" in checked.stdout


def test_new_overwrites_nothing(tmp_path):
    assert invoke("new", tmp_path).exit_code == 0
    result = invoke("new", tmp_path)
    assert (result.exit_code, result.stdout) == (1, "")
    assert "exists already" in result.stderr


@pytest.mark.parametrize("kind", ["board", "camera", "study"])
def test_schema_prints_a_schema(kind):
    result = invoke("schema", kind)
    assert (result.exit_code, result.stderr) == (0, "")
    jsonschema.Draft202012Validator.check_schema(json.loads(result.stdout))


def test_schema_of_nothing_is_misuse():
    result = invoke("schema", "bord")
    assert result.exit_code == 2
    assert "'board', 'camera', 'study'" in result.stderr


def test_check_prints_sheets_for_the_bench(tmp_path):
    result = invoke("check", write_tiny(tmp_path), "--checklist")
    assert result.exit_code == 0
    assert result.stdout.startswith("Wren W1 (invented) (w1): sheet for the bench")
    bad = invoke("check", broken(tmp_path / "bad"), "--checklist")
    assert bad.exit_code == 1
    assert "irspot: error" in bad.stderr
    assert invoke("check", tmp_path / "study.toml", "--checklist", "--json").exit_code == 2


def test_check_says_what_the_set_up_can_tell(tmp_path):
    result = invoke("check", write_tiny(tmp_path))
    assert "w1, front (run w1-stock-front):\n  can tell: 1.0 mm a pixel" in result.stdout
    document = json.loads(invoke("check", tmp_path / "study.toml", "--json").stdout)
    assert [each["run"] for each in document["set_ups"]] == ["w1-stock-front", "w1-stock-rear"]
