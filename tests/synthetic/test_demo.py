"""The demo study: its files read back as what they were made from, and its story is the one it is meant to tell."""

import json

import numpy as np
import pytest
import tifffile

from irspot.decoding.photo import read_photo
from irspot.files import board_problems, camera_problems, read_board, read_camera, read_study
from irspot.placing import CornersPx
from irspot.synthetic.demo import demo_surface, demo_truth, true_corners_px
from irspot.synthetic.demo_boards import DESIGNS, demo_boards
from irspot.synthetic.demo_photos import demo_photos
from irspot.synthetic.demo_pictures import demo_pictures
from irspot.synthetic.demo_runs import DEMO_CAMERA, DEMO_VIEW, demo_runs, demo_scene
from irspot.synthetic.demo_soak import demo_soak
from irspot.synthetic.draws import opposite_pairs, stratified_shares
from irspot.synthetic.sensor import photograph
from irspot.synthetic.surface import face_rises, surface_of
from irspot.synthetic.truth import zone_truths


@pytest.fixture(scope="module")
def truths():
    return demo_truth()


def test_the_study_is_whole_and_without_problems(study_file):
    study = read_study(study_file)
    assert study.problems == ()
    assert study.bad_runs == ()
    assert len(study.boards) >= 4
    assert {(run.board, run.load, run.side) for run in study.runs} == {
        (board.id, load, side)
        for board in study.boards
        for load in ("stock", "overclock")
        for side in ("front", "rear")
    }


@pytest.mark.parametrize("board", [design.id for design in DESIGNS])
def test_board_files_read_back_as_the_boards_they_were_written_from(study_file, board):
    path = study_file.parent / "boards" / f"{board}.toml"
    assert read_board(path) == demo_boards()[board].board
    assert board_problems(path) == ()


def test_the_camera_file_reads_back_and_keeps_one_fault_to_itself(study_file):
    path = study_file.parent / "camera.toml"
    assert read_camera(path) == DEMO_CAMERA
    assert camera_problems(path) == ()
    undeclared = {(x, y) for x, y, _ in DEMO_VIEW.faults} - set(DEMO_CAMERA.dead_px)
    assert len(undeclared) == 1


def test_every_file_says_that_it_is_invented(study_file):
    folder = study_file.parent
    for path in [study_file, folder / "camera.toml", *(folder / "boards").iterdir(), folder / "truth.json"]:
        assert "nvented" in path.read_text(encoding="utf-8")[:300], path
    for path in (folder / "frames").iterdir():
        assert b"Invented scene" in path.read_bytes(), path


def test_pictures_show_frames_of_the_study_in_several_ways(study_file):
    study = read_study(study_file)
    shown = [run for run in study.runs if run.id.endswith("-picture")]
    assert {run.frame_files[0].suffix for run in shown} == {".png", ".jpg"}
    assert {picture.style.cmap for picture in demo_pictures()} >= {"inferno", "viridis", "turbo", "gray"}
    assert {picture.style.place.side for picture in demo_pictures()} == {"left", "right", "bottom"}
    for run in shown:
        frame = next(other for other in study.runs if other.id == run.id.removesuffix("-picture"))
        assert (run.board, run.load, run.side, run.placement) == (frame.board, frame.load, frame.side, frame.placement)


def test_one_run_carries_a_photo_with_its_true_corners(study_file):
    (run,) = [run for run in read_study(study_file).runs if run.photo_file]
    (photo,) = demo_photos()
    assert run.id == photo.run.id
    assert run.photo_file == study_file.parent / photo.file
    np.testing.assert_allclose(run.photo.how.points_px, photo.corners_px, atol=0.0501)
    assert read_photo(run.photo_file).size_px == photo.scene.size_px
    content = run.photo_file.read_bytes()
    assert b"Invented scene" in content
    assert len(content) < 300_000


def test_corners_are_the_true_ones_to_a_tenth_of_a_pixel(study_file):
    study = read_study(study_file)
    soak = demo_soak()
    frames = [*demo_runs(), *(picture.run for picture in demo_pictures()), soak.run]
    scenes = [*(demo_scene(noted) for noted in frames[:-1]), soak.scene]
    for run, noted, scene in zip(study.runs, frames, scenes, strict=True):
        assert isinstance(run.placement, CornersPx)
        np.testing.assert_allclose(run.placement.points_px, true_corners_px(scene), atol=0.0501)
        assert run.top == noted.top


