"""JSON Schemas of the file formats, for editors that complete and check keys while somebody types."""

from __future__ import annotations

from typing import Any, Final

from irspot.errors import UsageError
from irspot.files.board_keys import BOARD
from irspot.files.camera_keys import CAMERA
from irspot.files.findings import nearest
from irspot.files.grammar import Key, Table
from irspot.files.study_keys import STUDY

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"
FORMATS: Final = {"board": BOARD, "camera": CAMERA, "study": STUDY}


def schema_of(kind: str) -> dict[str, Any]:
    """Give the JSON Schema of a file format.

    Parameters
    ----------
    kind : {"board", "camera", "study"}

    Raises
    ------
    UsageError
        For any other kind.
    """
    # The generator belongs to pydantic proper, which takes a while to import and is needed here only.
    from pydantic.json_schema import GenerateJsonSchema

    if kind not in FORMATS:
        raise UsageError(
            "there is no such file format", found=repr(kind), wanted=", ".join(FORMATS), hint=nearest(kind, FORMATS)
        )
    table = FORMATS[kind]
    body = GenerateJsonSchema().generate(table.core(), mode="validation")
    return {"$schema": DIALECT, "title": f"{kind} file", **_described(body, table)}


def _described(body: dict[str, Any], table: Table) -> dict[str, Any]:
    """Add to a table's schema what its keys mean, and which of them exclude one another."""
    properties = {name: _key_described(body["properties"][name], key) for name, key in table.keys.items()}
    described = {**body, "properties": properties}
    described.pop("title", None)
    if table.exactly_one:
        described["oneOf"] = [{"required": [name]} for name in table.exactly_one]
    return described


def _key_described(body: dict[str, Any], key: Key) -> dict[str, Any]:
    described = {name: value for name, value in body.items() if name != "title"}
    if key.table is not None and key.many:
        described["items"] = _described(described["items"], key.table)
    elif key.table is not None:
        described = _described(described, key.table)
    return {"description": key.about, **described}
