from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from irspot.cli.main import main as cli
from irspot.workflow.check import check_study
from tests.tiny import CORNERS, STUDY, temperatures, write_tiny


def warnings_of(report, key: str = "") -> list[str]:
    return [p.message for p in report.problems if p.severity == "warning" and p.key.startswith(key)]


def test_a_sound_study_gives_facts_and_no_problem(tmp_path):
    report = check_study(write_tiny(tmp_path))
    assert report.problems == ()
    assert (report.ready, report.listed) == (2, 2)
    front, rear = report.runs
    assert (front.run, front.frames, front.size_px, front.unit, front.zones) == ("w1-stock-front", 2, (131, 97), "K", 2)
    assert (rear.frames, rear.zones) == (1, 1)
    # The board shows at one px a mm, so a zone is as wide in px as its shorter side in mm, to a pixel.
    assert dict(front.across_px) == pytest.approx({"ps": 15.6, "chip": 15.6}, abs=1.0)
    assert dict(rear.across_px) == pytest.approx({"ps-rear": 15.6}, abs=1.0)


def test_what_the_set_up_cannot_tell(tmp_path):
    path = write_tiny(tmp_path)
    path.write_text(path.read_text().replace("ambient_degc = 21.5\n", "").replace("\nreflected_degc = 22.0", ""))
    board = tmp_path / "boards" / "w1.toml"
    text = board.read_text(encoding="utf-8").replace("[60.2, 20.2, 15.6, 15.6]", "[60.2, 20.2, 6.6, 15.6]")
    board.write_text(text.replace("emissivity = 0.95\nu_emissivity = 0.02\n", ""), encoding="utf-8")
    camera = tmp_path / "camera.toml"
    camera.write_text(camera.read_text(encoding="utf-8").replace("limit_k = 1.0\nlimit_relative = 0.01\n", ""))
    report = check_study(path)
    assert (report.errors, report.ready) == (0, 2)
    assert warnings_of(report, "run[0].ambient") == ["no ambient_degc, so the run tells no rise (w1-stock-front)"]
    assert len(warnings_of(report, "run[0].reflected")) == len(warnings_of(report, "run[1].reflected")) == 1
    (small,) = (message for message in warnings_of(report, "run[0]") if "across" in message)
    across = dict(report.runs[0].across_px)["chip"]
    assert small == f"zone 'chip' is {across:.1f} px across; 10 are wanted (w1-stock-front)"
    assert across == pytest.approx(6.6, abs=1.0)
    assert ["ps-rear" in message for message in warnings_of(report, "zone[2]")] == [True]
    assert len(warnings_of(report, "accuracy")) == 1
    assert report.warnings == 6


def test_a_zone_beside_the_frame_is_warned_of(tmp_path):
    path = write_tiny(tmp_path)
    # The same board, seen so far to the left that the power stages lie outside.
    path.write_text(
        path.read_text().replace(
            "[[15, 84], [115, 84], [115, 14], [15, 14]]", "[[-35, 84], [65, 84], [65, 14], [-35, 14]]"
        )
    )
    messages = [m for m in warnings_of(check_study(path), "run[0]") if "outside the frame" in m]
    assert len(messages) == 1
    assert "'ps'" in messages[0]


def test_everything_is_reported_at_once_errors_first(tmp_path):
    study = STUDY.replace("frames/rear.tiff", "frames/none.tiff").replace("ambient_degc = 21.5\n", "")
    path = write_tiny(tmp_path, study)
    (tmp_path / "frames" / "front-1.tiff").write_bytes(b"II*\0 cut off")
    report = check_study(path)
    severities = [p.severity for p in report.problems]
    assert severities == sorted(severities)
    assert {p.key for p in report.problems if p.severity == "error"} >= {"run[1].frames"}
    assert any(p.file.endswith("front-1.tiff") for p in report.problems if p.severity == "error")
    assert any(p.key == "run[0].ambient_degc" for p in report.problems)
    assert (report.ready, report.listed) == (0, 2)


def test_a_refused_placement_is_an_error(tmp_path):
    path = write_tiny(tmp_path)
    # Two corners swapped.
    path.write_text(
        path.read_text().replace(
            "[[15, 84], [115, 84], [115, 14], [15, 14]]", "[[15, 84], [115, 84], [15, 14], [115, 14]]"
        )
    )
    report = check_study(path)
    assert (report.errors, report.ready) == (1, 1)
    assert report.runs[0].across_px == ()


@pytest.mark.parametrize("text", ["schema = 1", "not toml", ""])
def test_a_hopeless_study_is_a_report_too(tmp_path, text):
    (tmp_path / "s.toml").write_text(text)
    report = check_study(tmp_path / "s.toml")
    assert report.errors > 0
    assert report.runs == ()


def test_values_that_do_not_fit_the_unit_are_found(tmp_path):
    path = write_tiny(tmp_path)
    camera = tmp_path / "camera.toml"
    camera.write_text(camera.read_text(encoding="utf-8").replace('unit = "K"', 'unit = "degC"'), encoding="utf-8")
    report = check_study(path)
    assert report.ready == 0
    assert any("K" in p.hint or "K" in p.wanted for p in report.problems if p.severity == "error")


