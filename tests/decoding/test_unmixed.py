"""Shared chroma taken apart: places at edges come nearer to the truth; nothing changes where nothing is shared."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.decoding import placed
from irspot.decoding.path import lossy_path
from irspot.synthetic.color_style import ColorStyle
from tests.decoding.reread_frames import reread, true_bar


def error_at_edges(cmap: str, how: str) -> float:
    """Root mean square error, % of span, of read pixels beside others that differ by over a tenth of it."""
    made = reread(61, ColorStyle(cmap=cmap), how)
    place = (made.truth - made.frame.low_degc) / made.span
    steep = np.hypot(*np.gradient(place)) > 0.05
    error = (made.decoded.temperature_degc - made.truth) / made.span * 100.0
    return float(np.sqrt(np.mean(error[steep & made.clear] ** 2)))


@pytest.mark.parametrize("cmap", ["jet", "nipy_spectral"])
def test_edges_come_nearer_to_the_truth(cmap: str, monkeypatch: pytest.MonkeyPatch) -> None:
    better = error_at_edges(cmap, "JPEG 85 4:2:0")
    monkeypatch.setattr(placed, "unmixed", lambda at, *_: at)
    assert better < 0.85 * error_at_edges(cmap, "JPEG 85 4:2:0")


def test_places_stay_where_no_chroma_is_shared_or_the_quantisation_is_not_known(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    seen = []
    kept = placed.unmixed

    def watched(at: np.ndarray, *rest: object) -> np.ndarray:
        after = kept(at, *rest)  # type: ignore[arg-type]
        seen.append(np.array_equal(at, after))
        return after

    monkeypatch.setattr(placed, "unmixed", watched)
    reread(61, ColorStyle(cmap="viridis"), "JPEG 95 4:4:4")
    made = reread(61, ColorStyle(cmap="viridis"), "JPEG 85 4:2:0")
    path = lossy_path(made.picture, true_bar(made.picture, made.frame))
    placed.lossy_places(replace(made.picture, luma_steps=(), chroma_steps=()), path)
    assert seen == [True, False, True]
