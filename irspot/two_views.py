"""What two views of a board in one state tell of a zone's hot spot."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from irspot.results import NAN

ViewVerdict = Literal["steady", "moved", "undecided"]
Why = Literal[
    "",
    "a-not-in-b",
    "b-not-in-a",
    "neither-in-the-other",
    "even",
    "in-part",
    "shifted",
    "views-alike",
    "not-seen",
    "hidden",
    "at-the-border",
    "too-small",
    "no-focal-length",
    "place-unknown",
]

SAYS: Final[Mapping[Why, str]] = {
    "": "the hot spot stays where it is on the board: it is no mirror image of anything further than nearest_mm",
    "a-not-in-b": "what is hottest in A is not there in B: likely a reflection (or height_mm is wrong)",
    "b-not-in-a": "what is hottest in B is not there in A: likely a reflection (or height_mm is wrong)",
    "neither-in-the-other": "neither hot spot is there in the other view: likely a reflection (or height_mm is wrong)",
    "even": "no hot spot stands out of the zone in either view: compare difference_k",
    "in-part": "a part of the hot spot is not there in the other view: move the camera further",
    "shifted": "one hot spot lies a little elsewhere in B: an image of something near, or height_mm is not right",
    "views-alike": "the views are too alike: a mirror image would hardly have moved; move the camera further",
    "not-seen": "the hot spot of one view is out of the other, or on pixels that do not count there",
    "hidden": "something higher may stand before the hot spot in one of the views",
    "at-the-border": "the hot spot lies at the zone's border: something beside the zone, or its flank, may show there",
    "too-small": "the zone shows too little around its hot spot: draw it larger, or go closer",
    "no-focal-length": "how far the camera moved is not known: give focal_px or hfov_deg in the camera file",
    "place-unknown": "how well the board is placed is not known",
}
"""What each reason means to a reader, and what to do."""


@dataclass(frozen=True, slots=True)
class ZoneInTwoViews:
    """One zone in two views, A and B.

    Parameters
    ----------
    zone : str
    verdict : {"steady", "moved", "undecided"}
        On where the hot spot is: on the surface, or probably mirrored in it.
    why : str
        A key of `SAYS`.
    distance_mm, U_distance_mm : float
        Between the two maxima on the board, and how far apart they may be found for one real hot spot.
    shared_a, shared_b : float
        Share of A's (of B's) hot spot that the other view shows at the same place: 1 for a real one, 0 for a mirrored
        one.
    max_a_degc, U_max_a_k, max_b_degc, U_max_b_k : float
        As `irspot measure` reads each view.
    difference_k, U_difference_k : float
        One place, where A or B is hottest, read in A less read in B, and what of it the frames' own errors explain.
    nearest_mm : float
        A mirrored thing nearer to the surface than this would not have moved enough to tell.
    angle_deg : float
        Between the two lines of sight.
    """

    zone: str
    verdict: ViewVerdict
    why: Why
    distance_mm: float = NAN
    U_distance_mm: float = NAN
    shared_a: float = NAN
    shared_b: float = NAN
    max_a_degc: float = NAN
    U_max_a_k: float = NAN
    max_b_degc: float = NAN
    U_max_b_k: float = NAN
    difference_k: float = NAN
    U_difference_k: float = NAN
    nearest_mm: float = NAN
    angle_deg: float = NAN

    @property
    def lower_max_degc(self) -> float:
        """The lower of the two maxima, a bound on a zone whose hot spot moved: a warm thing mirrored only adds."""
        known = math.isfinite(self.max_a_degc) and math.isfinite(self.max_b_degc)
        return min(self.max_a_degc, self.max_b_degc) if known else NAN

    @property
    def U_lower_max_k(self) -> float:
        """Expanded uncertainty of that."""
        if math.isnan(self.lower_max_degc):
            return NAN
        return self.U_max_a_k if self.max_a_degc <= self.max_b_degc else self.U_max_b_k

    @property
    def view_dependent(self) -> bool:
        """Whether one place reads differently in the two: by reflection, by emissivity, or since the board changed."""
        return abs(self.difference_k) > self.U_difference_k

    @property
    def flags(self) -> tuple[str, ...]:
        """``view-dependent`` where the two views read one place differently."""
        return ("view-dependent",) if self.view_dependent else ()

    @property
    def says(self) -> str:
        """What it means, for people."""
        return SAYS[self.why]
