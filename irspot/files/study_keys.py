"""The keys of a study file, and what each means. Those of a run may stand at study level as defaults."""

from __future__ import annotations

from typing import Final

from irspot.files.grammar import (
    MAX_TEMPERATURE_DEGC,
    SCHEMA_NUMBER,
    Key,
    Table,
    choice,
    day,
    either,
    fraction,
    ident,
    integer,
    matching,
    number,
    numbers,
    one,
    path,
    paths,
    rows,
    rows_by_name,
    several,
    temperature_degc,
    text,
    texts_by_name,
    u_fraction,
    u_k,
)

_POWER_POINTS: Final = ("wall", "supply", "package")


def _watts(about: str) -> Key:
    return number(about, ge=0.0, le=1e6, unit="W")


def _minutes(about: str) -> Key:
    return number(about, ge=0.0, le=1e6, unit="min")


def _scale(about: str, word: str) -> Key:
    wanted = f"'{word}', or [low, high] in °C with low below high"
    return either(about, wanted, choice("", word), numbers("", 2, "", MAX_TEMPERATURE_DEGC))


_CORNERS: Final = rows("One point for each corner of the outline, in its order.", 2, "[[x, y], ...] in px", least=3)
_POINTS: Final = rows_by_name("Places of marks, by mark id.", 2, "{ mark-id = [x, y], ... } in px")

_SIDES: Final = ("up", "right", "down", "left")
_TOP: Final = choice("The image side the board's top edge faces.", *_SIDES)
_PLACEMENT: Final = either(
    "How the board is found; or the table of one of the next two keys.",
    "'auto', 'photo', or { corners_px = [[x, y], ...] }, or { points_px = { mark-id = [x, y], ... } }",
    choice("", "auto", "photo"),
    one("", Table({"corners_px": _CORNERS.needed()})),
    one("", Table({"points_px": _POINTS.needed()})),
)

_EMISSIVITY_MAP: Final = Table(
    {
        "frame": path("A frame of the board evenly warm, unpowered, from the same place.").needed(),
        "temperature_degc": temperature_degc(
            "Its temperature by a thermometer, at least 20 K above what it reflects."
        ).needed(),
        "u_k": u_k("Standard uncertainty of its temperature, unevenness included; 0.5 where not given."),
        "reflected_degc": temperature_degc("Reflected temperature when it was taken; the run's where not given."),
        "u_reflected_k": u_k("Its standard uncertainty; the run's where not given."),
        "session": ident("The session it was taken in: in the run's own, both share the camera's error."),
        "placement": _PLACEMENT,
        "corners_px": _CORNERS,
        "points_px": _POINTS,
        "top": _TOP,
    }
)

_DEFAULTS: Final[dict[str, Key]] = {
    "side": choice("Side imaged; 'front' where not given.", "front", "rear"),
    "camera": path("Camera file."),
    "range": ident("The camera's [[range]] it was set to."),
    "heating": ident("Runs of one warm-up, such as front and rear, share it."),
    "session": ident("Runs that share the camera's offset share it."),
    "mount": ident("Differs where the board was taken out and mounted again."),
    "frames": path("A frame file, or a pattern such as 'frames/k7-*.tiff'."),
    "placement": _PLACEMENT,
    "corners_px": _CORNERS,
    "points_px": _POINTS,
    "top": _TOP,
    "readout": either(
        "The part of a recording that is reported.",
        "'last 60 s', 'last 20 frames', 'all', or a count of frames",
        text(""),
        integer("", ge=1, le=10**9),
    ),
    "sample_s": number("A recording's full readings every so often; 0 for every frame.", ge=0.0, le=1e6, unit="s"),
    "frame_interval_s": number("Time between frames that carry none.", gt=0.0, le=1e6, unit="s"),
    "ambient_degc": temperature_degc("Air beside the board."),
    "u_ambient_k": u_k("Its standard uncertainty."),
    "ambient_log": path("Log of the air temperature."),
    "ambient_column": text("Its column."),
    "reflected_degc": temperature_degc("Reflected temperature."),
    "u_reflected_k": u_k("Its standard uncertainty."),
    "transmission": fraction("Transmission of window and path together."),
    "u_transmission": u_fraction("Its standard uncertainty."),
    "window_degc": temperature_degc("Temperature of window and path."),
    "emissivity_set": fraction("Emissivity the camera had applied, instead of the camera file's."),
    "reflected_set_degc": temperature_degc("Reflected temperature the camera had applied."),
    "transmission_set": fraction("Transmission the camera had applied."),
    "window_set_degc": temperature_degc("Window temperature the camera had applied."),
    "color_scale_degc": either(
        "Ends of the colour bar of colour-mapped frames.",
        "'printed', or [low, high] in °C with low below high, or a video's log such as 'scale.csv'",
        choice("", "printed"),
        numbers("", 2, "", MAX_TEMPERATURE_DEGC),
        matching("", r"^[^\x00-\x1f]*\.[cC][sS][vV]$", ""),
    ),
    "cold_frame": path(
        "A frame, a recording, or a pattern for several: an even wall, the lens cap or the unpowered board, at room "
        "temperature, by the same camera in the same range and session. The camera's own pattern is taken from it."
    ),
    "emissivity_map": one("A frame that gives every pixel its emissivity.", _EMISSIVITY_MAP),
    "thermocouple_log": path("Log of the thermocouples."),
    "thermocouple_unit": choice("Its unit, where the log does not say.", "degC", "mV"),
    "cold_junction_degc": temperature_degc("Cold junction, for a log in mV."),
    "columns": texts_by_name("Column of the log for each site.", '{ site-id = "column", ... }'),
    "clock_offset_s": number("Logger's clock less the camera's.", ge=-1e7, le=1e7, unit="s"),
    "logger_limit_k": u_k("Maker's limit of the logger."),
    "cold_junction_limit_k": u_k("Maker's limit of the cold junction's temperature."),
    "equality_log": path("Log of the same channels with no power on the board."),
    "logger_on_min": _minutes("How long the logger had been on."),
    "sensor_log": path("Log of the board's own sensors."),
    "power_w": _watts("Power taken during the run."),
    "power_point": choice("Where it was measured.", *_POWER_POINTS),
    "power_log": path("Log of the power."),
    "power_column": text("Its column."),
    "sustained_clock_ghz": number("Clock rate held during the run.", ge=0.0, le=1000.0, unit="GHz"),
    "camera_on_min": _minutes("How long the camera had been on."),
    "steady_rule": text(
        "When a soak counts as steady: '2 K/h', '1 K in 15 min', or a published criterion, such as iec-62368-1."
    ),
    "setup": texts_by_name("Free facts, listed where they differ.", '{ cooler = "...", firmware = "..." }'),
    "notes": text("Anything worth keeping."),
    "photo": path("A visible-light photo of the same side, shown beneath the colours of pictures."),
    "photo_placement": choice("How the board is found in the photo, where none of the next two keys says.", "auto"),
    "photo_corners_px": _CORNERS,
    "photo_points_px": _POINTS,
    "photo_top": choice(
        "The side of the photo the board's top edge faces; that of the frames where not given.", *_SIDES
    ),
    "photo_opacity": number("Share of the photo in what is shown: 0 colours alone, 1 photo alone.", ge=0.0, le=1.0),
}

