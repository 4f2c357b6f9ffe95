"""The one registry of result columns, which CSV, JSON, HTML and the data dictionary follow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Literal, Protocol

from irspot.results import Row, RunLabel
from irspot.two_views import ZoneInTwoViews

Kind = Literal["text", "number", "integer", "list"]


class TableRow(Protocol):
    """One row of any table: which run it belongs to, and a value whose attributes are the columns."""

    @property
    def label(self) -> RunLabel:
        """The run."""
        ...

    @property
    def reading(self) -> Any:
        """What was concluded."""
        ...


AnyRow = TableRow | ZoneInTwoViews
"""A row of any table; of two views the value itself is the row."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    Parameters
    ----------
    name : str
        Also the attribute of the row, its label or its reading that holds the value.
    kind : {"text", "number", "integer", "list"}
    meaning : str
        One sentence.
    unit : str
        Empty for text and plain counts.
    decimals : int
        Of a number in CSV.
    """

    name: str
    kind: Kind
    meaning: str
    unit: str = ""
    decimals: int = 0

    def value(self, row: AnyRow) -> str | float | int | tuple[str, ...] | None:
        """Take the column's value from a row."""
        if isinstance(row, Row) and self.name == TIME_COLUMN.name:
            return row.time_s
        holder: object = row
        if not isinstance(row, ZoneInTwoViews):
            holder = row.label if self.name in _OF_THE_RUN else row.reading
        value: str | float | int | tuple[str, ...] | None = getattr(holder, self.name)
        return value


_OF_THE_RUN: Final = frozenset({"run", "board", "load", "side"})


def _degc(name: str, meaning: str) -> Column:
    return Column(name, "number", meaning, "degC", 3)


def _k(name: str, meaning: str) -> Column:
    return Column(name, "number", meaning, "K", 3)


TIME_COLUMN: Final = Column("time_s", "number", "Seconds from the run's first frame (tables over time only).", "s", 3)

RESULT_COLUMNS: Final[tuple[Column, ...]] = (
    Column("board", "text", "Board id of the study."),
    Column("load", "text", "Load id of the study."),
    Column("side", "text", "Side imaged: front or rear."),
    Column("frame", "text", "Frame file, with #index for one of several in a file; the readout for recordings."),
    Column("time", "text", "UTC time of the frame, ISO 8601; empty if unknown."),
    Column("zone", "text", "Zone id of the board file; 'elsewhere' is the outline less all zones."),
    Column("role", "text", "What ties zones of different boards together."),
    _degc("max_degc", "Best estimate of the zone's highest surface temperature; corrections are flagged."),
    _k("U_max_k", "Expanded uncertainty (k = 2) of max_degc."),
    _degc("peak3x3_degc", "Hottest mean of a full block of 3 x 3 sound pixels."),
    _degc("mean_degc", "Mean over the zone's sound pixels."),
    _degc("p95_degc", "95th percentile over the zone's sound pixels, interpolated linearly."),
    Column("hot_x_mm", "number", "Place of the maximum on the board, seen from the front.", "mm", 2),
    Column("hot_y_mm", "number", "Place of the maximum on the board, y up.", "mm", 2),
    Column("hot_x_px", "number", "Place of the maximum in the stored image, pixel centres at integers.", "px", 2),
    Column("hot_y_px", "number", "Place of the maximum in the stored image, y down.", "px", 2),
    Column("pixels", "integer", "Sound pixels whose centre lies in the zone, border included."),
    Column("across_px", "number", "Diameter of the zone's largest inscribed circle.", "px", 2),
    Column("emissivity", "number", "Emissivity applied.", "", 4),
    _degc("reflected_degc", "Reflected temperature applied."),
    _degc("ambient_degc", "Ambient temperature of the run."),
    _k("rise_k", "max_degc less ambient_degc."),
    Column("verdict", "text", "On the measurement: usable, lower bound (the true value may be higher) or retake."),
    Column("flags", "list", "What is worth knowing, names joined by ';'."),
    Column("run", "text", "Run id of the study."),
    _degc("pixel_max_degc", "Hottest sound pixel, uncorrected."),
    _k("U_rise_k", "Expanded uncertainty (k = 2) of rise_k."),
    Column("zone_name", "text", "The zone's name for people."),
    Column("measures", "text", "What the zone's surface is: case, board, heatsink or other."),
    Column("cover", "text", "bare, heatsink or obscured."),
    Column("averaged", "integer", "Frames averaged into the readout; 1 for a still."),
    Column(
        "place_off_mm",
        "number",
        "How far off a raised zone may have been looked for where its height could not be corrected; else empty.",
        "mm",
        2,
    ),
    _degc("bound_degc", "What the zone's maximum is at least, where the verdict is lower bound; else empty."),
    Column("hot_width_px", "number", "Narrowest width of the hot spot at half its height; empty if wide.", "px", 2),
    Column("dominant_term", "text", "What weighs most in U_max_k."),
    Column("advice", "text", "What would make max_degc more certain, and by how much."),
    _degc("drawn_mean_degc", "Mean of max_degc with every input drawn (--monte-carlo); else empty."),
    _k("drawn_u_k", "Standard deviation of max_degc with every input drawn."),
    _degc("drawn_low_degc", "Lower end of the 95 % interval of max_degc with every input drawn."),
    _degc("drawn_high_degc", "Upper end of that interval."),
    _degc("junction_degc", "Junction temperature: max_degc plus psi_jt_k_per_w times power_w; else empty."),
    _k("U_junction_k", "Expanded uncertainty (k = 2) of junction_degc."),
    _degc("limit_degc", "The zone's limit, of the board file."),
    Column("limit_kind", "text", "What the limit is a temperature of: surface, case, board or junction."),
    _k("margin_k", "limit_degc less the like quantity; empty where only an unlike one is known."),
    _k("U_margin_k", "Expanded uncertainty (k = 2) of margin_k."),
    Column("verdict_reason", "text", "Why the reading is a lower bound or to be retaken; else empty."),
    Column("verdict_remedy", "text", "The cheapest thing to do about that; else empty."),
    _degc("normalised_degc", "rise_k plus the study's reference ambient; empty where either is not known."),
    _k("U_normalised_k", "Expanded uncertainty (k = 2) of normalised_degc: a rise is not quite the same in other air."),
)
"""Columns of results.csv, in order; the first 24 are the format's, in its order."""

