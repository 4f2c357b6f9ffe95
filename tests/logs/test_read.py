"""Logs in many hands' writing: dialects of our own making, faults by line, nothing guessed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from irspot.errors import FileInvalid
from irspot.logs import Log, read_log

START = datetime(2026, 3, 1, 14, 23, 5)


def log_of(folder: Path, text: str | bytes) -> Log:
    path = folder / "log.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_log(path)


DIALECTS = {
    "seconds, points": "time_s,tc1 (°C),power_w\n0,21.5,300\n1,22.5,301\n2,23.5,302\n",
    "semicolons, decimal commas": "Zeit [s];tc1 [°C];power [W]\n0;21,5;300,0\n1;22,5;301,0\n2;23,5;302,0\n",
    "tabs, minutes": (
        "time (min)\ttc1/°C\tpower (kW)\n0\t21.5\t.3\n0.016666666666667\t22.5\t.301\n.0333333333333\t23.5\t.302\n"
    ),
    "iso with a zone": (
        "timestamp,tc1 degC,power W\n2026-03-01T15:23:05+01:00,21.5,300\n2026-03-01T15:23:06+01:00,22.5,301\n"
        "2026-03-01T15:23:07+01:00,23.5,302\n"
    ),
    "iso without one, preamble, kelvin": (
        "Bench logger,invented\nserial,0000\nDate Time,tc1 (K),power (W)\n2026-03-01 14:23:05.000,294.65,300\n"
        "2026-03-01 14:23:06.000,295.65,301\n2026-03-01 14:23:07.000,296.65,302\n"
    ),
    "date and clock apart, dots, fahrenheit": (
        "Datum;Uhrzeit;tc1 (°F);power (W);remark\n01.03.2026;14:23:05;70,7;300;start\n01.03.2026;14:23:06;72,5;301;\n"
        "01.03.2026;14:23:07;74,3;302;\n"
    ),
    "clock with a declared date": (
        "# date: 2026-03-01\n# utc_offset: +00:00\ntime,tc1 (°C),power (W)\n2:23:05 PM,21.5,300\n2:23:06 PM,22.5,301\n"
        "2:23:07 PM,23.5,302\n"
    ),
    "slashes that show their order": (
        "time;tc1 (°C);power (W)\n03/13/2026 14:23:05;21.5;300\n03/13/2026 14:23:06;22.5;301\n"
        "03/13/2026 14:23:07;23.5;302\n"
    ),
    "elapsed clock": "elapsed,tc1 (°C),power (W)\n00:00:00,21.5,300\n00:00:01,22.5,301\n00:00:02,23.5,302\n",
    "quoted, utc": (
        '"Time (UTC)","tc1 (°C)","power (W)"\n"2026-03-01 14:23:05","21.5","300"\n'
        '"2026-03-01 14:23:06","22.5","301"\n"2026-03-01 14:23:07","23.5","302"\n'
    ),
}


@pytest.mark.parametrize("name", DIALECTS)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1", "utf-16"])
def test_dialects_say_the_same(tmp_path: Path, name: str, encoding: str) -> None:
    log = log_of(tmp_path, DIALECTS[name].encode(encoding))
    assert list(log.time_s) == pytest.approx([0.0, 1.0, 2.0])
    bead, power = log.column("tc1"), log.column("power") or log.column("power_w")
    assert bead is not None
    assert power is not None
    assert (bead.unit, power.unit) == ("degC", "W")
    assert list(bead.values) == pytest.approx([21.5, 22.5, 23.5])
    assert list(power.values) == pytest.approx([300.0, 301.0, 302.0])
    assert log.problems == ()


@pytest.mark.parametrize(
    ("name", "start"),
    [
        ("seconds, points", None),
        ("elapsed clock", None),
        ("iso with a zone", START.replace(tzinfo=UTC)),
        ("clock with a declared date", START.replace(tzinfo=UTC)),
        ("quoted, utc", START.replace(tzinfo=UTC)),
        ("iso without one, preamble, kelvin", START),
        ("date and clock apart, dots, fahrenheit", START),
        ("slashes that show their order", START.replace(day=13)),
    ],
)
def test_zones_are_stated_never_guessed(tmp_path: Path, name: str, start: datetime | None) -> None:
    log = log_of(tmp_path, DIALECTS[name])
    assert log.start == start
    aware = start if start is None or start.tzinfo else None
    assert log.start_utc(None) == aware
    if start is not None and start.tzinfo is None:
        assert log.start_utc(timedelta(hours=2)) == (start - timedelta(hours=2)).replace(tzinfo=UTC)


def test_seconds_since_1970(tmp_path: Path) -> None:
    log = log_of(tmp_path, "unix time,tc1\n1772375000.5,1\n1772375001.5,2\n")
    assert log.start == datetime.fromtimestamp(1772375000.5, UTC)
    assert list(log.time_s) == [0.0, 1.0]


def test_separator_and_decimal_are_stated(tmp_path: Path) -> None:
    log = log_of(tmp_path, DIALECTS["semicolons, decimal commas"])
    assert log.notes == ("separator semicolon, decimal comma", "time counted from the start")
    assert (
        "2 lines above the header skipped" in log_of(tmp_path, DIALECTS["iso without one, preamble, kelvin"]).notes[0]
    )


def test_midnight_is_passed(tmp_path: Path) -> None:
    log = log_of(tmp_path, "# date: 2026-03-01\ntime,a\n23:59:58,1\n23:59:59,2\n00:00:00,3\n00:00:01,4\n")
    assert list(log.time_s) == [0.0, 1.0, 2.0, 3.0]


def test_every_fault_is_named_by_its_line_and_the_rest_kept(tmp_path: Path) -> None:
    lines = ["time_s,tc1 (°C),tc2 (°C)"] + [f"{i},{20 + i},{30 + i}" for i in range(12)]
    lines[3] = "2,open,32"
    lines[5] = "3,24,34"  # the stamp of the line before
    lines[7] = "1,26,36"  # goes back
    lines[8] = "7,27"
    lines[10] = "9,,39"
    lines.append("60,80,90")
    log = log_of(tmp_path, "\n".join(lines) + "\n")
    said = {problem.key: problem.message for problem in log.problems}
    assert said["line 4"] == "the column 'tc1' holds no number here"
    assert "that of the line before" in said["line 6"]
    assert "goes back" in said["line 8"]
    assert "another number of cells" in said["line 9"]
    assert "nothing was logged before" in said["line 14"]
    assert set(said) == {"line 4", "line 6", "line 8", "line 9", "line 14"}
    assert all(problem.severity == "warning" for problem in log.problems)
    assert list(log.time_s) == [0, 1, 2, 3, 5, 8, 9, 10, 11, 60]
    first, second = log.columns
    assert first.values == pytest.approx([20, 21, np.nan, 23, 25, 28, np.nan, 30, 31, 80], nan_ok=True)
    assert second.values[2] == 32


def test_many_faults_of_a_kind_are_counted(tmp_path: Path) -> None:
    body = "".join(f"{i},{'OL' if i % 2 else i},1\n" for i in range(40))
    log = log_of(tmp_path, "time_s,tc1,tc2\n" + body)
    assert len(log.problems) == 6
    assert "15 more lines, the last being line 41" in log.problems[-1].message


def test_a_clock_set_back_costs_only_until_it_has_caught_up(tmp_path: Path) -> None:
    times = [0, 1, 2, 3, 1, 2, 3, 4, 5]
    log = log_of(tmp_path, "time_s,a\n" + "".join(f"{t},{i}\n" for i, t in enumerate(times)))
    assert list(log.time_s) == [0, 1, 2, 3, 4, 5]


def test_columns_twice_and_columns_of_nothing(tmp_path: Path) -> None:
    log = log_of(tmp_path, "time_s,tc1,tc1,remark,spare\n0,1,5,a,\n1,2,6,b,\n")
    assert [column.name for column in log.columns] == ["tc1"]
    assert "'tc1' stands twice" in log.problems[0].message


def test_columns_are_found_whatever_their_case(tmp_path: Path) -> None:
    log = log_of(tmp_path, "time_s,CH 3,ch3\n0,1,2\n")
    assert log.column("CH 3").values[0] == 1
    assert log.column("ch3").values[0] == 2
    assert log.column("Ch 3") is None, "two are alike"
    assert log.column("none") is None


def test_a_declared_unit_serves_columns_that_state_none(tmp_path: Path) -> None:
    log = log_of(tmp_path, "# unit: mV\ntime_s,tc1,power (W)\n0,0.5,300\n1,0.6,300\n")
    assert [(column.name, column.unit) for column in log.columns] == [("tc1", "mV"), ("power", "W")]
    assert [column.unit for column in log_of(tmp_path, "time_s,tc1\n0,0.5\n").columns] == [""]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no line"),
        ("# only: comments\n", "no line"),
        ("time_s,tc1\n", "no line of numbers"),
        ("one column\n1\n2\n", "no separator"),
        ("0,1\n1,2\n", "no header"),
        ("time_s;a;b\n0;1,5;2.5\n", "both decimal points and decimal commas"),
        ("time,a\n14:23:05,1\n14:23:06,2\n", "no date"),
        ("time,a\n03/04/2026 14:23:05,1\n03/04/2026 14:23:06,2\n", "day or the month first"),
        ("time,a\nx1,1\nx2,2\n", "not understood"),
        ("time,a\n2026-03-01T10:00:00Z,1\n2026-03-01T10:00:01,2\n", "some times state a zone"),
        ("# utc_offset: Paris\ntime,a\n2026-03-01T10:00:00,1\n", "utc_offset is not understood"),
        (b"\x00\x01\x02\x03" * 10, "no text"),
    ],
)
def test_what_cannot_be_used_is_refused_with_the_reason(tmp_path: Path, text: str | bytes, says: str) -> None:
    with pytest.raises(FileInvalid, match=says):
        log_of(tmp_path, text)


def test_a_log_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(FileInvalid, match="cannot be read"):
        read_log(tmp_path / "none.csv")


# --- fuzz -----------------------------------------------------------------------------------------------------------


def check_mutated(folder: Path, content: bytes) -> None:
    """A log is read or refused in a sentence; what is read fits together."""
    try:
        log = log_of(folder, content)
    except FileInvalid as refusal:
        problems = refusal.problems()
        if not problems or not all(problem.message for problem in problems):
            pytest.fail("refused without a reason")
        return
    assert np.all(np.diff(log.time_s) > 0.0)
    assert all(column.values.shape == log.time_s.shape for column in log.columns)


MUTATION = st.tuples(st.sampled_from(sorted(DIALECTS)), st.integers(0, 400), st.integers(0, 20), st.binary(max_size=12))


def mutated(case: tuple[str, int, int, bytes]) -> bytes:
    name, at, cut, put = case
    content = DIALECTS[name].encode()
    return content[:at] + put + content[at + cut :]


@settings(deadline=None, max_examples=150)
@given(case=MUTATION)
def test_mutated_logs(tmp_path_factory: pytest.TempPathFactory, case: tuple[str, int, int, bytes]) -> None:
    check_mutated(tmp_path_factory.getbasetemp(), mutated(case))


@pytest.mark.full
@settings(deadline=None, max_examples=4000)
@given(case=MUTATION)
def test_many_mutated_logs(tmp_path_factory: pytest.TempPathFactory, case: tuple[str, int, int, bytes]) -> None:
    check_mutated(tmp_path_factory.getbasetemp(), mutated(case))


@settings(deadline=None, max_examples=150)
@given(rows=st.lists(st.lists(st.text("0123456789.,:;- /TZeE+#\"'", max_size=14), min_size=1, max_size=4), max_size=8))
def test_lines_of_anything(tmp_path_factory: pytest.TempPathFactory, rows: list[list[str]]) -> None:
    text = "unix time,a,b\n" + "\n".join(",".join(row) for row in rows)
    check_mutated(tmp_path_factory.getbasetemp(), text.encode())