def test_corners_whose_order_nothing_holds_are_warned_of(tmp_path):
    path = write_tiny(tmp_path, STUDY.replace('top = "up"\n', "", 1))
    assert [p.key for p in check_study(path).problems] == ["run[0].top"]


def test_a_recording_whose_readout_cannot_be_found_is_an_error(tmp_path):
    import numpy as np
    import tifffile

    path = write_tiny(tmp_path)
    frame = tifffile.imread(tmp_path / "frames" / "rear.tiff")
    tifffile.imwrite(tmp_path / "frames" / "rear.tiff", np.stack([frame] * 3), photometric="minisblack")
    report = check_study(path)
    assert [p.severity for p in report.problems] == ["error"]
    assert "frame_interval_s" in str(report.problems[0])


def set_ups(report) -> dict[str, str]:
    return {each.run: "\n".join((*each.can, *each.cannot)) for each in report.set_ups}


def test_it_says_what_the_set_up_can_and_cannot_tell(tmp_path):
    path = write_tiny(tmp_path)
    board = tmp_path / "boards" / "w1.toml"
    text = board.read_text(encoding="utf-8").replace("u_emissivity = 0.01", "u_emissivity = 0.01\nmeasures = 'other'")
    text = text.replace("emissivity = 0.95\nu_emissivity = 0.02", "emissivity = 0.15\nu_emissivity = 0.02")
    text = text.replace('role = "power-stage"\n', 'role = "power-stage"\nlimit_degc = 105.0\nlimit_kind = "case"\n')
    board.write_text(text, encoding="utf-8")
    said = set_ups(check_study(path))
    assert "1.0 mm a pixel in its first frame: hot spots 10 mm across" in said["w1-stock-front"]
    # The tiny camera: 1 % of 105 °C, rectangular, and 0.05 K of noise.
    assert "'ps': at 105 °C ± 1.2 K, mostly camera limit" in said["w1-stock-front"]
    assert "whether 'ps' keeps its limit: the case has it" in said["w1-stock-front"]
    assert "how hot 'ps-rear' is: bare metal" in said["w1-stock-rear"]
    assert "'ps-rear': at" not in said["w1-stock-rear"], "metal gives no plain maximum to foretell"


def test_runs_that_lack_only_their_frames_are_told_about_too(tmp_path):
    camera_line = 'unit = "K"\nscale = 0.01\n'
    path = write_tiny(tmp_path, STUDY.replace("frames/rear.tiff", "frames/none.tiff"))
    camera = tmp_path / "camera.toml"
    with_optics = camera.read_text(encoding="utf-8").replace(
        camera_line, camera_line + "[optics]\nsize_px = [131, 97]\nfocal_px = 150.0\n"
    )
    camera.write_text(with_optics, encoding="utf-8")
    report = check_study(path)
    assert (report.errors, report.ready) == (1, 1)
    # 90 % of 131 columns for 100 mm: 1.18 px a mm.
    assert "0.85 mm a pixel if the board fills the frame, the camera 127 mm away" in set_ups(report)["w1-stock-rear"]
    wrong = STUDY.replace("frames/rear.tiff", "frames/none.tiff").replace('side = "rear"', 'side = "read"')
    path.write_text(wrong, encoding="utf-8")
    assert set(set_ups(check_study(path))) == {"w1-stock-front"}


def test_zones_of_one_fault_are_named_together(tmp_path):
    path = write_tiny(tmp_path)
    path.write_text(
        path.read_text().replace(
            "[[15, 84], [115, 84], [115, 14], [15, 14]]", "[[-115, 84], [-15, 84], [-15, 14], [-115, 14]]"
        )
    )
    messages = [m for m in warnings_of(check_study(path), "run[0]") if "outside the frame" in m]
    assert [m.split(":")[0] for m in messages] == ["every zone"]


def test_check_says_how_long_recordings_are_and_what_is_measured_of_them(tmp_path: Path) -> None:
    run = RECORDING.format(keys="frame_interval_s = 0.5\nsample_s = 2.0")
    study = write_tiny(tmp_path / "s", STUDY + run)
    counts = np.rint((temperatures() + 273.15) * 100.0).astype(np.uint16)
    np.save(tmp_path / "s" / "frames" / "long.npy", np.stack([counts] * 9))
    facts = {each.run: each for each in check_study(study).runs}
    assert (facts["long"].recorded, facts["long"].lasts_s, facts["long"].measured) == (9, 4.0, 3)
    assert (facts["w1-stock-front"].recorded, facts["w1-stock-front"].lasts_s) == (2, None)
    shown = CliRunner().invoke(cli, ["check", str(study)]).output
    assert "run long: 1 frame file, 9 frames in 4.0 s, 3 of them measured over time" in shown
    study.write_text(study.read_text(encoding="utf-8").replace("sample_s = 2.0", "sample_s = 0"), encoding="utf-8")
    assert "every frame measured over time" in CliRunner().invoke(cli, ["check", str(study)]).output
    study.write_text(study.read_text(encoding="utf-8").replace("frame_interval_s = 0.5", 'readout = "all"'), "utf-8")
    problems = [problem for problem in check_study(study).problems if problem.severity == "error"]
    assert "frame_interval_s" in str(problems[0])


RECORDING = f"""
[[run]]
id = "long"
board = "w1"
load = "stock"
side = "front"
frames = "frames/long.npy"
corners_px = {CORNERS}
top = "up"
{{keys}}
"""
