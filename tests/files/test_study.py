from __future__ import annotations

from datetime import timedelta

import pytest

from irspot.camera import NO_CAMERA
from irspot.errors import FileInvalid
from irspot.files import read_study
from irspot.photo import DEFAULT_PHOTO_OPACITY, PhotoWish
from irspot.placing import AutoPlacement, CornersPx, PointsPx
from irspot.study import Load, Readout
from tests.files import samples


def read(tmp_path, document=None):
    return read_study(samples.study_folder(tmp_path, document))


def test_every_key_arrives(tmp_path):
    study = read(tmp_path)
    assert study.problems == ()
    assert study.title == "Spring mid-range boards (invented)"
    assert (study.reference_ambient_degc, study.ambient_tolerance_k, study.negligible_k) == (21.0, 1.0, 3.0)
    assert study.utc_offset == -timedelta(hours=3, minutes=30)
    assert study.scale_degc == (20.0, 95.5)
    assert study.order == ("first", "k7-stock-rear", "k7-stock-rear-2")
    board = study.board("k7")
    assert (board.price, board.currency, board.price_date, board.batch) == (240.0, "USD", "2026-03-01", "spring")
    assert board.file == tmp_path / "boards" / "k7.toml"
    assert study.loads == (Load("stock", "all-core render", 60.0, 372.0, "wall", 1.5, 0.1),)
    first, rear, recording = study.runs
    # Natural order, and case ignored: 2 before 10, .TIFF matched by *.tiff.
    assert [path.name for path in first.frame_files] == ["k7-2.TIFF", "k7-10.tiff"]
    assert first.placement == CornersPx(((80.0, 430.0), (560.0, 432.0), (556.0, 60.0), (84.0, 58.0)))
    assert (first.heating, first.session, first.mount, first.top) == ("k7-1", "monday", "m1", "up")
    assert (first.ambient_degc, first.u_ambient_k, first.reflected_degc, first.u_reflected_k) == (21.3, 0.2, 23.5, 3.0)
    assert (first.transmission, first.u_transmission, first.window_degc) == (0.9, 0.01, 25.0)
    assert (first.power_w, first.power_point) == (371.0, "wall")
    assert (first.sustained_clock_ghz, first.camera_on_min, first.replaces) == (4.8, 35.0, "k7-stock-rear")
    assert first.setup == (("cooler", "tower"), ("fans", "4"), ("quiet", "true"))
    assert first.notes == "straight on"
    assert first.camera_file == tmp_path / "camera.toml"
    assert first.camera.accuracy.range_degc == (100.0, 400.0)
    assert (first.camera.signal.settings.emissivity, first.camera.signal.settings.reflected_degc) == (0.97, 21.0)
    assert rear.placement == PointsPx(
        (("hole-a", 5.0, 6.0), ("hole-b", 7.5, 8.0), ("hole-c", 9.0, 10.0), ("hole-d", 11.0, 12.0))
    )
    assert (rear.side, rear.rejected, rear.reflected_degc, rear.recording) == ("rear", "fan fell off", 22.0, False)
    assert recording.placement == AutoPlacement()
    assert (recording.recording, recording.readout, recording.frame_interval_s) == (
        True,
        Readout(last_frames=20),
        0.111,
    )
    assert recording.power_point == "package"
    assert {run.photo_file for run in study.runs} == {tmp_path / "photos" / "k7.jpg"}
    corners = CornersPx(((310.0, 1650.0), (2240.0, 1662.0), (2228.0, 240.0), (322.0, 228.0)))
    assert first.photo == PhotoWish(corners, "left", 0.25)
    assert [file.name for file in first.cold_frame_files] == ["cold-2.tiff", "cold-10.tiff"]
    assert first.input_files == (*first.frame_files, *first.cold_frame_files, tmp_path / "photos" / "k7.jpg")
    assert rear.cold_frame_files == ()
    assert rear.photo == PhotoWish(rear.placement, None, DEFAULT_PHOTO_OPACITY)
    assert recording.photo == PhotoWish(AutoPlacement(), "right", DEFAULT_PHOTO_OPACITY)


