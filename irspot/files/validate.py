"""Holding a document against its table: every problem found, and whatever is sound handed on."""

from __future__ import annotations

from functools import cache
from typing import Any, Final

from pydantic_core import SchemaValidator, ValidationError

from irspot.files.findings import Findings, Loc, nearest, show
from irspot.files.grammar import Table

MAX_PROBLEMS: Final = 1_000
"""Of one file; one with more is not what it claims to be."""


@cache
def _validator(table: Table, partial: bool) -> SchemaValidator:
    return SchemaValidator(table.core(partial))


def sound_part(document: dict[str, Any], table: Table, findings: Findings) -> dict[str, Any]:
    """Validate a document, report what is wrong and give the rest of it.

    Parameters
    ----------
    document : dict
        As parsed; not changed.
    table : Table
        The format.
    findings : Findings
        Every problem goes here.

    Returns
    -------
    dict
        The document without the keys that have errors: all values in it are of the right type and within bounds,
        and keys may be missing, required ones too (`Findings.broken` says where). Empty where too much is wrong.
    """
    validator = _validator(table, False)
    # Taking out a bad key can empty nothing else, so the second round passes; the others guard against surprises.
    for _ in range(4):
        try:
            return dict(validator.validate_python(document))
        except ValidationError as error:
            faults = error.errors(include_url=False)
        places = [_report(fault, table, findings) for fault in faults[:MAX_PROBLEMS]]
        if len(faults) > MAX_PROBLEMS:
            findings.error((), f"{len(faults)} problems in all; the first {MAX_PROBLEMS} are listed")
            return {}
        for place in sorted(set(places), key=len, reverse=True):
            document = _without(document, place)
        validator = _validator(table, True)
    return {}


def _report(fault: Any, table: Table, findings: Findings) -> Loc:
    """Note one fault; give the place of the key to leave out."""
    loc: Loc = _known_part(fault["loc"], table)
    key = table.key_at(loc)
    kind, value = fault["type"], fault["input"]
    place = _last_key(loc)
    if findings.broken(*loc):
        return place  # a union reports each of its members
    if kind == "extra_forbidden":
        findings.error(loc, "unknown key", hint=_known_key(str(loc[-1]), loc, table))
    elif kind == "missing":
        findings.error(loc, "missing", wanted=key.wanted if key else "")
    elif loc == ("schema",) and isinstance(value, int) and not isinstance(value, bool) and value > 1:
        hint = "a newer version of the program reads it"
        findings.error(loc, "the file's format is newer than this version knows", found=show(value), hint=hint)
    else:
        wanted = key.wanted if key else "a table"
        hint = _hint(kind, value, wanted)
        findings.error(loc, _MESSAGES.get(kind, "not accepted"), found=_found(kind, value), wanted=wanted, hint=hint)
    return place


def _known_part(loc: Loc, table: Table) -> Loc:
    """Cut what a union or a free table of pydantic's adds to a place (member names, ``[key]``)."""
    clean: list[str | int] = []
    inside: Table | None = table
    for step in loc:
        if isinstance(step, str):
            if inside is None:
                # Below a key that holds no table of the format: an entry of a free table, or a union's member.
                return tuple(clean)
            clean.append(step)
            key = inside.keys.get(step)
            inside = key.table if key else None
        else:
            clean.append(step)
    return tuple(clean)


def _last_key(loc: Loc) -> Loc:
    strings = [index for index, step in enumerate(loc) if isinstance(step, str)]
    return loc[: strings[-1] + 1] if strings else ()


def _without(document: Any, loc: Loc) -> Any:
    """Give a document without one key, sharing the rest."""
    if not loc:
        return {}
    step, rest = loc[0], loc[1:]
    if isinstance(document, dict):
        if not rest:
            return {key: value for key, value in document.items() if key != step}
        if step in document:
            return {**document, step: _without(document[step], rest)}
    elif isinstance(document, list) and isinstance(step, int) and step < len(document):
        return [*document[:step], _without(document[step], rest), *document[step + 1 :]]
    return document


def _known_key(word: str, loc: Loc, table: Table) -> str:
    """Suggest the nearest key of the same table, or the table where the key does belong."""
    here = table.at(loc[:-1]) or table
    if hint := nearest(word, here.keys):
        return hint
    if word in table.keys and here is not table:
        return "that key belongs above the first [heading] of the file"
    owners = [name for name, key in table.keys.items() if key.table and word in key.table.keys]
    if owners:
        return f"that key belongs under [{owners[0]}]" if not table.keys[owners[0]].many else _under_many(owners[0])
    shown = ", ".join(here.keys)
    return f"known here: {shown}"


def _under_many(name: str) -> str:
    return f"that key belongs under [[{name}]]"


def _found(kind: str, value: Any) -> str:
    if kind == "string_too_long":
        return f"{len(value)} characters"
    return show(value)


def _hint(kind: str, value: Any, wanted: str) -> str:
    if kind == "literal_error" and isinstance(value, str):
        return nearest(value, [word.strip("' ") for word in wanted.replace(" or ", ", ").split(",")])
    if kind == "float_type" and isinstance(value, str) and _is_number(value):
        return "write the number without quotation marks"
    if kind == "string_pattern_mismatch" and isinstance(value, str) and ("\n" in value or "\r" in value):
        return "write it on one line"
    return ""


def _is_number(word: str) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return True


_MESSAGES: Final = {
    "dict_type": "not a table",
    "float_type": "not a number",
    "int_type": "not a whole number",
    "bool_type": "neither true nor false",
    "string_type": "not text",
    "list_type": "not a list",
    "finite_number": "not a finite number",
    "greater_than": "too small",
    "greater_than_equal": "too small",
    "less_than": "too large",
    "less_than_equal": "too large",
    "too_long": "too many items",
    "too_short": "too few items",
    "string_too_long": "too long",
    "string_too_short": "empty",
    "string_pattern_mismatch": "not of the form wanted",
    "literal_error": "not one of the words accepted",
    "value_error": "not a possible value",
}
