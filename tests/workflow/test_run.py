"""A study end to end: numbers, provenance, one bad run, reruns, any executor."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from irspot.errors import FileInvalid, OutputRefused
from irspot.workflow.run import StudyResult, run_study
from tests.tiny import CAMERA, CORNERS, REAR_CORNERS, STUDY, temperatures, write_tiff, write_tiny

SMALL = (960, 540)


def run(study: Path, out: Path, **options: object) -> StudyResult:
    with ThreadPoolExecutor(1) as pool:
        return run_study(study, out, pool, size=SMALL, **options)  # type: ignore[arg-type]


def table(out: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO((out / "results.csv").read_text(encoding="utf-8"))))


def row(out: Path, frame: str, zone: str) -> dict[str, str]:
    (found,) = [row for row in table(out) if (row["frame"], row["zone"]) == (frame, zone)]
    return found


def test_every_number_of_the_tiny_study(tmp_path: Path) -> None:
    result = run(write_tiny(tmp_path / "s"), tmp_path / "out")
    assert result.problems == ()
    front = row(tmp_path / "out", "front-1.tiff", "ps")
    assert float(front["pixel_max_degc"]) == pytest.approx(81.0, abs=0.01)
    # The declared noise would make the hottest of 300 like pixels read so much too high.
    assert float(front["max_degc"]) == pytest.approx(81.0 - 0.04, abs=0.02)
    assert float(front["rise_k"]) == pytest.approx(float(front["max_degc"]) - 21.5, abs=1e-3)
    assert front["time"] == "2026-03-01T12:00:00Z"
    assert (float(front["hot_x_mm"]), float(front["hot_y_mm"])) == pytest.approx((20.0, 48.0), abs=0.05)
    assert (float(front["hot_x_px"]), float(front["hot_y_px"])) == pytest.approx((35.0, 36.0), abs=0.05)
    assert int(front["pixels"]) == 20 * 15
    assert float(row(tmp_path / "out", "front-2.tiff", "chip")["mean_degc"]) == pytest.approx(61.0, abs=0.01)
    rear = row(tmp_path / "out", "rear.tiff", "ps-rear")
    assert (float(rear["hot_x_mm"]), float(rear["hot_y_mm"])) == pytest.approx((20.0, 48.0), abs=0.05)
    assert float(rear["max_degc"]) > 71.0, "emissivity 0.95 in surroundings at 22 °C reads higher than the radiance"
    # Order of the study: run, frame, zone of the board file, then elsewhere.
    assert [(r["frame"], r["zone"]) for r in table(tmp_path / "out")] == [
        ("front-1.tiff", "ps"),
        ("front-1.tiff", "chip"),
        ("front-1.tiff", "elsewhere"),
        ("front-2.tiff", "ps"),
        ("front-2.tiff", "chip"),
        ("front-2.tiff", "elsewhere"),
        ("rear.tiff", "ps-rear"),
        ("rear.tiff", "elsewhere"),
    ]


def test_the_uncertainty_of_a_black_zone_is_the_cameras_limit(tmp_path: Path) -> None:
    run(write_tiny(tmp_path / "s"), tmp_path / "out", pictures=False)
    front = row(tmp_path / "out", "front-1.tiff", "ps")
    # Limit: the larger of 1 K and 1 % of 81 °C, rectangular; noise 0.05 K; emissivity 1 without uncertainty.
    expected = 2.0 * np.sqrt((1.0 / np.sqrt(3.0)) ** 2 + 0.05**2)
    assert float(front["U_max_k"]) == pytest.approx(expected, rel=0.02)


def test_pictures_and_digests(tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = run(write_tiny(tmp_path / "s"), out)
    document = json.loads((out / "results.json").read_text(encoding="utf-8"))
    assert set(document["outputs"]) == {
        "results.csv",
        "pictures/w1-stock-front--front-1.png",
        "pictures/w1-stock-front--front-2.png",
        "pictures/w1-stock-rear.png",
        "report.html",
        "zone_history.json",
    }
    for name, digest in document["outputs"].items():
        assert hashlib.sha256((out / name).read_bytes()).hexdigest() == digest
        if name.endswith(".png"):
            with Image.open(out / name) as drawn:
                assert drawn.size == SMALL
    for name, digest in document["inputs"].items():
        assert hashlib.sha256((tmp_path / "s" / name).read_bytes()).hexdigest() == digest
    assert set(document["inputs"]) == {
        "study.toml",
        "camera.toml",
        "boards/w1.toml",
        "frames/front-1.tiff",
        "frames/front-2.tiff",
        "frames/rear.tiff",
    }
    assert result.outputs[-1] == "results.json"
    assert len(document["rows"]) == 8
    assert document["runs"][0]["frames"][0]["placement"]["method"] == "corners"
    assert document["settings"]["scale_degc"] == list(result.scale_degc)


def test_a_rerun_and_another_folder_give_the_same_bytes(tmp_path: Path) -> None:
    run(write_tiny(tmp_path / "s"), tmp_path / "a")
    first = {p.name: p.read_bytes() for p in (tmp_path / "a").rglob("*") if p.is_file()}
    run(tmp_path / "s" / "study.toml", tmp_path / "a")
    assert {p.name: p.read_bytes() for p in (tmp_path / "a").rglob("*") if p.is_file()} == first
    run(write_tiny(tmp_path / "anderswo – ü"), tmp_path / "b")
    assert (tmp_path / "b" / "results.csv").read_bytes() == first["results.csv"]
    assert (tmp_path / "b" / "results.json").read_bytes() == first["results.json"]


def test_a_bad_run_is_reported_and_the_others_finish(tmp_path: Path) -> None:
    study = write_tiny(tmp_path / "s")
    (tmp_path / "s" / "frames" / "rear.tiff").write_bytes(b"not a picture at all")
    result = run(study, tmp_path / "out")
    assert len(result.problems) == 1
    assert "rear.tiff" in str(result.problems[0])
    assert "w1-stock-rear" in str(result.problems[0])
    assert len(table(tmp_path / "out")) == 6
    document = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    assert "rear.tiff" in document["problems"][0]


def test_one_unreadable_still_does_not_take_its_run_down(tmp_path: Path) -> None:
    study = write_tiny(tmp_path / "s")
    (tmp_path / "s" / "frames" / "front-1.tiff").write_bytes(b"")
    result = run(study, tmp_path / "out")
    assert {r["frame"] for r in table(tmp_path / "out")} == {"front-2.tiff", "rear.tiff"}
    assert len(result.problems) == 1


def test_a_refused_placement_leaves_empty_rows_and_a_picture_of_what_was_seen(tmp_path: Path) -> None:
    mirrored = STUDY.replace(REAR_CORNERS, "[[15, 84], [115, 84], [115, 14], [15, 14]]")
    result = run(write_tiny(tmp_path / "s", mirrored), tmp_path / "out")
    refused = row(tmp_path / "out", "rear.tiff", "ps-rear")
    assert refused["verdict"] == "retake"
    assert refused["max_degc"] == refused["U_max_k"] == refused["hot_x_mm"] == ""
    assert "not-placed" in refused["flags"].split(";")
    assert not (tmp_path / "out" / "pictures" / "w1-stock-rear.png").exists()
    assert "w1-stock-rear" in str(result.problems[0])
    seen = "pictures/w1-stock-rear-placement.png"
    assert seen in result.outputs
    digest = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))["outputs"][seen]
    assert hashlib.sha256((tmp_path / "out" / seen).read_bytes()).hexdigest() == digest
    with Image.open(tmp_path / "out" / seen) as drawn:
        assert drawn.size == SMALL


def test_every_refused_frame_of_a_run_gets_its_picture(tmp_path: Path) -> None:
    mirrored = STUDY.replace(CORNERS, REAR_CORNERS, 1)
    result = run(write_tiny(tmp_path / "s", mirrored), tmp_path / "out")
    assert {name for name in result.outputs if name.endswith(".png")} == {
        "pictures/w1-stock-front--front-1-placement.png",
        "pictures/w1-stock-front--front-2-placement.png",
        "pictures/w1-stock-rear.png",
    }


def test_a_study_of_refused_frames_alone_is_drawn_without_a_scale(tmp_path: Path) -> None:
    crossed = STUDY.replace(CORNERS, REAR_CORNERS, 1).replace(
        f'corners_px = {REAR_CORNERS}\ntop = "up"\nambient_degc = 21.0',
        f'corners_px = {CORNERS}\ntop = "up"\nambient_degc = 21.0',
    )
    result = run(write_tiny(tmp_path / "s", crossed), tmp_path / "out")
    assert len([name for name in result.outputs if name.endswith("-placement.png")]) == 3
    assert len(result.problems) == 3


def test_a_study_that_cannot_be_used_writes_nothing(tmp_path: Path) -> None:
    study = write_tiny(tmp_path / "s", "schema = 1\ntitle = ")
    with pytest.raises(FileInvalid, match=r"study\.toml"):
        run(study, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_results_never_go_over_an_input_or_a_strangers_file(tmp_path: Path) -> None:
    study = write_tiny(tmp_path / "s")
    (tmp_path / "s" / "results.csv").write_text("mine")
    with pytest.raises(OutputRefused):
        run(study, tmp_path / "s")
    assert (tmp_path / "s" / "results.csv").read_text() == "mine"


def test_a_recording_is_reported_once_at_its_readout(tmp_path: Path) -> None:
    import tifffile

    study = write_tiny(
        tmp_path / "s", STUDY.replace('frames/rear.tiff"', 'frames/rear.tiff"\nreadout = "last 2 frames"')
    )
    pages = [temperatures(60.0, side="rear"), temperatures(69.0, side="rear"), temperatures(71.0, side="rear")]
    counts = np.stack([np.rint((page + 273.15) * 100.0).astype(np.uint16) for page in pages])
    tifffile.imwrite(tmp_path / "s" / "frames" / "rear.tiff", counts, photometric="minisblack")
    result = run(study, tmp_path / "out")
    assert result.problems == ()
    rear = row(tmp_path / "out", "rear.tiff", "ps-rear")
    assert rear["averaged"] == "2"
    single = tmp_path / "single"
    write_tiny(single)
    write_tiff(single / "frames" / "rear.tiff", temperatures(70.0, side="rear"))
    run(single / "study.toml", tmp_path / "out1")
    assert float(rear["max_degc"]) == pytest.approx(
        float(row(tmp_path / "out1", "rear.tiff", "ps-rear")["max_degc"]), abs=0.02
    )


def test_all_pictures_share_one_scale(tmp_path: Path) -> None:
    result = run(write_tiny(tmp_path / "s"), tmp_path / "out", pictures=False)
    low, high = result.scale_degc
    assert low <= 22.0
    assert high >= 83.0
    locked = run(
        write_tiny(tmp_path / "t", STUDY.replace("utc_offset", "scale_degc = [10, 120]\nutc_offset")),
        tmp_path / "o2",
        pictures=False,
    )
    assert locked.scale_degc == (10.0, 120.0)


def test_progress_is_told(tmp_path: Path) -> None:
    told: list[str] = []
    run(
        write_tiny(tmp_path / "s"),
        tmp_path / "out",
        progress=lambda done, total, name: told.append(f"{done}/{total} {name}"),
    )
    assert told[:2] == ["1/2 w1-stock-front", "2/2 w1-stock-rear"]
    assert len(told) == 4


def test_the_default_pool_of_processes_gives_the_same(tmp_path: Path) -> None:
    study = write_tiny(tmp_path / "s")
    run(study, tmp_path / "a")
    run_study(study, tmp_path / "b", size=SMALL)
    assert (tmp_path / "a" / "results.json").read_bytes() == (tmp_path / "b" / "results.json").read_bytes()


def test_a_cluster_of_dask_gives_the_same(tmp_path: Path) -> None:
    import distributed

    study = write_tiny(tmp_path / "s")
    run(study, tmp_path / "a")
    with (
        distributed.LocalCluster(
            n_workers=1, threads_per_worker=1, dashboard_address=None, processes=True, silence_logs=50
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        executor = client.get_executor()
        run_study(study, tmp_path / "b", executor, size=SMALL)
        assert executor.submit(sum, [1, 2]).result() == 3, "a supplied executor is not shut down"
    assert (tmp_path / "a" / "results.json").read_bytes() == (tmp_path / "b" / "results.json").read_bytes()


def test_a_readout_that_was_clipped_in_one_of_its_frames_is_a_lower_bound(tmp_path: Path) -> None:
    import tifffile

    study = write_tiny(tmp_path / "s", STUDY.replace('frames/rear.tiff"', 'frames/rear.tiff"\nreadout = "all"'))
    counts = np.stack([np.rint((temperatures(70.0, side="rear") + 273.15) * 100.0).astype(np.uint16)] * 3)
    counts[1, 35:38, 94:97] = 65_535  # a block: a single pixel would be taken for a dead one
    tifffile.imwrite(tmp_path / "s" / "frames" / "rear.tiff", counts, photometric="minisblack")
    (tmp_path / "s" / "camera.toml").write_text(CAMERA.replace("[-20.0, 250.0]", "[-20.0, 500.0]"), encoding="utf-8")
    run(study, tmp_path / "out", pictures=False)
    rear = row(tmp_path / "out", "rear.tiff", "ps-rear")
    assert "clipped" in rear["flags"].split(";")
    assert rear["verdict"] == "lower bound"


def test_a_clock_without_a_zone_leaves_time_empty_and_says_so(tmp_path: Path) -> None:
    run(write_tiny(tmp_path / "s", STUDY.replace('utc_offset = "+00:00"\n', "")), tmp_path / "out", pictures=False)
    front = row(tmp_path / "out", "front-1.tiff", "ps")
    assert front["time"] == ""
    assert "time-zone-unknown" in front["flags"].split(";")


def test_results_do_not_depend_on_how_the_study_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # A run by the name of one letter, which is part of many a key; a board outside the study's folder that is missing.
    text = STUDY.replace('id = "w1-stock-rear"', 'id = "r"').replace(REAR_CORNERS, "[[0, 0], [9, 0], [18, 0], [27, 0]]")
    lost = '[[board]]\nid = "w2"\nfile = "../lost/w2.toml"\n[[load]]'
    also = '[[run]]\nboard = "w2"\nload = "stock"\nframes = "frames/rear.tiff"\n'
    study = write_tiny(tmp_path / "s", text.replace("[[load]]", lost) + also)
    run(study, tmp_path / "out", pictures=False)
    monkeypatch.chdir(study.parent)
    result = run(Path("study.toml"), tmp_path / "again", pictures=False)
    documents = [(tmp_path / name / "results.json").read_bytes() for name in ("out", "again")]
    assert documents[0] == documents[1]
    refused, missing = json.loads(documents[0])["problems"]
    assert "run r, corners_px" in refused
    assert "'../lost/w2.toml'" in missing
    assert len(result.problems) == 2


def test_maxima_are_carried_to_the_reference_ambient(tmp_path: Path) -> None:
    run(write_tiny(tmp_path / "s"), tmp_path / "out", pictures=False)
    front, rear = row(tmp_path / "out", "front-1.tiff", "ps"), row(tmp_path / "out", "rear.tiff", "ps-rear")
    # 21 °C is the reference; the front was taken in 21.5 °C, the rear in 21.
    assert float(front["normalised_degc"]) == pytest.approx(float(front["max_degc"]) - 0.5, abs=2e-3)
    assert float(front["U_normalised_k"]) > float(front["U_rise_k"])
    assert float(rear["normalised_degc"]) == pytest.approx(float(rear["max_degc"]), abs=2e-3)


@pytest.mark.skipif(sys.platform != "linux", reason="only there names of files may be no text at all")
def test_a_frame_whose_name_is_no_text_is_measured_and_named_as_far_as_can_be(tmp_path: Path) -> None:
    study = write_tiny(tmp_path / "s")
    frames = sorted((tmp_path / "s" / "frames").glob("front-*"))
    os.rename(frames[0], os.fsencode(tmp_path / "s" / "frames") + b"/front-\xff1.tiff")
    result = run(study, tmp_path / "out")
    assert result.problems == ()
    document = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    assert any("front-" in row["frame"] and "\udcff" in row["frame"] for row in document["rows"])
    assert "front- 1.tiff" in (tmp_path / "out" / "results.csv").read_text(encoding="utf-8")