def test_paths_are_relative_to_the_study(tmp_path, monkeypatch):
    samples.study_folder(tmp_path / "deep")
    monkeypatch.chdir(tmp_path)
    study = read_study("deep/study.toml")
    assert study.runs[0].frame_files[0].is_file()


def test_defaults_give_way_to_the_run(tmp_path):
    document = samples.study(placement="auto", ambient_degc=20.0, top="left")
    first, rear, _ = read(tmp_path, document).runs
    assert isinstance(first.placement, CornersPx)
    assert (first.ambient_degc, rear.ambient_degc) == (21.3, 20.0)
    assert (first.top, rear.top) == ("up", "left")


def test_placement_may_hold_the_points(tmp_path):
    points = samples.STUDY["run"][1]["points_px"]
    corners = [[1, 2], [3, 4], [5, 6], [7, 8]]
    document = samples.study(1, placement={"points_px": points}, points_px=None)
    document["placement"] = {"corners_px": corners}
    del document["run"][2]["placement"]
    _, rear, recording = read(tmp_path, document).runs
    assert rear.placement == PointsPx(tuple((name, float(x), float(y)) for name, (x, y) in points.items()))
    assert recording.placement == CornersPx(((1.0, 2.0), (3.0, 4.0), (5.0, 6.0), (7.0, 8.0)))


def test_a_study_level_readout_makes_no_stills_a_recording(tmp_path):
    first, *_ = read(tmp_path, samples.study(readout=30)).runs
    assert (first.recording, first.readout) == (False, Readout(last_frames=30))


def test_without_a_camera_file(tmp_path):
    document = samples.study(camera=None)
    del document["run"][0]["range"], document["run"][0]["emissivity_set"]
    study = read(tmp_path, document)
    assert {run.camera for run in study.runs} == {NO_CAMERA}
    assert {run.camera_file for run in study.runs} == {None}


def test_toml_dates_and_default_ids(tmp_path):
    path = samples.study_folder(tmp_path)
    text = path.read_text().replace('"2026-03-01"', "2026-03-01").replace('id = "first"\n', 'id = "K7-stock-REAR-2"\n')
    path.write_text(text)
    study = read_study(path)
    assert study.boards[0].price_date == "2026-03-01"
    # A stated id is never given to another run by default, however it is spelt.
    assert study.order == ("K7-stock-REAR-2", "k7-stock-rear", "k7-stock-rear-3")


