"""What a picture's or a video's decoding rests on, in a few names and values."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from statistics import fmean
from typing import Any

from irspot.color_picture import Bar, Decoded

_AVERAGED = ("u_decode_k", "share_excluded", "share_clipped")


def summary_of(file: Path, decoded: Decoded) -> dict[str, Any]:
    """Say what a picture's decoding rests on.

    Parameters
    ----------
    file : Path
    decoded : Decoded

    Returns
    -------
    dict
        ``frame, low_degc, high_degc, ends_from, labels, bar_px, direction, u_decode_k, share_excluded, share_clipped``.
    """
    from irspot.exports.json_results import number

    return {
        "frame": file.name,
        "low_degc": number(decoded.scale.low_degc),
        "high_degc": number(decoded.scale.high_degc),
        "ends_from": decoded.scale.ends_from,
        "labels": list(decoded.scale.labels),
        "bar_px": list(decoded.bar.box_px),
        "direction": direction_of(decoded.bar),
        "u_decode_k": number(decoded.typical_u_k),
        "share_excluded": number(decoded.share_excluded),
        "share_clipped": number(decoded.share_clipped),
    }


def direction_of(bar: Bar) -> str:
    """Name the way temperatures rise along a bar: up, down, right or left."""
    return {"bottom": "up", "top": "down", "left": "right", "right": "left"}[bar.low_end]


@dataclass(slots=True)
class VideoSummary:
    """Gathers what the pictures of a video say, without keeping them."""

    times_s: list[float] = field(default_factory=list)
    scales: list[dict[str, Any]] = field(default_factory=list)
    """The bar's ends from a time on; one more wherever they change."""
    _last: dict[str, Any] = field(default_factory=dict)
    _values: dict[str, list[float]] = field(default_factory=lambda: {name: [] for name in _AVERAGED})

    def add(self, decoded: Decoded, time_s: float) -> None:
        """Take the next picture into account."""
        self.times_s.append(time_s)
        self._last = summary_of(Path(), decoded)
        ends = {name: self._last[name] for name in ("low_degc", "high_degc")}
        if not self.scales or ends != {name: self.scales[-1][name] for name in ends}:
            self.scales.append({"time_s": time_s, **ends})
        for name, values in self._values.items():
            if self._last[name] is not None:  # nothing was decoded
                values.append(self._last[name])

    def of(self, file: Path) -> dict[str, Any]:
        """Sum the video up: the last picture's bar and numbers, and means over all pictures."""
        means = {name: fmean(values) if values else None for name, values in self._values.items()}
        counted = {"frames": len(self.times_s), "times_s": self.times_s, "scales": self.scales}
        return self._last | {"frame": file.name} | means | counted