RUN_DEFAULTS: Final = frozenset(_DEFAULTS)
"""Keys of a run that may stand at study level."""

RUN: Final = Table(
    {
        "id": ident("Name of the run; board-load-side where not given."),
        "board": ident("A board of the study.").needed(),
        "load": ident("A load of the study.").needed(),
        **_DEFAULTS,
        "replaces": ident("The run this one supersedes."),
        "rejected": text("Why this run does not count."),
    }
)
"""One run."""

_BOARD: Final = Table(
    {
        "id": ident("Name of the board in the study.").needed(),
        "file": path("Board file.").needed(),
        "price": number("What it cost.", ge=0.0, le=1e9),
        "currency": matching("Currency of the price.", "^[A-Z]{3}$", "three capital letters such as USD"),
        "price_date": day("Date of the price."),
        "batch": text("What it was bought with."),
        "design": texts_by_name(
            "Facts of its design: boards that share all but one are shown as a pair.",
            '{ power-stages = "...", heatsink = "..." }',
        ),
    }
)

_LOAD: Final = Table(
    {
        "id": ident("Name of the load in the study.").needed(),
        "description": text("What is done to the board."),
        "duration_min": _minutes("How long it is held."),
        "intended_power_w": _watts("Power it is meant to take."),
        "power_point": choice("Where that power is meant.", *_POWER_POINTS),
        "power_tolerance_percent": number("How far the power may be off.", ge=0.0, le=100.0, unit="%"),
        "clock_tolerance_ghz": number("How far the clock may be off.", ge=0.0, le=1000.0, unit="GHz"),
    }
)

_DECISION: Final = Table(
    {
        "rule": choice(
            "'simple': up to the limit; 'guarded': up to the limit less a guard band; 'conditional': the same, with "
            "what lies within the guard band on either side said apart. 'conditional' where not given.",
            "simple",
            "guarded",
            "conditional",
        ),
        "guard_band_k": u_k("Width of the guard band; the value's own expanded uncertainty where not given."),
    }
)

_BOARDS: Final = several("A board of the study.", _BOARD)
_LOADS: Final = several("A repeatable stress setting.", _LOAD)
_RUNS: Final = several("One board, load, side and camera.", RUN)

_STUDY_KEYS: Final[dict[str, Key]] = {
    "schema": SCHEMA_NUMBER,
    "title": text("Title of the study."),
    "reference_ambient_degc": temperature_degc("Ambient temperature results are normalised to."),
    "ambient_tolerance_k": u_k("How far ambient temperatures may differ before results are not comparable."),
    "negligible_k": u_k("Difference that does not matter, declared before results are seen."),
    "utc_offset": matching(
        "For times that carry no zone.",
        r"^[+-](0[0-9]|1[0-4]):[0-5][0-9]$",
        'hours and minutes such as "+02:00", from -14:59 to +14:59',
    ),
    "scale_degc": _scale("Scale of the pictures, one a study.", "auto"),
    "previous": paths("Study files of earlier studies, joined as batches."),
    "reference_board": ident("Board measured in every session, which links sessions and batches."),
    "decision": one("Decision rule for limits.", _DECISION),
}

STUDY: Final = Table(
    {
        **_STUDY_KEYS,
        **_DEFAULTS,
        "board": _BOARDS.needed(),
        "load": _LOADS.needed(),
        "run": _RUNS.needed(),
    }
)
"""A study file as editors should see it, every table in full."""