@pytest.mark.parametrize(
    ("run", "changes", "key", "says"),
    [
        (0, {"frames": "frames/nothing-*.tiff"}, "frames", "matches no file"),
        (0, {"frames": None}, "frames", "missing"),
        (0, {"board": "k8"}, "board", "names no board"),
        (0, {"board": None}, "board", "missing"),
        (0, {"load": "Stock"}, "load", "names no load"),
        (0, {"range": "hgh"}, "range", "names no range"),
        (0, {"camera": "cam.toml"}, "camera", "no such file"),
        (0, {"placement": "auto"}, "corners_px", "contradicts placement"),
        (0, {"placement": {"corners_px": [[1, 2], [3, 4], [5, 6], [7, 8]]}}, "corners_px", "contradicts placement"),
        (1, {"placement": {}, "points_px": None}, "placement", "not"),
        (1, {"placement": {"corners": [[1, 2]]}, "points_px": None}, "placement", "not"),
        (0, {"corners_px": [[1, 2], [3, 4], [5, 6]]}, "corners_px", "wrong number"),
        (0, {"photo_corners_px": [[1, 2], [3, 4], [5, 6]]}, "photo_corners_px", "wrong number"),
        (0, {"photo_placement": "auto"}, "photo_corners_px", "contradicts photo_placement"),
        (2, {"placement": "photo", "photo": None, "photo_placement": None}, "placement", "there is none"),
        (1, {"photo_points_px": {"hole-a": [5, 6]}}, "photo_points_px", "too few"),
        (1, {"photo": "photos/none.jpg"}, "photo", "no such file"),
        (0, {"photo": None, "photo_top": None, "photo_opacity": None}, "photo_corners_px", "there is none"),
        (2, {"photo": None}, "photo_placement", "there is none"),
        (2, {"photo_opacity": 1.5}, "photo_opacity", ""),
        (2, {"photo_top": "north"}, "photo_top", "words accepted"),
        (0, {"corners_px": [[1, 2], [3, 4], [5, 6], [7, float("inf")]]}, "corners_px[3][1]", "finite"),
        (0, {"ambient_degc": "21"}, "ambient_degc", "not a number"),
        (0, {"ambiant_degc": 21}, "ambiant_degc", "unknown key"),
        (0, {"transmission": 0}, "transmission", "too small"),
        (0, {"readout": "the end"}, "readout", "not understood"),
        (0, {"readout": "last 0 frames"}, "readout", "not understood"),
        (0, {"readout": 0}, "readout", "not"),
        (0, {"top": "north"}, "top", "not one of"),
        (0, {"replaces": "frist"}, "replaces", "names no run"),
        (0, {"replaces": "first"}, "replaces", "circle"),
        (0, {"setup": {"fan": [1, 2]}}, "setup", "not"),
        (1, {"points_px": {"hole-a": [1, 2], "hole-b": [1, 3], "hole-c": [3, 3]}}, "points_px", "too few"),
        (
            1,
            {"points_px": {"hole-a": [1, 2], "hole-b": [1, 3], "hole-c": [3, 3], "e": [1, 1]}},
            "points_px.e",
            "no mark",
        ),
        (1, {"points_px": {"hole-a": [1, 2, 3]}}, "points_px", "too many"),
        (1, {"id": "FIRST"}, "id", "taken by run[0]"),
    ],
)
def test_a_wrong_run_is_bad_and_takes_no_other_down(tmp_path, run, changes, key, says):
    study = read(tmp_path, samples.study(run, **changes))
    assert len(study.runs) == 2
    (bad,) = study.bad_runs
    assert [(p.key, p.severity) for p in bad.problems] == [(f"run[{run}].{key}", "error")], [
        str(p) for p in bad.problems
    ]
    assert says in bad.problems[0].message
    assert set(bad.problems) <= set(study.problems)
    assert len(study.order) == 3


def test_keys_of_an_inner_table_are_validated(tmp_path):
    study = read(tmp_path, samples.study(0, emissivity_map={"frame": "e.tiff"}))
    assert [p.message for p in study.bad_runs[0].problems if p.key == "run[0].emissivity_map.temperature_degc"] == [
        "missing"
    ]


@pytest.mark.parametrize(
    ("changes", "key", "says"),
    [
        ({"title": 5}, "title", "not text"),
        ({"tittle": "x"}, "tittle", "unknown key"),
        ({"run": []}, "run", "names none"),
        ({"run": None}, "run", "missing"),
        ({"run": 5}, "run", "not a list"),
        ({"board": []}, "board", "names none"),
        ({"scale_degc": [50, 20]}, "scale_degc", "low end"),
        ({"scale_degc": "wide"}, "scale_degc", "not"),
        ({"utc_offset": "+2"}, "utc_offset", "form"),
        ({"utc_offset": "+15:00"}, "utc_offset", "form"),
        ({"previous": ["../winter/study.toml"]}, "previous[0]", "no such file"),
        ({"previous": ["study.toml"]}, "previous[0]", "is the study itself"),
        ({"reference_board": "k70"}, "reference_board", "names no board"),
        ({"decision": {"rule": "simple", "guard_band_k": 1.0}}, "decision.guard_band_k", "no guard band"),
        ({"decision": {"rule": "generous"}}, "decision.rule", "not one of the words"),
        ({"ambient_degc": "warm"}, "ambient_degc", "not a number"),
        ({"load": [{"id": "stock"}, {"id": "Stock"}]}, "load", "stands twice"),
        ({"schema": None}, "schema", "missing"),
    ],
)
def test_a_wrong_study_is_refused(tmp_path, changes, key, says):
    with pytest.raises(FileInvalid) as refusal:
        read(tmp_path, samples.study(**changes))
    assert [p.key for p in refusal.value.problems()] == [key], str(refusal.value)
    assert says in refusal.value.problems()[0].message


