"""What a zone's temperature is held against: its limit, and the junction behind its surface."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from irspot.board import Junction, Limit, Zone
from irspot.constants import ASSUMED_SHARE_OF_JUNCTION
from irspot.files.findings import Findings, Loc, show


def limit_of(table: Mapping[str, Any], loc: Loc, findings: Findings) -> Limit | None:
    """Make a zone's limit; None where it has none, or a wrong one."""
    limit, kind = table.get("limit_degc"), table.get("limit_kind")
    if limit is not None and kind is not None:
        return Limit(limit, kind, table.get("limit_source", ""))
    if limit is not None and not findings.broken(*loc, "limit_kind"):
        wanted = "limit_kind = 'surface', 'case', 'board' or 'junction'"
        hint = "a limit is compared only with a like quantity"
        findings.error((*loc, "limit_degc"), "a limit needs its kind", wanted=wanted, hint=hint)
    for key in ("limit_kind", "limit_source"):
        if limit is None and key in table and not findings.broken(*loc, "limit_degc"):
            findings.error((*loc, key), "stands without limit_degc", wanted="limit_degc = the limit in °C")
    return None


def junction_of(table: Mapping[str, Any], loc: Loc, findings: Findings) -> Junction | None:
    """Make what leads to a zone's junction; None where nothing does, or something is wrong."""
    psi, power = table.get("psi_jt_k_per_w"), table.get("power_w")
    for key, of in (("u_psi_jt_k_per_w", "psi_jt_k_per_w"), ("u_power_w", "power_w")):
        if key in table and of not in table and not findings.broken(*loc, of):
            findings.error((*loc, key), f"stands without {of}")
    if psi is None:
        return None
    if power is None:
        if not findings.broken(*loc, "power_w"):
            hint = "a junction is hotter than its case by psi_jt_k_per_w times the part's power"
            findings.error((*loc, "psi_jt_k_per_w"), "stands without power_w", wanted="power_w in W", hint=hint)
        return None
    measures = table.get("measures", "other")
    if measures != "case":
        hint = "psi_JT counts from the top of the part's case, which the camera has to see"
        wanted = "measures = 'case'"
        findings.error((*loc, "psi_jt_k_per_w"), "the zone is no case", found=show(measures), wanted=wanted, hint=hint)
        return None
    u_psi, u_power = table.get("u_psi_jt_k_per_w"), table.get("u_power_w")
    return Junction(
        psi,
        psi * ASSUMED_SHARE_OF_JUNCTION if u_psi is None else u_psi,
        power,
        power * ASSUMED_SHARE_OF_JUNCTION if u_power is None else u_power,
        u_assumed=u_psi is None or u_power is None,
    )


def warn_of_unlike_limits(zones: Mapping[int, Zone], findings: Findings) -> None:
    """Warn of limits that no reading of their zone can be held against."""
    for index, zone in zones.items():
        if zone.limit is None or zone.limit.kind in zone.quantities:
            continue
        needs = "psi_jt_k_per_w and power_w" if zone.limit.kind == "junction" else f"measures = '{zone.limit.kind}'"
        findings.warn(
            ("zone", index, "limit_kind"),
            "the limit will not be compared: the camera sees another quantity",
            found=f"a limit of the {zone.limit.kind}, a zone that measures '{zone.measures}'",
            hint=f"if that is what the zone is, give {needs}",
        )
