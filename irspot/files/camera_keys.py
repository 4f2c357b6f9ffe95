"""The keys of a camera file, and what each means."""

from __future__ import annotations

from typing import Final

from irspot.files.grammar import (
    MAX_TEMPERATURE_DEGC,
    SCHEMA_NUMBER,
    Key,
    Table,
    choice,
    flag,
    fraction,
    ident,
    integer,
    number,
    numbers,
    one,
    rows,
    several,
    temperature_degc,
    text,
    u_k,
    whole_numbers,
    whole_rows,
)

DTYPES: Final = ("uint8", "int8", "uint16", "int16", "uint32", "int32", "float32", "float64")

_SIGNAL: Final = Table(
    {
        "unit": choice("Unit of stored * scale + offset.", "degC", "K", "degF", "counts").needed(),
        "scale": number("Factor on stored numbers.", ge=-1e12, le=1e12),
        "offset": number("Added after the factor.", ge=-1e12, le=1e12),
        "points": rows(
            "Black-body calibration of counts, interpolated in radiance.",
            2,
            "two or more [[count, °C], ...], counts rising",
            least=2,
            bound=1e12,
        ),
        "radiance": flag("Whether scale and offset turn counts into in-band radiance (W m⁻² sr⁻¹)."),
        "emissivity_set": fraction("Emissivity the camera had applied; undone before ours."),
        "reflected_set_degc": temperature_degc("Reflected temperature the camera had applied."),
        "transmission_set": fraction("Transmission the camera had applied."),
        "window_set_degc": temperature_degc("Temperature of window and path the camera had applied."),
    }
)

_RAW: Final = Table(
    {
        "width": integer("Columns.", ge=1, le=100_000).needed(),
        "height": integer("Rows.", ge=1, le=100_000).needed(),
        "dtype": choice("Type of one stored number.", *DTYPES).needed(),
        "byte_order": choice("Order of its bytes; 'little' where not given.", "little", "big"),
        "skip_bytes": integer("Bytes before the first frame.", ge=0, le=10**9),
    }
)

_OPTICS: Final = Table(
    {
        "size_px": whole_numbers("Columns and rows that frames must have.", 2, "[columns, rows]", ge=1),
        "focal_px": number("Focal length.", gt=0.0, le=1e6, unit="px"),
        "hfov_deg": number("Horizontal field of view, instead of focal_px.", gt=0.0, lt=180.0, unit="degrees"),
        "principal_px": numbers("Where the optical axis meets the image.", 2, "[x, y] in px", 1e6),
        "distortion": numbers("Lens distortion, the OpenCV model.", 5, "[k1, k2, p1, p2, k3]", 1e3),
        "blur_px": number("Standard deviation of the point spread.", ge=0.0, le=100.0, unit="px"),
    }
)

_BAND: Final = Table(
    {
        "lower_um": number("Lower end of the spectral band.", ge=0.1, le=1000.0, unit="µm"),
        "upper_um": number("Upper end of the spectral band.", ge=0.1, le=1000.0, unit="µm"),
        "sakuma_hattori": numbers("A, B, C of the Sakuma-Hattori equation, instead of a band.", 3, "[A, B, C]", 1e15),
    }
)

ACCURACY_KEYS: Final[dict[str, Key]] = {
    "limit_k": u_k("The maker's limit; the larger of it and limit_relative counts."),
    "limit_relative": number("The maker's limit as a share of the reading in °C.", ge=0.0, le=1.0),
    "repeatability_k": u_k("Standard uncertainty of the part that differs from frame to frame."),
    "noise_k": u_k("Standard deviation of one pixel."),
    "range_degc": numbers(
        "What the camera is made to measure.", 2, "[low, high] in °C, low below high", MAX_TEMPERATURE_DEGC
    ),
    "warm_up_min": number("Time the camera needs after it is switched on.", ge=0.0, le=10_000.0, unit="min"),
}

_COLORBAR: Final = Table(
    {
        "bar_px": whole_numbers("Place of the colour bar.", 4, "[x0, y0, x1, y1], ends exclusive"),
        "low_end": choice("End of the bar that stands for the low temperature.", "top", "bottom", "left", "right"),
        "ticks": rows("Numbers of the bar: places from 0 (low end) to 1, and °C.", 2, "[[place, °C], ...]"),
        "ignore_px": whole_rows("Parts of the frame that hold no picture.", 4, "[[x0, y0, x1, y1], ...]"),
    }
)

CAMERA: Final = Table(
    {
        "schema": SCHEMA_NUMBER,
        "name": text("Name of the camera."),
        "signal": one("How stored numbers become temperatures.", _SIGNAL),
        "raw": one("How a raw dump is laid out.", _RAW),
        "optics": one("Geometry of the lens.", _OPTICS),
        "band": one("The spectral band.", _BAND),
        "accuracy": one("What the maker promises, as bounds on radiance temperature.", Table(ACCURACY_KEYS)),
        "range": several(
            "A named alternative to [accuracy].", Table({"id": ident("Name of the range.").needed(), **ACCURACY_KEYS})
        ),
        "pixels": one(
            "What is known of single pixels.",
            Table({"dead_px": whole_rows("Dead pixels.", 2, "[[x, y], ...], whole numbers from 0")}),
        ),
        "colorbar": one("Where colour-mapped frames carry their colour bar.", _COLORBAR),
    }
)
"""A camera file."""
