"""What a report says of how its numbers were made: method, cameras, emissivities, times, digests, cautions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final

from irspot.constants import METHOD
from irspot.study import Run, Study
from irspot.uncertain import expanded, with_uncertainty
from irspot.version import __version__
from irspot.workflow.tasks import RunResult

if TYPE_CHECKING:
    from irspot.camera import Camera
    from irspot.rendering.report.values import Facts, TextTable

NONE: Final = "–"


def cautions() -> tuple[str, ...]:
    """Give the guide's cautions, one by one."""
    page = (files("irspot") / "guide" / "cautions.md").read_text(encoding="utf-8")
    return tuple(line.removeprefix("- ") for line in page.splitlines() if line.startswith("- "))


def method_facts(study: Study, results: Sequence[RunResult], settings: Mapping[str, Any]) -> Facts:
    """Say in plain words how the numbers were made, and under which conditions."""
    low, high = settings["scale_degc"]
    facts = [
        ("Made with", f"irspot {__version__}, METHOD {METHOD} (rises whenever a rule or formula changes a result)"),
        (
            "Measurement",
            "The settings the camera had applied were undone in in-band radiance; then each zone's emissivity, the "
            "reflected temperature and the transmission were applied. Zones were carried into the image and read on "
            "the camera's own pixels; no image was resampled before it was measured.",
        ),
        (
            "Maximum",
            "The best estimate of the zone's highest surface temperature: its hottest sound pixel, with what blur "
            "hides of a small hot spot and what noise adds to the hottest of many pixels corrected.",
        ),
        (
            "Uncertainty",
            "± is expanded with k = 2, about 95 %, by first-order propagation (JCGM 100); each reading's budget names "
            "its terms. A lower bound (≥) is printed where the true value may be higher.",
        ),
        ("Placement", _placements(results)),
        ("Reference ambient", _degc(study.reference_ambient_degc)),
        ("Ambient tolerance", _k(study.ambient_tolerance_k)),
        ("Counts as negligible", _k(study.negligible_k, " (declared in the study file before results)")),
        ("Reflected temperature", _reflected(study.runs)),
        ("Colours", "" if low is None else f"matplotlib's {settings['cmap']}, {low:g} to {high:g} °C for all images"),
        *_set_up(study.runs),
        ("Study file", study.file.name),
    ]
    return tuple((name, value) for name, value in facts if value)


def _degc(value: float | None) -> str:
    return "" if value is None else f"{value:g} °C"


def _k(value: float | None, more: str = "") -> str:
    return "" if value is None else f"{value:g} K{more}"


def _placements(results: Sequence[RunResult]) -> str:
    placed = [fact.placed for result in results for fact in result.frames if fact.placed is not None]
    refused = sum(fact.refusal is not None for result in results for fact in result.frames)
    words = {
        "auto": "found by the outline",
        "corners": "by corners given",
        "points": "by marks given",
        "photo": "by a photo",
    }
    parts = [
        f"{count} {words[method]}"
        for method in words
        if (count := sum(placement.method == method for placement in placed))
    ]
    parts += [f"{refused} refused"] if refused else []
    # Four points are met exactly, whatever they are worth.
    worst = max((placement.residual_mm for placement in placed if placement.points > 4), default=None)
    return ", ".join(parts) + ("" if worst is None else f"; largest residual {worst:.2f} mm")


def _reflected(runs: Sequence[Run]) -> str:
    stated = [run.reflected_degc for run in runs if run.reflected_degc is not None]
    if not stated:
        return "not stated: the ambient temperature was assumed, with a wide uncertainty"
    span = f"{min(stated):g} °C" if min(stated) == max(stated) else f"{min(stated):g} to {max(stated):g} °C"
    assumed = len(runs) - len(stated)
    return span + (f"; in {assumed} of {len(runs)} runs the ambient temperature was assumed" if assumed else "")


