"""The even frame behind a run's emissivity map."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from irspot.board import Board
from irspot.constants import DEFAULT_U_EVEN_K, DEFAULT_U_REFLECTED_K, EVEN_CONTRAST_K
from irspot.even_frame import EvenConditions, EvenFrame
from irspot.files.findings import Findings, Loc, key_path, show
from irspot.files.frame_files import exists
from irspot.files.run_placement import PLACEMENT_KEYS, placement_of


def even_frame_of(
    keys: Mapping[str, Any], loc: Loc, board: Board | None, folder: Path, findings: Findings
) -> EvenFrame | None:
    """Read which even frame a run has, and how it was taken.

    Parameters
    ----------
    keys : mapping
        Of the run, with defaults.
    loc : tuple
        The run's place in the file.
    board : Board or None
        None where its file could not be read.
    folder : Path
        Of the study file.
    findings : Findings

    Returns
    -------
    EvenFrame or None
        None where there is none, or what stands there cannot be used.
    """
    if "emissivity_map" not in keys:
        return None
    table, place = keys["emissivity_map"], (*loc, "emissivity_map")
    if "frame" not in table or "temperature_degc" not in table:
        return None  # reported already
    file = folder / table["frame"]
    if not exists(file):
        findings.error((*place, "frame"), "there is no such file", found=show(table["frame"]))
    if (conditions := _conditions(table, keys, place, findings)) is None:
        return None
    given = any(key in table for key in PLACEMENT_KEYS)
    how = placement_of({"photo": keys.get("photo"), **table}, place, board, findings) if given else None
    return EvenFrame(file, conditions, how, table.get("top", keys.get("top")), key_path(place))


def _conditions(
    table: Mapping[str, Any], keys: Mapping[str, Any], place: Loc, findings: Findings
) -> EvenConditions | None:
    reflected_degc = table.get("reflected_degc", keys.get("reflected_degc"))
    if reflected_degc is None:
        findings.error((*place, "reflected_degc"), "missing, and the run states none either")
        return None
    if not table["temperature_degc"] - reflected_degc >= EVEN_CONTRAST_K:
        findings.error(
            (*place, "temperature_degc"),
            "is too near to the reflected temperature to tell emissivities",
            found=f"{table['temperature_degc']:g} °C before {reflected_degc:g} °C",
            wanted=f"at least {EVEN_CONTRAST_K:g} K above",
            hint="hold the board warmer",
        )
        return None
    session = table.get("session", "")
    return EvenConditions(
        temperature_degc=float(table["temperature_degc"]),
        u_k=float(table.get("u_k", DEFAULT_U_EVEN_K)),
        reflected_degc=float(reflected_degc),
        u_reflected_k=float(table.get("u_reflected_k", keys.get("u_reflected_k", DEFAULT_U_REFLECTED_K))),
        transmission=float(keys.get("transmission", 1.0)),
        window_degc=float(keys.get("window_degc", keys.get("ambient_degc", reflected_degc))),
        same_session=bool(session) and session == keys.get("session"),
    )
