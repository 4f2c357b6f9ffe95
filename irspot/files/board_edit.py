"""A board file given zones, everything else in it left as it is: comments, order, spelling."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from irspot.board import Board
from irspot.errors import FileInvalid, Problem
from irspot.files.board import board_of
from irspot.files.board_keys import SHAPE_KEYS
from irspot.files.findings import Findings
from irspot.files.toml import plain_text

_NAMED: Final = 6

Tables = Sequence[Mapping[str, Any]]


def new_board(name: str, outline: Mapping[str, Any], comment: str) -> str:
    """Begin a board file: its name and its outline, below a comment on where they are from."""
    import tomlkit

    document = tomlkit.document()
    for line in comment.splitlines():
        document.add(tomlkit.comment("".join(c if c.isprintable() else "?" for c in line)))
    document["schema"] = 1
    document["name"] = name
    document["outline"] = _table(outline)
    return tomlkit.dumps(document)


def board_text(path: Path) -> str:
    """Read a board file that is to be edited, and hold it against the format first.

    Raises
    ------
    FileInvalid
        If it is no sound board file.
    """
    findings = Findings(str(path))
    text = plain_text(path, findings, "a board file")
    _sound(text, findings)
    return text


def with_tables(
    text: str, path: Path, added: Mapping[str, Tables], *, replace: bool = False
) -> tuple[bytes, Board, tuple[Problem, ...]]:
    """Add zones, sites and marks to a board file.

    Parameters
    ----------
    text : str
        Of a sound board file.
    path : Path
        Named in messages.
    added : mapping of str to sequence of mapping
        ``zone``, ``site`` or ``mark`` → tables to add behind those that are there.
    replace : bool
        Whether what has the same id gets the new one's keys, keeping its others; else it is an error.

    Returns
    -------
    bytes
        The new content.
    Board
        What it says.
    tuple of Problem
        Warnings about it.

    Raises
    ------
    FileInvalid
        For an id that is taken, and if the outcome is no sound board file.
    """
    import tomlkit

    document: Any = tomlkit.parse(text)
    for kind, tables in added.items():
        if not tables:
            continue
        there = document.get(kind)
        if there is None:
            document.add(tomlkit.nl())
            there = document[kind] = tomlkit.aot()
        known = {str(table["id"]).casefold(): table for table in there}
        taken = [str(table["id"]) for table in tables if str(table["id"]).casefold() in known]
        if taken and not replace:
            _refuse_taken(taken, kind, path)
        for table in tables:
            old = known.get(str(table["id"]).casefold())
            if old is None:
                there.append(_table(table))
            else:
                _renew(old, table)
    changed = tomlkit.dumps(document).rstrip("\n") + "\n"
    findings = Findings(str(path))
    board = _sound(changed, findings)
    return changed.encode(), board, findings.problems


def _refuse_taken(taken: Sequence[str], kind: str, path: Path) -> None:
    named = ", ".join(taken[:_NAMED]) + (f" and {len(taken) - _NAMED} more" if len(taken) > _NAMED else "")
    hint = "--replace gives these the new shapes and keeps their other keys; --leave-out leaves them as they are"
    found = f"{len(taken)}: {named}"
    raise FileInvalid((Problem(f"has {kind}s of these ids already", str(path), kind, found, hint=hint),))


def _renew(old: Any, table: Mapping[str, Any]) -> None:
    """Give a table new values; its shape is replaced whatever kind it was, comments behind values stay."""
    import tomlkit

    if any(key in table for key in SHAPE_KEYS):
        for key in SHAPE_KEYS:
            if key in old and key not in table:
                del old[key]
    for key, value in table.items():
        item = tomlkit.item(value)
        if key in old:
            item.trivia.comment_ws, item.trivia.comment = old[key].trivia.comment_ws, old[key].trivia.comment
        old[key] = item


def _table(values: Mapping[str, Any]) -> Any:
    import tomlkit

    table = tomlkit.table()
    for key, value in values.items():
        table[key] = value
    return table


def _sound(text: str, findings: Findings) -> Board:
    return board_of(tomllib.loads(text), findings)