SERIES_COLUMNS: Final[tuple[Column, ...]] = (TIME_COLUMN, *RESULT_COLUMNS)
"""Columns of series/RUN.csv where frames were fully measured."""

FULL_RATE_COLUMNS: Final[tuple[Column, ...]] = tuple(
    next(column for column in SERIES_COLUMNS if column.name == name)
    for name in ("time_s", "zone", "max_degc", "U_max_k", "hot_x_px", "hot_y_px", "mean_degc", "flags")
)
"""Columns of series/RUN.csv where every frame was taken."""


def _s(name: str, meaning: str) -> Column:
    return Column(name, "number", meaning, "s", 1)


SOAK_COLUMNS: Final[tuple[Column, ...]] = (
    *(next(column for column in RESULT_COLUMNS if column.name == name) for name in ("board", "load", "side")),
    Column("zone", "text", "Zone id of the board file, or site id of a thermocouple."),
    _degc("last_degc", "Measured last: by the samples of the last two minutes."),
    _k("U_last_k", "Expanded uncertainty (k = 2) of last_degc."),
    _degc("end_degc", "Projected end value with the air as it is last; no measurement."),
    _k("U_end_k", "Expanded uncertainty (k = 2) of end_degc, the camera's limit included."),
    _s("tau_s", "Time constant, the longest where there are two."),
    Column("drift_k_per_h", "number", "Rate of change over the last 10 min.", "K/h", 3),
    Column("steady", "text", "Whether it is steady by the rule: yes, no, or empty where the samples do not say."),
    _s("within_1k_s", "When it came within 1 K of end_degc, from the run's first frame; empty while it is not."),
    _s("remaining_s", "From the last sample until it will be within 1 K of end_degc; 0 if it is."),
    _degc("ambient_degc", "Air temperature at the last sample."),
    Column("flags", "list", "What is worth knowing about the run's soak, names joined by ';'."),
    Column("run", "text", "Run id of the study."),
    Column("kind", "text", "zone or bead."),
    Column("comparable", "text", "no where load or power was not as intended or was not held, or the run interrupted."),
    Column("rule", "text", "The rule that steady was judged by."),
    _s("steady_in_s", "From the last sample until the fit will meet the rule; 0 if it is met."),
    _k("U_end_fit_k", "The part of U_end_k that the samples leave, without what is the same error in all of them."),
    Column("U_drift_k_per_h", "number", "Expanded uncertainty (k = 2) of drift_k_per_h.", "K/h", 3),
    _s("U_tau_s", "Expanded uncertainty (k = 2) of tau_s."),
    _s("fast_tau_s", "The shorter time constant where two are likelier than one; else empty."),
    Column("two_share", "number", "Evidence for two time constants against one, 0 to 1.", "", 3),
    _s("U_within_1k_s", "Half of the 95 % interval of within_1k_s."),
    _s("U_remaining_s", "Half of the 95 % interval of remaining_s."),
    _s("from_s", "First sample that was fitted, from the run's first frame."),
    _s("last_s", "Last sample."),
    Column("samples", "integer", "Samples with a value."),
)
"""Columns of soak.csv, in order; the first 15 and ``run`` are the format's."""
CROSSCHECK_COLUMNS: Final[tuple[Column, ...]] = (
    *(next(column for column in RESULT_COLUMNS if column.name == name) for name in ("board", "load", "side")),
    Column("site", "text", "Site id of the board file."),
    _s("time_s", "Of the frame, from the run's first."),
    _degc("bead_degc", "The bead, with half of what its wires may have taken added."),
    _k("U_bead_k", "Expanded uncertainty (k = 2) of bead_degc."),
    _degc("image_degc", "Surface temperature in the image beside the bead, or of the tape over it."),
    _k("U_image_k", "Expanded uncertainty (k = 2) of image_degc."),
    _k("difference_k", "Bead less image; through the board where they see different sides."),
    Column("en", "number", "En number of bead against image; empty where they see different sides.", "", 2),
    Column("agrees", "text", "yes where |En| is at most 1, no where it is more, empty where that cannot be said."),
    _s("clock_offset_s", "The logger's clock less the camera's."),
    Column("likely_cause", "text", "What most likely explains a disagreement, or the bead's fault."),
    Column("hot_zone", "text", "The zone that the bead sits in, or under."),
    Column("hot_distance_mm", "number", "From the bead to the zone's hottest place.", "mm", 2),
    Column("hot_dx_mm", "number", "The same, to the right as seen from the front.", "mm", 2),
    Column("hot_dy_mm", "number", "The same, up.", "mm", 2),
    _k("hot_gain_k", "How much higher the surface is there."),
    _s("detached_from_s", "From when on the bead is not believed, from the run's first frame."),
    Column("flags", "list", "What is worth knowing about the bead, names joined by ';'."),
    Column("run", "text", "Run id of the study."),
    _s("u_clock_s", "Standard uncertainty of clock_offset_s."),
    _s("lag_s", "Time constant of the heat's way through the board, where it was fitted."),
    Column("advice", "text", "Where the bead should sit."),
)
"""Columns of crosscheck.csv, in order; the first 21 and ``run`` are the format's."""

