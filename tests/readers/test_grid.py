from __future__ import annotations

import numpy as np
import pytest

from irspot.errors import FrameTooLarge, FrameUnreadable
from irspot.readers import read_frame
from tests.readers.samples import CENTIKELVIN, COLUMNS, DEGC, ROWS, centikelvin, degc


def _text(numbers, separator=";", decimal=".", digits=2, end="\n"):
    rows = (separator.join(f"{n:.{digits}f}".replace(".", decimal) for n in row) for row in numbers)
    return end.join(rows) + end


def _read(tmp_path, text, camera=DEGC, encoding="utf-8"):
    path = tmp_path / "grid.csv"
    path.write_bytes(text.encode(encoding) if isinstance(text, str) else text)
    return read_frame(path, camera)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r", "\r\r\n"])
@pytest.mark.parametrize(
    ("separator", "decimal", "stated"),
    [
        (";", ".", "separator semicolon, decimal point"),
        (";", ",", "separator semicolon, decimal comma"),
        ("\t", ".", "separator tab, decimal point"),
        ("\t", ",", "separator tab, decimal comma"),
        (",", ".", "separator comma, decimal point"),
        (", ", ".", "separator comma, decimal point"),
        ("  ", ".", "separator spaces, decimal point"),
        (" ", ",", "separator spaces, decimal comma"),
    ],
)
def test_separators_and_decimal_marks_are_found_and_stated(tmp_path, separator, decimal, stated, end):
    frame = _read(tmp_path, _text(degc(), separator, decimal, end=end))
    np.testing.assert_allclose(frame.stored, degc(), atol=1e-9)
    assert frame.notes == (stated,)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
def test_comments_and_headers_are_skipped_in_any_encoding(tmp_path, encoding):
    text = "# Prüfstand, 21 °C; 3\nwidth;height\nTemperatur in °C\n" + _text(degc(), ";", ",") + "# end; 1,5\n\n"
    frame = _read(tmp_path, text, encoding=encoding)
    np.testing.assert_allclose(frame.stored, degc(), atol=1e-9)
    assert frame.notes == ("separator semicolon, decimal comma; skipped 2 comment lines and 2 header lines",)


@pytest.mark.parametrize("separator", [";", ",", "\t", " "])
def test_whole_numbers(tmp_path, separator):
    frame = _read(tmp_path, _text(centikelvin(), separator, digits=0), CENTIKELVIN)
    np.testing.assert_array_equal(frame.stored, centikelvin())


@pytest.mark.parametrize("columns", [4, 5, 20])
def test_whole_degrees_between_commas_are_not_taken_for_decimals(tmp_path, columns):
    numbers = 22 + np.arange(columns) + np.arange(9)[:, None]
    np.testing.assert_array_equal(_read(tmp_path, _text(numbers, ",", digits=0)).stored, numbers)


@pytest.mark.parametrize("digits", [1, 2, 3])
def test_decimal_commas_between_commas_are_refused_not_guessed(tmp_path, digits):
    numbers = 22 + np.random.default_rng(1).normal(0, 0.3, (20, 30)).cumsum(axis=1) * 0.2
    with pytest.raises(FrameUnreadable, match="could separate columns or be decimal commas"):
        _read(tmp_path, _text(numbers, ",", ",", digits))


@pytest.mark.parametrize("text", ["21,5\n22,5\n23,5\n", "1,5\n"])
def test_one_column_or_two_is_refused_not_guessed(tmp_path, text):
    with pytest.raises(FrameUnreadable, match="decimal commas"):
        _read(tmp_path, text)


def test_semicolons_beside_commas_leave_no_choice(tmp_path):
    np.testing.assert_array_equal(_read(tmp_path, "1,5;2,5\n3,5;4,5\n").stored, [[1.5, 2.5], [3.5, 4.5]])


def test_quoted_cells(tmp_path):
    quoted = "\n".join(",".join(f'"{n:.2f}"'.replace(".", ",") for n in row) for row in degc())
    frame = _read(tmp_path, quoted)
    np.testing.assert_allclose(frame.stored, degc(), atol=1e-9)
    assert frame.notes == ("separator comma, decimal comma",)
    np.testing.assert_allclose(_read(tmp_path, quoted.replace('","', '";"')).stored, degc(), atol=1e-9)


def test_quoted_thousands_are_refused_not_guessed(tmp_path):
    with pytest.raises(FrameUnreadable, match="separators of thousands"):
        _read(tmp_path, '"29,512","29,510"\n"29,500","29,499"\n', CENTIKELVIN)


def test_nothing_and_nan_are_not_measured(tmp_path):
    frame = _read(tmp_path, "21.5;;nan;22\n;NaN;23.5; \n20;21;22;23\n")
    expected = [[21.5, np.nan, np.nan, 22], [np.nan, np.nan, 23.5, np.nan], [20, 21, 22, 23]]
    np.testing.assert_array_equal(frame.stored, expected)


