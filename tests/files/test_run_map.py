"""A run's emissivity map in the study file: what is read, inherited and refused."""

from __future__ import annotations

import pytest

from irspot.even_frame import EvenConditions, EvenFrame
from irspot.files import read_study
from irspot.placing import AutoPlacement, CornersPx

from . import samples

MAP = {"frame": "frames/even.tiff", "temperature_degc": 45.0, "u_k": 0.4, "reflected_degc": 22.0}


def even_of(tmp_path, **changes):
    path = samples.study_folder(tmp_path, samples.study(0, emissivity_map={**MAP, **changes}))
    (tmp_path / "frames" / "even.tiff").touch()
    study = read_study(path)
    return next((run.even for run in study.runs if run.id == "first"), None), study


def test_every_key_arrives(tmp_path):
    even, study = even_of(tmp_path, u_reflected_k=0.7, session="monday", placement="auto", top="left")
    taken = EvenConditions(45.0, 0.4, 22.0, 0.7, transmission=0.9, window_degc=25.0, same_session=True)
    wanted = EvenFrame(tmp_path / "frames" / "even.tiff", taken, AutoPlacement(), "left", "run[0].emissivity_map")
    assert even == wanted
    assert even.file in study.runs[0].input_files
    assert all(run.even is None for run in study.runs if run.id != "first")


def test_what_is_left_out_is_the_runs(tmp_path):
    path = samples.study_folder(
        tmp_path, samples.study(0, emissivity_map={"frame": MAP["frame"], "temperature_degc": 45.0})
    )
    (tmp_path / "frames" / "even.tiff").touch()
    (even,) = (run.even for run in read_study(path).runs if run.id == "first")
    assert even.how is None
    assert even.top == "up"
    assert even.conditions == EvenConditions(45.0, 0.5, 23.5, 3.0, transmission=0.9, window_degc=25.0)


@pytest.mark.parametrize("way", [{"corners_px": [[1, 2], [3, 4], [5, 6], [7, 8]]}])
def test_points_of_its_own(tmp_path, way):
    wanted = CornersPx(((1.0, 2.0), (3.0, 4.0), (5.0, 6.0), (7.0, 8.0)))
    assert even_of(tmp_path / "plain", **way)[0].how == wanted
    assert even_of(tmp_path / "table", placement=way)[0].how == wanted


@pytest.mark.parametrize(
    ("changes", "key", "says"),
    [
        ({"temperature_degc": 41.0}, "temperature_degc", "too near"),
        ({"frame": "frames/none.tiff"}, "frame", "no such file"),
        ({"frame": "frames/k7-10.tiff"}, "frame", "frame of the run itself"),
        ({"temperature": 45.0}, "temperature", "unknown key"),
        ({"u_k": -1.0}, "u_k", "too small"),
        ({"corners_px": [[1, 2], [3, 4], [5, 6]]}, "corners_px", "wrong number"),
        ({"placement": "auto", "corners_px": [[1, 2], [3, 4], [5, 6], [7, 8]]}, "corners_px", "contradicts"),
    ],
)
def test_what_is_refused_names_the_key(tmp_path, changes, key, says):
    even, study = even_of(tmp_path, **changes)
    assert even is None
    bad = next(bad for bad in study.bad_runs if bad.id == "first")
    assert [(p.key, says in p.message) for p in bad.problems] == [(f"run[0].emissivity_map.{key}", True)]
    # The others go on.
    assert len(study.runs) == 2


def test_a_map_for_all_runs_of_one_side(tmp_path):
    first = {key: value for key, value in samples.STUDY["run"][0].items() if key != "replaces"}
    path = samples.study_folder(tmp_path, samples.study(emissivity_map=MAP, run=[first]))
    (tmp_path / "frames" / "even.tiff").touch()
    assert [run.even.conditions.temperature_degc for run in read_study(path).runs] == [45.0]


def test_one_frame_is_no_map_of_two_sides(tmp_path):
    path = samples.study_folder(tmp_path, samples.study(emissivity_map=MAP))
    (tmp_path / "frames" / "even.tiff").touch()
    study = read_study(path)
    assert study.runs == ()
    assert [bad.problems[0].key for bad in study.bad_runs] == [f"run[{k}].emissivity_map.frame" for k in range(3)]
    assert study.bad_runs[0].problems[0].found == "k7 front, k7 rear"