COMPARE_COLUMNS: Final[tuple[Column, ...]] = (
    next(column for column in RESULT_COLUMNS if column.name == "load"),
    next(column for column in RESULT_COLUMNS if column.name == "role"),
    Column("rank", "integer", "1 + the longest chain of certainly cooler boards; empty where not compared."),
    Column("tie_group", "text", "A set of letters: boards that share one cannot be told apart."),
    next(column for column in RESULT_COLUMNS if column.name == "board"),
    Column("batch", "text", "What the board was bought or measured with."),
    Column("zone", "text", "The hottest of the role's zones."),
    _degc("value_degc", "Its highest temperature as measured; at least that where verdict is lower bound."),
    _k("rise_k", "value_degc less ambient."),
    _k("U_k", "Expanded uncertainty (k = 2) of ranked_rise_k."),
    _degc("normalised_degc", "rise_k plus the first study's reference ambient; empty where either is not known."),
    _degc("limit_degc", "Limit of the role's zone with the least left to its limit."),
    _k("margin_k", "What is left to that limit; below 0 beyond it."),
    Column("outcome", "text", "pass, conditional pass, conditional fail or fail by the decision rule; or not judged."),
    Column("comparable", "text", "no where the run may not stand beside the others, for the reasons given."),
    Column("reasons", "list", "Why it is not compared, joined by ';'."),
    Column("price", "number", "What the board cost.", "", 2),
    Column("currency", "text", "Of the price."),
    Column("on_frontier", "text", "yes where every cheaper board is certainly hotter; empty without a price."),
    Column("run", "text", "The (first) run it rests on."),
    next(column for column in RESULT_COLUMNS if column.name == "side"),
    Column("entry", "text", "Its name in the ranking: the board, with batch or set-up where that is not unique."),
    Column("runs", "list", "All runs it rests on, joined by ';'."),
    Column("verdict", "text", "Of the reading: usable, lower bound or retake."),
    _k("ranked_rise_k", "The rise that was ranked: linked to the first study, and at equal power, where so stated."),
    _k("U_value_k", "Expanded uncertainty (k = 2) of value_degc."),
    _k("U_rise_k", "Expanded uncertainty (k = 2) of rise_k."),
    _k("U_normalised_k", "Expanded uncertainty (k = 2) of normalised_degc."),
    Column("limit_kind", "text", "What the limit is a temperature of: surface, case, board or junction."),
    Column("limit_zone", "text", "The zone it belongs to."),
    _k("U_margin_k", "Expanded uncertainty (k = 2) of margin_k."),
    _k("guard_band_k", "Guard band applied to the limit."),
    Column("p_over_limit", "number", "How likely the true value is beyond the limit, 0 to 1.", "", 3),
    Column("repeats", "integer", "Runs behind it."),
    Column("mounts", "integer", "How often the board was mounted for these."),
    _k("spread_k", "Standard deviation between these runs; empty for a single run."),
    _degc("ambient_degc", "Air beside the board, mean of the runs."),
    Column("power_w", "number", "Power taken, mean of the runs.", "W", 2),
    Column("power_point", "text", "Where it was measured: wall, supply or package."),
    Column("clock_ghz", "number", "Clock rate held, mean of the runs.", "GHz", 3),
    Column("k_per_w", "number", "rise_k over power_w; secondary to the rise.", "K/W", 4),
    _k("offset_k", "Added to the rise to link its batch to the first study's; empty where none was."),
    _k("U_offset_k", "Expanded uncertainty (k = 2) of offset_k."),
    _k("projected_k", "Added to the rise to carry it to equal power, a projection; empty where it was not."),
    _k("U_projected_k", "Expanded uncertainty (k = 2) of projected_k."),
    Column("price_date", "text", "Date of the price."),
    Column("study", "text", "Title of the study it comes from."),
    Column("notes", "list", "What else is worth knowing, joined by ';'."),
)
"""Columns of compare.csv, in order; the first 19 and ``run`` are the format's."""

