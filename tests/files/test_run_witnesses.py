"""The keys of a run that name logs."""

from __future__ import annotations

import pytest

from irspot.files import read_study
from tests.tiny import BOARD, STUDY, write_tiny

SITE = '[[site]]\nid = "tc1"\nx_mm = 20.0\ny_mm = 48.0\nside = "front"\n'
KEYS = """\
thermocouple_log = "logs/tc.csv"
thermocouple_unit = "mV"
cold_junction_degc = 22.0
columns = { tc1 = "CH 3" }
clock_offset_s = -3.5
logger_limit_k = 1.0
cold_junction_limit_k = 0.5
logger_on_min = 60
equality_log = "logs/zero.csv"
ambient_log = "logs/tc.csv"
ambient_column = "air"
power_log = "logs/p.csv"
power_column = "W"
sensor_log = "logs/s.csv"
"""


def study_with(folder, keys: str, *, logs: bool = True, top: str = ""):
    path = write_tiny(
        folder, top + STUDY.replace('frames = "frames/front-*.tiff"\n', f'frames = "frames/front-*.tiff"\n{keys}')
    )
    (folder / "boards" / "w1.toml").write_text(BOARD + SITE, encoding="utf-8")
    if logs:
        (folder / "logs").mkdir(exist_ok=True)
        for name in ("tc", "zero", "p", "s"):
            (folder / "logs" / f"{name}.csv").write_text("time_s,a\n0,1\n", encoding="utf-8")
    return read_study(path)


def test_every_key_arrives(tmp_path):
    study = study_with(tmp_path, KEYS)
    assert study.bad_runs == ()
    found = study.runs[0].witnesses
    assert found.thermocouple_log == tmp_path / "logs" / "tc.csv"
    assert (found.thermocouple_unit, found.cold_junction_degc, found.clock_offset_s) == ("mV", 22.0, -3.5)
    assert (found.column_of("tc1"), found.column_of("tc2")) == ("CH 3", "tc2")
    assert (found.logger_limit_k, found.cold_junction_limit_k, found.logger_on_min) == (1.0, 0.5, 60.0)
    assert (found.ambient_column, found.power_column) == ("air", "W")
    assert [path.name for path in found.files] == ["tc.csv", "zero.csv", "p.csv", "s.csv"]
    assert set(found.files) <= set(study.runs[0].input_files)
    assert study.runs[1].witnesses.files == ()


@pytest.mark.parametrize(
    ("keys", "key", "says"),
    [
        ('thermocouple_unit = "mV"\n', "thermocouple_unit", "without thermocouple_log"),
        ('power_column = "W"\n', "power_column", "without power_log"),
        ('thermocouple_log = "logs/none.csv"\n', "thermocouple_log", "names no file"),
        ('thermocouple_log = "logs/tc.csv"\ncolumns = { tc2 = "a" }\n', "columns.tc2", "no site"),
    ],
)
def test_what_is_wrong_is_said_at_its_key(tmp_path, keys, key, says):
    (bad,) = study_with(tmp_path, keys).bad_runs
    (problem,) = bad.problems
    assert problem.key == f"run[0].{key}"
    assert says in problem.message


def test_logs_still_to_come_do_not_hide_what_is_planned(tmp_path):
    (bad,) = study_with(tmp_path, KEYS, logs=False).bad_runs
    assert bad.planned is not None
    assert bad.planned.witnesses.thermocouple_log == tmp_path / "logs" / "tc.csv"


def test_what_stands_for_all_runs_needs_no_log_in_each(tmp_path):
    study = study_with(tmp_path, "", top="logger_limit_k = 1.0\n")
    assert study.bad_runs == ()
    assert study.runs[0].witnesses.logger_limit_k == 1.0
