"""Frames written as TIFF: the same bytes again, readable with the plain library."""

import io
import subprocess
import sys
from datetime import datetime

import numpy as np
import tifffile

from irspot.synthetic.tiff import tiff_bytes

TAKEN = datetime(2026, 3, 3, 9, 40, 17)


def frame():
    rows, columns = np.indices((37, 53))
    return (29000 + 17 * rows + columns).astype(np.uint16)


def test_numbers_time_and_description_come_back():
    with tifffile.TiffFile(io.BytesIO(tiff_bytes(frame(), TAKEN, "invented"))) as file:
        page = file.pages[0]
        np.testing.assert_array_equal(page.asarray(), frame())
        assert page.tags["DateTime"].value == "2026:03:03 09:40:17"
        assert page.description == "invented"


def test_the_same_frame_gives_the_same_bytes():
    assert tiff_bytes(frame(), TAKEN, "invented") == tiff_bytes(frame(), TAKEN, "invented")


def test_reading_needs_no_further_codec_library(tmp_path):
    path = tmp_path / "frame.tiff"
    path.write_bytes(tiff_bytes(frame(), TAKEN, "invented"))
    script = (
        "import sys; sys.modules['imagecodecs'] = None\nimport tifffile; print(int(tifffile.imread(sys.argv[1]).sum()))"
    )
    done = subprocess.run([sys.executable, "-c", script, str(path)], capture_output=True, text=True, check=True)
    assert int(done.stdout) == int(frame().sum())