TWO_VIEW_COLUMNS: Final[tuple[Column, ...]] = (
    Column("zone", "text", "Zone id of the board file; 'elsewhere' is the outline less all zones."),
    Column("verdict", "text", "On the hot spot: steady, moved (likely a reflection) or undecided."),
    Column("why", "text", "The reason, in a word."),
    Column("distance_mm", "number", "Between the places of the two maxima on the board.", "mm", 2),
    Column("U_distance_mm", "number", "Expanded uncertainty (k = 2) of distance_mm.", "mm", 2),
    Column("shared_a", "number", "Share of A's hot spot that B shows at the same place.", "", 2),
    Column("shared_b", "number", "Share of B's hot spot that A shows at the same place.", "", 2),
    _degc("max_a_degc", "The zone's maximum in A, as irspot measure reads it."),
    _k("U_max_a_k", "Expanded uncertainty (k = 2) of max_a_degc."),
    _degc("max_b_degc", "The zone's maximum in B."),
    _k("U_max_b_k", "Expanded uncertainty (k = 2) of max_b_degc."),
    _k("difference_k", "One place, the hottest of both views, read in A less read in B."),
    _k("U_difference_k", "Expanded uncertainty (k = 2) of difference_k, without what both frames share."),
    _degc("lower_max_degc", "The lower of the two maxima: where the hot spot moved, the zone is no hotter than that."),
    _k("U_lower_max_k", "Expanded uncertainty (k = 2) of lower_max_degc."),
    Column("nearest_mm", "number", "A mirrored thing nearer than this would not have moved enough to tell.", "mm", 0),
    Column("angle_deg", "number", "Between the two lines of sight.", "deg", 1),
    Column("flags", "list", "view-dependent: one place reads differently in the two views."),
    Column("says", "text", "What it means."),
)
"""Columns of `irspot twoview`, in order."""
