from __future__ import annotations

import pytest

from irspot.constants import MAX_PIXELS
from irspot.errors import FrameTooLarge, FrameUnreadable, UsageError
from irspot.readers.limits import check_size, max_pixels


def test_the_cap_can_be_raised(monkeypatch):
    monkeypatch.delenv("IRSPOT_MAX_PIXELS", raising=False)
    assert max_pixels() == MAX_PIXELS
    with pytest.raises(FrameTooLarge, match="IRSPOT_MAX_PIXELS=64000000"):
        check_size(8000, 8000, "a.tiff")
    monkeypatch.setenv("IRSPOT_MAX_PIXELS", "64000000")
    check_size(8000, 8000, "a.tiff")


@pytest.mark.parametrize("text", ["many", "-5", "0", "1e9", "9" * 30, "٣"])
def test_a_cap_that_is_no_number_is_misuse(monkeypatch, text):
    monkeypatch.setenv("IRSPOT_MAX_PIXELS", text)
    with pytest.raises(UsageError, match="positive whole number"):
        check_size(8, 8, "a.tiff")


@pytest.mark.parametrize("size", [(0, 5), (5, 0), (-5, -5)])
def test_frames_have_pixels(size):
    with pytest.raises(FrameUnreadable, match="without pixels"):
        check_size(*size, "a.tiff")
