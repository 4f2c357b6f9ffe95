from __future__ import annotations

import pytest

from irspot.workflow.check import check_study
from tests.tiny import STUDY, write_tiny


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
