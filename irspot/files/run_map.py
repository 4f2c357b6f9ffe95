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
from irspot.study import BadRun, Run


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


def refuse_shared_maps(made: Mapping[int, Run | BadRun], findings: Findings) -> dict[int, Run | BadRun]:
    """Refuse one even frame for several boards or sides: it shows one side of one sample, whatever it is named for.

    Parameters
    ----------
    made : mapping of int to Run or BadRun
        By their places in the file.
    findings : Findings

    Returns
    -------
    dict of int to Run or BadRun
        Every run that shares its even frame so is a bad one: nothing tells whose it is.
    """
    shown: dict[Path, set[tuple[str, str]]] = {}
    for run in made.values():
        if isinstance(run, Run) and run.even is not None:
            shown.setdefault(run.even.file, set()).add((run.board, run.side))
    return {index: _unshared(index, run, shown, findings) for index, run in made.items()}


def _unshared(
    index: int, run: Run | BadRun, shown: Mapping[Path, set[tuple[str, str]]], findings: Findings
) -> Run | BadRun:
    if isinstance(run, BadRun) or run.even is None or len(faces := shown[run.even.file]) == 1:
        return run
    place: Loc = ("run", index, "emissivity_map", "frame")
    names = ", ".join(f"{board} {side}" for board, side in sorted(faces))
    findings.error(
        place,
        "is the even frame of several boards or sides, and can show one only",
        found=names,
        hint="give the runs of each board and side an even frame of their own",
    )
    return BadRun(run.id, run.board, run.load, run.side, tuple(findings.errors_within(*place)))
