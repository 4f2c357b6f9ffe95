"""Sizes of parts: chip codes held against what the codes themselves say, names, tables, order of precedence."""

from __future__ import annotations

from pathlib import Path

import pytest

from irspot.errors import FileInvalid
from irspot.layout.chip_codes import IMPERIAL, METRIC, Ambiguous, size_by_name
from irspot.layout.packages import PackageRow, SizeRules, chip_code_words, read_packages
from irspot.layout.part import Part, Size


@pytest.mark.parametrize("code", [code for code in METRIC if code != "0402"])
def test_metric_codes_are_tenths_of_a_mm(code: str) -> None:
    # IEC 60115-8, 60384-21: two digits of length, two of width, in 0.1 mm (common reading of the codes, from memory).
    size = METRIC[code]
    assert size.length_mm == pytest.approx(int(code[:2]) / 10.0, abs=0.051)
    assert size.width_mm == pytest.approx(int(code[2:]) / 10.0, abs=0.051)


@pytest.mark.parametrize("code", [code for code in IMPERIAL if code != "01005"])
def test_imperial_codes_are_hundredths_of_an_inch(code: str) -> None:
    # EIA codes: two digits of length, two of width, in 0.01 inch, rounded (from memory).
    size = IMPERIAL[code]
    assert size.length_mm == pytest.approx(int(code[:2]) * 0.254, abs=0.2)
    assert size.width_mm == pytest.approx(int(code[2:]) * 0.254, abs=0.2)


@pytest.mark.parametrize("code", ["0402", "0603"])
def test_codes_of_two_meanings_are_asked_about(code: str) -> None:
    found = size_by_name(f"R{code}")
    assert isinstance(found, Ambiguous)
    assert size_by_name(f"R{code}", "imperial") == found.imperial == IMPERIAL[code]
    assert size_by_name(f"R{code}", "metric") == found.metric == METRIC[code]
    assert "say --chip-codes imperial or --chip-codes metric" in chip_code_words(found, ["SOT-23"])
    assert "'C1206' in the list speaks for inches" in chip_code_words(found, [f"R{code}", "C1206"])
    assert "'C_1608' in the list speaks for metric" in chip_code_words(found, [f"R{code}", "C_1608"])


@pytest.mark.parametrize(
    ("name", "size"),
    [
        ("C_0603_1608Metric", Size(1.6, 0.8)),
        ("R_0201_0603Metric", Size(0.6, 0.3)),
        ("0603M", Size(0.6, 0.3)),
        ("LED 0603 inch", Size(1.6, 0.8)),
        ("CAPC3216X180N", Size(3.2, 1.6, 1.8)),
        ("QFN50P500X600X90-33N", Size(5.0, 6.0, 0.9)),
        ("QFN-32-1EP_5x5mm_P0.5mm_EP3.1x3.1mm", Size(5.0, 5.0)),
        ("IND_10.5x11.0x4mm", Size(10.5, 11.0, 4.0)),
        ("SOT-23", None),
        ("TSSOP-20", None),
        ("U1206A", None),
        ("R_0603_3216Metric", None),
        ("SC1206", None),
        ("", None),
    ],
)
def test_names_tell_sizes_only_where_they_leave_no_doubt(name: str, size: Size | None) -> None:
    assert size_by_name(name) == size


def test_the_lists_own_size_comes_first_then_the_table_then_the_name(tmp_path: Path) -> None:
    rules = SizeRules((PackageRow("qfn*", Size(4.0, 4.0, 0.8)),), "imperial", Size(1.0, 1.0))
    own = Part("U1", 0.0, 0.0, package="QFN-16", size=Size(3.0, 2.0))
    assert rules.size_of(own) == Size(3.0, 2.0, 0.8), "the table adds the height it lacks"
    assert rules.size_of(Part("U2", 0.0, 0.0, package="QFN-16")) == Size(4.0, 4.0, 0.8)
    assert rules.size_of(Part("R1", 0.0, 0.0, package="R0603")) == Size(1.6, 0.8)
    assert rules.size_of(Part("X1", 0.0, 0.0, package="odd")) == Size(1.0, 1.0)


def test_a_table_of_packages_is_read_in_its_units(tmp_path: Path) -> None:
    path = tmp_path / "sizes.csv"
    path.write_text("package;length (mil);width_mm;height\nSOT-23;100;1,3;0,5mm\nDPAK*;6mm;6,5;\n", encoding="utf-8")
    first, second = read_packages(path)
    assert first.size == Size(pytest.approx(2.54), 1.3, 0.5)
    assert second == PackageRow("DPAK*", Size(6.0, 6.5))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("package,length,width\nA,1,2\n", "line 2, column 'length': has no unit"),
        ("package,length_mm,width_mm\nA,-1,2\n", "line 2, column 'length_mm': is no size of a part"),
        ("package,length_mm,width_mm\nA,900,2\n", "is no size of a part (found '900'; wanted up to 500 mm)"),
        ("package,length_mm,width_mm\n,1,2\n", "line 2: names no package"),
        ("name,size\nA,1\n", "no line heads its columns"),
    ],
)
def test_wrong_tables_are_refused_by_line_and_column(text: str, says: str, tmp_path: Path) -> None:
    path = tmp_path / "sizes.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileInvalid) as refused:
        read_packages(path)
    assert says in str(refused.value)
