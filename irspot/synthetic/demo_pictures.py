"""The demo's colour-mapped frames: some of its frames once more, as pictures with a colour bar burned in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from irspot.constants import ZERO_DEGC_KELVIN
from irspot.synthetic.color_frames import encode, render
from irspot.synthetic.color_style import BarPlace, ColorStyle, Labels, Logo, OverlayText, Shade
from irspot.synthetic.demo_runs import DEMO_CAMERA, DemoRun, demo_runs

INVENTED = "Invented scene: no real board, no real measurement."
"""Said inside every frame of the demo."""


@dataclass(frozen=True, slots=True)
class DemoPicture:
    """A frame of the demo as a picture.

    Parameters
    ----------
    run : DemoRun
        Whose frame it shows.
    low_degc, high_degc : float
        Ends of the bar.
    style : ColorStyle
    kind : {"png", "jpeg"}
    quality : int
        Of a JPEG, whose chroma has half the resolution.
    """

    run: DemoRun
    low_degc: float
    high_degc: float
    style: ColorStyle
    kind: Literal["png", "jpeg"] = "png"
    quality: int = 85

    @property
    def id(self) -> str:
        """Id of the run that has it measured."""
        return f"{self.run.id}-picture"

    @property
    def file(self) -> str:
        """Where it lies, relative to the study."""
        return f"frames/{self.id}.{'png' if self.kind == 'png' else 'jpg'}"


def demo_pictures() -> tuple[DemoPicture, ...]:
    """List the demo's pictures: several colour maps, sides, file formats and overlays."""
    runs = {run.id: run for run in demo_runs()}
    return (
        DemoPicture(
            runs["k7-stock-front"],
            20.0,
            75.0,
            ColorStyle(cmap="viridis", place=BarPlace("right"), ticks=5, labels=Labels(count=2, size_px=15)),
        ),
        DemoPicture(
            runs["t3-overclock-front"],
            15.0,
            100.0,
            ColorStyle(
                cmap="inferno",
                place=BarPlace("left"),
                labels=Labels(count=2, size_px=15, place="after"),
                overlays=(OverlayText("invented scene", (470, 492), 14), Logo((596, 12), 30)),
            ),
            "jpeg",
            90,
        ),
        DemoPicture(
            runs["h2-stock-front"],
            18.0,
            80.0,
            ColorStyle(
                cmap="turbo",
                low_end="left",
                place=BarPlace("bottom", length=0.6),
                labels=Labels(count=2, size_px=15, place="beyond"),
                overlays=(Shade((4, 4, 150, 26)), OverlayText("invented scene", (10, 7), 14)),
            ),
            "jpeg",
            85,
        ),
        DemoPicture(
            runs["h2-stock-rear"],
            18.0,
            72.0,
            ColorStyle(cmap="gray", place=BarPlace("right"), labels=Labels(count=2, size_px=15), border_px=1),
        ),
    )


def picture_bytes(picture: DemoPicture, stored: NDArray[np.uint16]) -> bytes:
    """Draw a frame of the demo as a picture file.

    Parameters
    ----------
    picture : DemoPicture
    stored : ndarray of uint16, shape (rows, columns)
        The radiometric frame of the same run.
    """
    signal = DEMO_CAMERA.signal
    degc = stored.astype(np.float64) * signal.scale + signal.offset - ZERO_DEGC_KELVIN
    drawn = render(degc, picture.low_degc, picture.high_degc, picture.style)
    return encode(drawn.rgb, picture.kind, picture.quality, about=INVENTED, taken=picture.run.taken)
