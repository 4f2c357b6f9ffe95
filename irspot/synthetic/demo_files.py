"""Board, camera and study files of the demo as TOML text, as a careful person would have written them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from irspot.board import Board, Site, Zone
from irspot.camera import Camera
from irspot.shapes import Circle, Polygon, Shape
from irspot.synthetic.demo_photos import DemoPhoto
from irspot.synthetic.demo_pictures import DemoPicture
from irspot.synthetic.demo_runs import U_AMBIENT_K, U_REFLECTED_K, DemoRun
from irspot.synthetic.demo_soak import DemoSoak

Pairs = Iterable[tuple[str, Any]]
Corners = tuple[tuple[float, float], ...]

_PRICES = {"k7": 389.0, "t3": 149.0, "p5": 259.0, "h2": 89.0}


def table(head: str, pairs: Pairs) -> str:
    """Write one TOML table.

    Parameters
    ----------
    head : str
        ``[optics]``, ``[[zone]]``; empty for the top of a file.
    pairs : iterable of (str, value)
        Keys with strings, numbers, lists or mappings (written inline).

    Returns
    -------
    str
    """
    lines = [head] if head else []
    lines += [f"{key} = {toml_value(value)}" for key, value in pairs]
    return "\n".join(lines) + "\n"


def toml_value(value: Any) -> str:
    """Write a value as TOML.

    Examples
    --------
    >>> print(toml_value("0.22 µH"), toml_value([[1, 2.5]]), toml_value({"circle_mm": [20, 240, 2]}))
    "0.22 µH" [[1, 2.5]] {circle_mm = [20, 240, 2]}
    """
    import tomlkit

    if isinstance(value, Mapping):
        inline = tomlkit.inline_table()
        inline.update(value)
        return str(inline.as_string())
    if isinstance(value, list):
        return "[" + ", ".join(toml_value(item) for item in value) + "]"
    return str(tomlkit.item(value).as_string())


# --- board ------------------------------------------------------------


def board_toml(board: Board) -> str:
    """Write a rectangular board's file.

    Parameters
    ----------
    board : Board

    Returns
    -------
    str
    """
    x0, y0, x1, y1 = board.outline.box_mm
    outline = [("width_mm", x1 - x0), ("height_mm", y1 - y0), ("thickness_mm", board.thickness_mm)]
    return "\n".join(
        [
            f"# {board.name}: an invented board. Names and numbers are made up; no such board exists.",
            "# Millimetres from the lower-left corner of the outline seen from the front, x right, y up.",
            table("", [("schema", 1), ("name", board.name), ("coating", board.coating)]),
            table("[outline]", outline),
            *(table("[[zone]]", _zone_pairs(zone)) for zone in board.zones),
            *(table("[[site]]", _site_pairs(site)) for site in board.sites),
            *(table("[[mark]]", [("id", mark.id), ("x_mm", mark.x_mm), ("y_mm", mark.y_mm)]) for mark in board.marks),
        ]
    )


def _zone_pairs(zone: Zone) -> list[tuple[str, Any]]:
    pairs: list[tuple[str, Any]] = [
        ("id", zone.id),
        ("name", zone.name),
        ("role", zone.role),
        ("side", zone.side),
        _shape_pair(zone.shape),
    ]
    if zone.exclude:
        pairs.append(("exclude", [dict([_shape_pair(shape)]) for shape in zone.exclude]))
    if zone.height_mm:
        pairs.append(("height_mm", zone.height_mm))
    if zone.material:
        pairs.append(("material", zone.material))
    elif not zone.emissivity_assumed:
        pairs += [("emissivity", zone.emissivity), ("u_emissivity", zone.u_emissivity)]
    pairs += [(key, value) for key in ("surface", "cover") if (value := getattr(zone, key)) not in ("", "bare")]
    pairs.append(("measures", zone.measures))
    if zone.limit:
        pairs += [("limit_degc", zone.limit.limit_degc), ("limit_kind", zone.limit.kind)]
        pairs.append(("limit_source", zone.limit.source))
    return pairs


def _shape_pair(shape: Shape) -> tuple[str, list[Any]]:
    if isinstance(shape, Circle):
        return "circle_mm", [shape.x_mm, shape.y_mm, shape.radius_mm]
    return _polygon_pair(shape)


def _polygon_pair(polygon: Polygon) -> tuple[str, list[Any]]:
    return "polygon_mm", [list(vertex) for vertex in polygon.vertices_mm]


def _site_pairs(site: Site) -> list[tuple[str, Any]]:
    keys = ("id", "x_mm", "y_mm", "side", "type")
    return [
        *((key, getattr(site, key)) for key in keys),
        ("class", site.tolerance_class),
        *((key, getattr(site, key)) for key in ("wire_mm", "attachment", "footprint_mm")),
    ]


# --- camera ------------------------------------------------------------


def camera_toml(camera: Camera) -> str:
    """Write a camera's file.

    Parameters
    ----------
    camera : Camera
        With all its optics stated.

    Returns
    -------
    str
    """
    optics, accuracy = camera.optics, camera.accuracy
    return "\n".join(
        [
            "# An invented camera: no such product exists.",
            table("", [("schema", 1), ("name", camera.name)]),
            table("[signal]", [("unit", camera.signal.unit), ("scale", camera.signal.scale), ("offset", 0.0)]),
            table(
                "[optics]",
                [
                    ("size_px", list(optics.size_px or ())),
                    ("focal_px", optics.focal_px),
                    ("principal_px", list(optics.principal_px or ())),
                    ("distortion", list(optics.distortion)),
                    ("blur_px", optics.blur_px),
                ],
            ),
            table("[band]", [("lower_um", camera.band.lower_um), ("upper_um", camera.band.upper_um)]),
            table(
                "[accuracy]",
                [
                    *(
                        (key, getattr(accuracy, key))
                        for key in ("limit_k", "limit_relative", "repeatability_k", "noise_k")
                    ),
                    ("range_degc", list(accuracy.range_degc or ())),
                    ("warm_up_min", accuracy.warm_up_min),
                ],
            ),
            table("[pixels]", [("dead_px", [list(place) for place in camera.dead_px])]),
        ]
    )


# --- study ------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Again:
    """What else there is of a study's runs.

    Parameters
    ----------
    pictures : tuple of DemoPicture
        Frames that are measured once more as pictures with a colour bar.
    photos : tuple of DemoPhoto
        Photos that are shown beneath the colours of their runs' pictures.
    recorded : tuple of DemoSoak
        Runs whose warm-up was recorded and logged.
    """

    pictures: tuple[DemoPicture, ...] = ()
    photos: tuple[DemoPhoto, ...] = ()
    recorded: tuple[DemoSoak, ...] = ()


def study_toml(
    title: str,
    boards: tuple[str, ...],
    runs: tuple[DemoRun, ...],
    corners_px: Mapping[str, Corners],
    again: Again,
) -> str:
    """Write the study's file.

    Parameters
    ----------
    title : str
    boards : tuple of str
        Ids, in order.
    runs : tuple of DemoRun
    corners_px : mapping
        Run id → corners of the outline; written to a tenth of a pixel, as a person would click them.
    again : Again

    Returns
    -------
    str
    """
    shown = {photo.run.id: _photo_pairs(photo) for photo in again.photos}
    return "\n".join(
        [
            "# An invented study: boards, camera, prices and frames are made up. truth.json tells what was true.",
            table("", study_pairs(title)),
            table("[setup]", [("heatsinks", "off the power stages"), ("fan", "120 mm, 0.8 m/s over the board")]),
            *(table("[[board]]", _board_pairs(board)) for board in boards),
            *(table("[[load]]", pairs) for pairs in _LOADS),
            *(table("[[run]]", [*run_pairs(run, corners_px[run.id]), *shown.get(run.id, ())]) for run in runs),
            *(table("[[run]]", _picture_pairs(picture, corners_px[picture.run.id])) for picture in again.pictures),
            *(table("[[run]]", _recorded_pairs(each, corners_px[each.id])) for each in again.recorded),
        ]
    )


def study_pairs(title: str) -> Pairs:
    """Give what stands at the head of a study."""
    return [
        ("schema", 1),
        ("title", title),
        ("camera", "camera.toml"),
        ("reference_ambient_degc", 21.0),
        ("ambient_tolerance_k", 1.0),
        ("negligible_k", 3.0),
        ("u_ambient_k", U_AMBIENT_K),
        ("u_reflected_k", U_REFLECTED_K),
        ("power_point", "wall"),
        ("utc_offset", "+00:00"),
        ("scale_degc", "auto"),
    ]


def _board_pairs(board: str) -> Pairs:
    return [
        ("id", board),
        ("file", f"boards/{board}.toml"),
        ("price", _PRICES[board]),
        ("currency", "EUR"),
        ("price_date", "2026-02-20"),
        ("batch", "spring"),
    ]


def _load(ident: str, description: str, power_w: float) -> Pairs:
    return [
        ("id", ident),
        ("description", description),
        ("duration_min", 60.0),
        ("intended_power_w", power_w),
        ("power_point", "wall"),
        ("power_tolerance_percent", 2.0),
        ("clock_tolerance_ghz", 0.05),
    ]


_LOADS = (
    _load("stock", "all-core render, limits as shipped", 235.0),
    _load("overclock", "all-core render, limits lifted, ≥ 5 GHz", 348.0),
)


def _photo_pairs(photo: DemoPhoto) -> Pairs:
    return [("photo", photo.file), ("photo_corners_px", [[round(x, 1), round(y, 1)] for x, y in photo.corners_px])]


def run_pairs(run: DemoRun, corners_px: Corners) -> Pairs:
    """Give what was noted of a run."""
    return [
        ("board", run.board),
        ("load", run.load),
        ("side", run.side),
        ("heating", run.heating),
        ("session", run.session),
        ("frames", f"frames/{run.id}.tiff"),
        ("corners_px", [[round(x, 1), round(y, 1)] for x, y in corners_px]),
        ("top", run.top),
        ("ambient_degc", run.ambient_degc),
        ("reflected_degc", run.reflected_degc),
        ("power_w", run.power_w),
        ("sustained_clock_ghz", run.sustained_clock_ghz),
        ("camera_on_min", run.camera_on_min),
    ]


def _picture_pairs(picture: DemoPicture, corners_px: Corners) -> list[tuple[str, Any]]:
    """Say of a picture what was said of the frame it shows, and the numbers of its bar."""
    pairs = dict(run_pairs(picture.run, corners_px))
    pairs["frames"] = picture.file
    return [("id", picture.id), *pairs.items(), ("color_scale_degc", [picture.low_degc, picture.high_degc])]


def _recorded_pairs(soak: DemoSoak, corners_px: Corners) -> list[tuple[str, Any]]:
    """Say of a recorded run what was said of its still, and where its witnesses are."""
    pairs = dict(run_pairs(soak.run, corners_px))
    pairs |= {"frames": soak.frames_file, "session": f"{soak.run.session}-recording", "camera_on_min": 25.0}
    witnesses = [
        ("sample_s", 60.0),
        ("steady_rule", "2 K/h"),
        ("thermocouple_log", soak.log_file),
        ("logger_limit_k", 0.5),
        ("cold_junction_limit_k", 0.5),
        ("logger_on_min", 90.0),
        ("ambient_log", soak.log_file),
        ("ambient_column", "air"),
        ("power_log", soak.log_file),
        ("power_column", "wall power"),
    ]
    return [("id", soak.id), ("camera", "camera-coarse.toml"), *pairs.items(), *witnesses]
