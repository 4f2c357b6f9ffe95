"""Keys of the formats that are accepted and checked, but whose use is still to be built.

One table a format: key path (``[]`` for every item of a list) and what the key is for. When the use is built, its line
goes.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from irspot.files.findings import Findings, Loc

STUDY_NOT_YET: Final[Mapping[str, str]] = {
    "previous": "joining earlier studies",
    "reference_board": "joining earlier studies",
    "decision": "judging limits by a decision rule",
}


def report_not_yet(document: Mapping[str, Any], table: Mapping[str, str], findings: Findings) -> None:
    """Note every key of a document that is in a table of keys still to be built.

    Parameters
    ----------
    document : mapping
        A whole file.
    table : mapping of str to str
        Key paths, relative to the document, and what they are for.
    findings : Findings
    """
    for pattern, purpose in table.items():
        for loc in _places(document, pattern):
            findings.error(loc, f"not yet: this version cannot use the key; it is for {purpose}")


def _places(document: Mapping[str, Any], pattern: str) -> list[Loc]:
    head, _, tail = pattern.partition("[].")
    if head not in document:
        return []
    if not tail:
        return [(head,)]
    return [(head, index, *rest) for index, item in enumerate(document[head]) for rest in _places(item, tail)]
