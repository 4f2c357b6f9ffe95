"""The references of a board file: patches of known temperature in view."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from irspot.board import Reference, Zone
from irspot.constants import ASSUMED_U_REFERENCE_EMISSIVITY, BARE_METAL_EMISSIVITY
from irspot.files.findings import Findings, Loc, known_or_list, show, unique_ids

_SAME_NAMES: Final = ("id", "zone", "side", "temperature_degc", "log_column", "u_k", "emissivity", "u_emissivity")
"""Keys that are fields of `Reference` as they stand."""


def references_of(tables: list[dict[str, Any]], zones: Sequence[Zone], findings: Findings) -> tuple[Reference, ...]:
    """Check a board's references and convert them.

    Parameters
    ----------
    tables : list of dict
        Their keys, those of a sound type.
    zones : sequence of Zone
        Of the board.
    findings : Findings
    """
    unique_ids(tables, ("reference",), findings)
    made = [_reference(table, ("reference", index), zones, findings) for index, table in enumerate(tables)]
    return tuple(reference for reference in made if reference is not None)


def _reference(table: Mapping[str, Any], loc: Loc, zones: Sequence[Zone], findings: Findings) -> Reference | None:
    _check_keys(table, loc, findings)
    made = Reference(**{"id": "", **{key: table[key] for key in _SAME_NAMES if key in table}})
    if "px" in table:
        if "emissivity" not in table:
            made = replace(made, u_emissivity=ASSUMED_U_REFERENCE_EMISSIVITY)
        return _disc(made, table["px"], loc, findings)
    zone = next((zone for zone in zones if zone.id == table.get("zone")), None)
    if zone is None:
        _no_such_zone(table, loc, zones, findings)
        return None
    if "emissivity" not in table:
        made = replace(made, emissivity=zone.emissivity, u_emissivity=table.get("u_emissivity", zone.u_emissivity))
    if made.emissivity < BARE_METAL_EMISSIVITY:
        found = f"{made.emissivity:g}, its zone's"
        findings.error(
            (*loc, "zone"), "mirrors too much to be a reference", found=found, hint="put tape or paint on it"
        )
    return made


def _check_keys(table: Mapping[str, Any], loc: Loc, findings: Findings) -> None:
    places = [key for key in ("zone", "px") if key in table]
    if len(places) != 1 and not any(findings.broken(*loc, key) for key in ("zone", "px")):
        found = " and ".join(places) or "none"
        findings.error(loc, "needs one place", found=found, wanted="zone, or px = [x, y, radius]")
    if "side" in table and "zone" in table:
        findings.error((*loc, "side"), "goes with px: a zone has its own side")
    known = [key for key in ("temperature_degc", "log_column") if key in table]
    if not known and not findings.broken(*loc, "temperature_degc"):
        findings.error(loc, "has no temperature", wanted="temperature_degc or log_column")
    if len(known) == 2:
        findings.error((*loc, "log_column"), "contradicts temperature_degc", wanted="one of the two")
    if "u_emissivity" in table and "emissivity" not in table and "px" in table:
        findings.error((*loc, "u_emissivity"), "stands without emissivity")
    if known and "u_k" not in table and not findings.broken(*loc, "u_k"):
        findings.warn((*loc, "u_k"), f"not given, so {Reference('').u_k:g} K is assumed", hint="state it")
    if "px" in table and "emissivity" not in table and not findings.broken(*loc, "emissivity"):
        assumed = Reference("")
        message = f"not given, so {assumed.emissivity:g} ± {ASSUMED_U_REFERENCE_EMISSIVITY:g} (u) is assumed"
        findings.warn((*loc, "emissivity"), message, hint="state it")


def _disc(made: Reference, px: Sequence[float], loc: Loc, findings: Findings) -> Reference:
    x_px, y_px, radius_px = px
    if radius_px <= 0.0:
        findings.error((*loc, "px"), "has no size", found=show(list(px)), wanted="[x, y, radius] with a radius above 0")
    return replace(made, px=(x_px, y_px, radius_px))


def _no_such_zone(table: Mapping[str, Any], loc: Loc, zones: Sequence[Zone], findings: Findings) -> None:
    if "zone" not in table or findings.broken(*loc, "zone") or findings.broken("zone"):
        return
    hint = known_or_list(table["zone"], [zone.id for zone in zones], "zones")
    findings.error((*loc, "zone"), "names no zone of the board", found=show(table["zone"]), hint=hint)