def _set_up(runs: Sequence[Run]) -> list[tuple[str, str]]:
    """Give every fact of the set-up, and where runs differ in it, in which."""
    values: dict[str, dict[str, list[str]]] = {}
    for run in runs:
        for name, value in run.setup:
            values.setdefault(name, {}).setdefault(value, []).append(run.id)
    return [(f"Set-up: {name}", _by_run(found, len(runs))) for name, found in values.items()]


def _by_run(found: Mapping[str, Sequence[str]], runs: int) -> str:
    if len(found) == 1 and sum(len(ids) for ids in found.values()) == runs:
        return next(iter(found))
    return "differs: " + "; ".join(f"{value} ({', '.join(ids)})" for value, ids in found.items())


def camera_table(runs: Sequence[Run]) -> TextTable:
    """Say what each camera's file promises."""
    from irspot.rendering.report.values import TextTable

    heads = ("camera", "limit", "repeatability K", "noise K", "range °C", "blur px", "band")
    cameras = dict.fromkeys(run.camera for run in runs)
    return TextTable("Cameras, as their files state them", heads, tuple(_camera(each) for each in cameras))


def _camera(camera: Camera) -> tuple[str, ...]:
    accuracy, blur_px, band = camera.accuracy, camera.optics.blur_px, camera.band
    relative = f" or {100.0 * accuracy.limit_relative:g} %" if accuracy.limit_relative else ""
    reach = accuracy.range_degc
    return (
        camera.name or "camera",
        f"{accuracy.limit_k:g} K{relative}{' (assumed)' if accuracy.assumed else ''}",
        f"{accuracy.repeatability_k:g}",
        f"{accuracy.noise_k:g}",
        NONE if reach is None else f"{reach[0]:g} to {reach[1]:g}",
        NONE if blur_px is None else f"{blur_px:g}",
        "Sakuma-Hattori equation" if band.sakuma_hattori else f"{band.lower_um:g} to {band.upper_um:g} µm",
    )


def emissivity_table(study: Study) -> TextTable:
    """Say which emissivity each zone of the boards used has, and where it comes from."""
    from irspot.rendering.report.values import TextTable

    used = {(run.board, run.side) for run in study.runs}
    rows = tuple(
        (
            board.board.name,
            zone.label,
            zone.side,
            with_uncertainty(zone.emissivity, expanded(zone.u_emissivity)),
            "assumed" if zone.emissivity_assumed else zone.emissivity_from or zone.material or "board file",
            zone.surface or NONE,
        )
        for board in study.boards
        for zone in board.board.zones
        if (board.id, zone.side) in used
    )
    heads = ("board", "zone", "side", "emissivity", "from", "surface")
    return TextTable("Emissivities of all zones", heads, rows, frozenset({3}))


def when_table(runs: Sequence[Run], results: Sequence[RunResult]) -> TextTable:
    """List frames in the order in which they were taken, with what was noted then; undated ones come last."""
    from irspot.rendering.report.values import TextTable

    rows = [
        (
            fact.time.replace("T", " ").replace("Z", "") or NONE,
            run.id,
            fact.name,
            NONE if run.ambient_degc is None else f"{run.ambient_degc:.1f}",
            NONE if run.power_w is None else f"{run.power_w:g}",
            NONE if run.camera_on_min is None else f"{run.camera_on_min:g}",
            run.session or NONE,
            run.heating or NONE,
        )
        for run, result in zip(runs, results, strict=True)
        for fact in result.frames[-1:]
    ]
    heads = ("taken (UTC)", "run", "last frame", "air °C", "power W", "camera on min", "session", "heating")
    ordered = sorted(rows, key=lambda row: (row[0] == NONE, row[0]))
    return TextTable("Runs in the order in which they were taken", heads, tuple(ordered), frozenset({3, 4, 5}))


def digest_table(digests: Mapping[str, str]) -> TextTable:
    """List the inputs with their digests."""
    from irspot.rendering.report.values import TextTable

    return TextTable("Inputs", ("file", "SHA-256"), tuple(digests.items()))