def two_boards() -> dict:
    document = samples.study()
    document["board"].append({"id": "k8", "file": "boards/k8.toml"})
    document["run"][1]["board"] = "k8"
    return document


def test_an_unreadable_board_makes_its_runs_bad(tmp_path):
    path = samples.study_folder(tmp_path, two_boards())
    samples.save(tmp_path / "boards" / "k8.toml", samples.with_zone(id="elsewhere", rolle="x"))
    study = read_study(path)
    # "first" replaces a run "k7-stock-rear": with the second run on another board, that is the third.
    assert [run.id for run in study.runs] == ["first", "k7-stock-rear"]
    (bad,) = study.bad_runs
    assert bad.id == "k8-stock-rear"
    assert [p.key for p in bad.problems] == ["zone[0].rolle", "zone[0].id"]
    assert all(p.file.endswith("k8.toml") for p in bad.problems)


def test_a_missing_board_file_is_named_at_its_key(tmp_path):
    study = read(tmp_path, two_boards())
    bad = {run.id: run for run in study.bad_runs}["k8-stock-rear"]
    assert [(p.key, p.message) for p in bad.problems] == [("board[1].file", "there is no such file")]


def test_a_wrong_board_entry_and_a_wrong_load_entry_make_their_runs_bad(tmp_path):
    document = two_boards()
    document["board"][1].update(file="boards/k7.toml", currency="dollars", price_date="2026-02-30")
    document["load"].append({"id": "heavy", "duration_min": -1})
    document["run"][2]["load"] = "heavy"
    study = read(tmp_path, document)
    bad = {run.id: [p.key for p in run.problems] for run in study.bad_runs}
    assert bad["k8-stock-rear"] == ["board[1].currency", "board[1].price_date"]
    assert bad["k7-heavy-rear"] == ["load[1].duration_min"]


def test_an_invalid_camera_makes_its_runs_bad(tmp_path):
    path = samples.study_folder(tmp_path, samples.study(1, camera="other.toml"))
    samples.save(tmp_path / "other.toml", samples.camera("signal", unit="Kelvin"))
    study = read_study(path)
    assert [run.id for run in study.runs] == ["first", "k7-stock-rear-2"]
    assert [(p.key, p.file) for p in study.bad_runs[0].problems] == [("signal.unit", str(tmp_path / "other.toml"))]


def test_runs_that_replace_one_another_are_bad(tmp_path):
    study = read(tmp_path, samples.study(1, replaces="first"))
    assert [bad.id for bad in study.bad_runs] == ["first", "k7-stock-rear"]


def test_a_frame_in_two_runs_is_warned_of(tmp_path):
    study = read(tmp_path, samples.study(1, frames="frames/k7-10.tiff"))
    (problem,) = study.problems
    assert (problem.severity, problem.key) == ("warning", "run[1].frames")
    assert "'k7-10.tiff' is a frame of run 'first' too" in problem.message


@pytest.mark.parametrize(("given", "taken"), [("printed", "printed"), ([20, 95.5], (20.0, 95.5)), (None, None)])
def test_the_numbers_of_a_colour_bar(tmp_path, given, taken):
    study = read(tmp_path, samples.study(0, **({"color_scale_degc": given} if given else {})))
    assert study.runs[0].color_scale_degc == taken