def test_infinite_cells_are_not_measured_and_stated(tmp_path):
    frame = _read(tmp_path, "21.5;inf;22\n1e999;20;-inf\n")
    np.testing.assert_array_equal(frame.stored, [[21.5, np.nan, 22], [np.nan, 20, np.nan]])
    assert frame.notes[-1] == "3 infinite values taken as not measured"


def test_rows_of_tabs_alone_are_rows(tmp_path):
    assert _read(tmp_path, "21\t22\t23\n\t\t\n24\t25\t26\n").shape == (3, 3)


def test_a_separator_at_the_end_of_every_row_makes_no_column(tmp_path):
    frame = _read(tmp_path, "21.5;22;\n23;24;\n")
    np.testing.assert_array_equal(frame.stored, [[21.5, 22], [23, 24]])
    assert "the last column is empty and was left out" in frame.notes


@pytest.mark.parametrize("bad_row", [0, 20, 36])
def test_ragged_rows_are_refused_with_their_row(tmp_path, bad_row):
    lines = _text(degc()).splitlines()
    lines[bad_row] += ";21.0"
    with pytest.raises(FrameUnreadable) as caught:
        _read(tmp_path, "# comment\n" + "\n".join(lines))
    # Where the first row is the odd one, the second is the first to differ.
    assert caught.value.key == f"row {max(bad_row, 1) + 2}"


@pytest.mark.parametrize("cell", ["n/a", "21.5.1", "21,5", "1_0", "0x1f", "٢١", "--", "21 5", "1e", "21°"])
def test_text_cells_are_refused_with_row_and_column(tmp_path, cell):
    lines = _text(degc()).splitlines()
    cells = lines[11].split(";")
    lines[11] = ";".join([*cells[:7], cell, *cells[8:]])
    with pytest.raises(FrameUnreadable) as caught:
        _read(tmp_path, "\n".join(lines))
    assert caught.value.key == ("row 12" if cell == "21,5" else "row 12, column 8")


def test_control_characters_far_into_the_text_are_no_white_space(tmp_path):
    lines = _text(degc()).splitlines()
    lines[30] = lines[30].replace(";", "\x1c;", 1)
    assert sum(map(len, lines[:30])) > 4096
    with pytest.raises(FrameUnreadable) as caught:
        _read(tmp_path, "\n".join(lines))
    assert caught.value.key == "row 31, column 1"


def test_points_and_commas_in_one_file_are_refused(tmp_path):
    with pytest.raises(FrameUnreadable, match="both decimal points and decimal commas"):
        _read(tmp_path, "21.5;22.5\n21,5;22,5\n")


def test_a_blank_line_between_rows_is_refused(tmp_path):
    with pytest.raises(FrameUnreadable, match="blank line") as caught:
        _read(tmp_path, "21.5;22.5\n22;23\n\n21.5;22.5\n")
    assert caught.value.key == "row 3"


def test_numbers_of_columns_and_rows_are_not_taken_for_temperatures(tmp_path):
    numbers = degc()
    with pytest.raises(FrameUnreadable, match="row counts the columns"):
        _read(tmp_path, _text(np.vstack([np.arange(COLUMNS), numbers])))
    with pytest.raises(FrameUnreadable, match="column counts the rows"):
        _read(tmp_path, _text(np.column_stack([np.arange(1, ROWS + 1), numbers])))
    with pytest.raises(FrameUnreadable, match="row counts the columns"):
        _read(tmp_path, ";" + ";".join(map(str, range(COLUMNS - 1))) + "\n" + _text(numbers))


@pytest.mark.parametrize("text", ["hello 1 world\n", "1\n2\n3\n", "# 1;2\n", "a;b;c1\nd;e;f\n"])
def test_text_without_a_grid_is_refused(tmp_path, text):
    with pytest.raises(FrameUnreadable):
        _read(tmp_path, text)


def test_long_texts_are_not_read(tmp_path, monkeypatch):
    monkeypatch.setenv("IRSPOT_MAX_PIXELS", "10")
    with pytest.raises(FrameTooLarge, match="longer than any frame"):
        _read(tmp_path, _text(degc()))
    monkeypatch.setenv("IRSPOT_MAX_PIXELS", "1000")
    with pytest.raises(FrameTooLarge, match="53 × 37"):
        _read(tmp_path, _text(degc()))


def test_a_text_that_breaks_off_within_a_character_is_refused(tmp_path):
    with pytest.raises(FrameUnreadable, match="within a character"):
        _read(tmp_path, "21;22\n23;24\n".encode("utf-16")[:-1])