def test_whole_boards_are_in_view():
    columns, rows = DEMO_VIEW.size_px
    for run in demo_runs():
        x, y = np.transpose(true_corners_px(demo_scene(run)))
        assert x.min() > 8.0
        assert y.min() > 8.0
        assert x.max() < columns - 9.0
        assert y.max() < rows - 9.0


def test_frames_carry_the_time_of_their_run(study_file):
    for run in demo_runs():
        with tifffile.TiffFile(study_file.parent / "frames" / f"{run.id}.tiff") as file:
            assert file.pages[0].tags["DateTime"].value == f"{run.taken:%Y:%m:%d %H:%M:%S}"


def test_truth_file_is_the_truth(study_file, truths):
    document = json.loads((study_file.parent / "truth.json").read_text(encoding="utf-8"))
    for written, truth in zip(document["runs"], truths, strict=True):
        assert written["run"] == truth.run
        assert [zone["max_degc"] for zone in written["zones"]] == pytest.approx(
            [zone.max_degc for zone in truth.zones], abs=1e-4
        )


def test_boards_bunch_at_stock_and_spread_when_overclocked(truths):
    """Common practice: results of boards lie close together as shipped and far apart with the limits lifted."""
    hottest = {
        (truth.board, truth.load): max(z.max_degc for z in truth.zones if z.zone in ("ps-left", "ps-top"))
        for truth in truths
        if truth.side == "front"
    }
    stock = [degc for (_, load), degc in hottest.items() if load == "stock"]
    lifted = [degc for (_, load), degc in hottest.items() if load == "overclock"]
    assert np.ptp(stock) <= 7.0
    assert 15.0 <= np.ptp(lifted) <= 25.0
    assert min(stock) > 60.0
    assert max(lifted) <= 105.0


def test_a_part_nobody_drew_is_the_hottest_of_its_rear(truths):
    rear = {t.zone: t.max_degc for t in next(t for t in truths if t.run == "t3-stock-rear").zones}
    assert rear.pop("elsewhere") > max(rear.values()) + 3.0


def test_true_maxima_do_not_depend_on_the_grid():
    from dataclasses import replace

    board = demo_boards()["t3"]
    fine = replace(board, sheet=replace(board.sheet, step_mm=0.25))
    maxima = [
        [z.max_degc for z in zone_truths(board.board, surface_of(b, rises[side], "overclock", side, 21.0))]
        for b in (board, fine)
        for rises in [face_rises(b, "overclock")]
        for side in ("front", "rear")
    ]
    np.testing.assert_allclose(maxima[0] + maxima[1], maxima[2] + maxima[3], atol=0.1)


def test_true_emissivities_stay_within_what_their_u_allows():
    for board in demo_boards().values():
        for zone in board.board.zones_of("front"):
            found = {part.emissivity for part in board.parts if part.id.startswith((f"{zone.id}-part", zone.id))}
            bound = 3**0.5 * zone.u_emissivity
            assert any(0.0 < abs(emissivity - zone.emissivity) <= bound for emissivity in found), zone.id


def test_a_frame_is_the_same_every_time(study_file):
    run = next(run for run in demo_runs() if run.id == "p5-overclock-rear")
    again = photograph(demo_scene(run), demo_surface(run))
    np.testing.assert_array_equal(tifffile.imread(study_file.parent / "frames" / f"{run.id}.tiff"), again)


@pytest.mark.parametrize("count", [2, 5])
def test_designed_draws_stand_for_an_even_distribution(count):
    shares = stratified_shares(3, count)
    pairs = opposite_pairs(3, count)
    np.testing.assert_allclose(np.sort(shares), np.linspace(-1.0, 1.0, 2 * count + 1)[1::2], atol=1e-12)
    np.testing.assert_allclose(np.sort(pairs.ravel()), np.linspace(-1.0, 1.0, 4 * count + 1)[1::2], atol=1e-12)
    np.testing.assert_allclose(pairs.sum(axis=1), 0.0)


def test_front_and_rear_of_a_warm_up_share_the_error_of_the_camera():
    errors = {}
    for run in demo_runs():
        errors.setdefault(run.session, set()).add(run.error_share)
    assert len(errors) == 8
    assert all(len(shares) == 1 for shares in errors.values())
