"""What is found wrong in one file while it is read: all of it, each at its place."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any, NoReturn

from irspot.errors import FileInvalid, Problem, Severity

Loc = tuple[str | int, ...]
"""A place in a document: ``("zone", 2, "polygon_mm")``."""


class Findings:
    """Collects the problems of one file.

    Parameters
    ----------
    file : str
        As the user named it.
    """

    def __init__(self, file: str) -> None:
        self.file = file
        self._entries: list[tuple[Loc, Problem]] = []

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Everything found, in the order it was found."""
        return tuple(problem for _, problem in self._entries)

    def error(self, loc: Loc, message: str, *, found: str = "", wanted: str = "", hint: str = "") -> None:
        """Note something that makes the file, or the run it belongs to, unusable."""
        self._add(loc, message, found, wanted, hint, "error")

    def error_in_line(
        self, number: int, message: str, *, column: str = "", found: str = "", wanted: str = "", hint: str = ""
    ) -> None:
        """Note something that makes a file of lines unusable; `column` is the heading above it, where there is one."""
        place = f"line {number}" + (f", column '{column[:40]}'" if column else "")
        self._entries.append(((place,), Problem(message, self.file, place, found, wanted, hint)))

    def warn(self, loc: Loc, message: str, *, found: str = "", hint: str = "") -> None:
        """Note something that does not stop the job."""
        self._add(loc, message, found, "", hint, "warning")

    def give_up(self, message: str, *, place: str = "", found: str = "", wanted: str = "", hint: str = "") -> NoReturn:
        """Raise everything found and one thing more, which leaves nothing else to look at.

        Raises
        ------
        FileInvalid
        """
        problem = Problem(message, self.file, place, found, wanted, hint)
        raise FileInvalid((*self.problems, problem))

    def _add(self, loc: Loc, message: str, found: str, wanted: str, hint: str, severity: Severity) -> None:
        self._entries.append((loc, Problem(message, self.file, key_path(loc), found, wanted, hint, severity)))

    def include(self, loc: Loc, problems: Iterable[Problem]) -> None:
        """Take over what was found in another file, which the key at a place names."""
        self._entries.extend((loc, problem) for problem in problems)

    def broken(self, *loc: str | int) -> bool:
        """Say whether an error lies at a place, inside it, or in what holds it."""
        return any(
            problem.severity == "error" and (bad[: len(loc)] == loc or loc[: len(bad)] == bad)
            for bad, problem in self._entries
        )

    def errors_within(self, *loc: str | int) -> tuple[Problem, ...]:
        """Give the errors at a place or inside it."""
        return tuple(p for place, p in self._entries if p.severity == "error" and place[: len(loc)] == loc)

    def error_places(self) -> tuple[Loc, ...]:
        """Give the place of every error."""
        return tuple(place for place, problem in self._entries if problem.severity == "error")

    @property
    def has_errors(self) -> bool:
        """Whether anything found makes the file unusable."""
        return bool(self.error_places())

    def refuse_if_broken(self) -> None:
        """Raise everything found, if any of it is an error.

        Raises
        ------
        FileInvalid
        """
        if self.has_errors:
            raise FileInvalid(self.problems)


def key_path(loc: Loc) -> str:
    """Write a place as people do.

    Examples
    --------
    >>> key_path(("zone", 2, "polygon_mm"))
    'zone[2].polygon_mm'
    """
    path = ""
    for step in loc:
        if isinstance(step, int):
            path += f"[{step}]"
        else:
            path += ("." if path else "") + _bare(step)
    return path


def _bare(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]{1,64}", key) else show(key)


def show(value: Any) -> str:
    """Show a value of a document in a message: short whatever it holds.

    Examples
    --------
    >>> show("red"), show([1, 2]), show({"a": 1}), show(True)
    ("'red'", '[1, 2]', 'a table', 'true')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return repr(value if len(value) <= 60 else value[:57] + "...")
    if isinstance(value, int):
        # Python refuses to write integers of thousands of digits.
        return str(value) if value.bit_length() < 200 else "a very large number"
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list | tuple):
        return _show_list(value)
    return str(value)[:60]


def _show_list(values: list[Any] | tuple[Any, ...]) -> str:
    flat = all(isinstance(value, bool | int | float | str) for value in values)
    if flat and len(values) <= 6:
        return "[" + ", ".join(show(value) for value in values) + "]"
    return f"a list of {len(values)}"


def nearest(word: str, known: Iterable[str]) -> str:
    """Suggest the known word nearest to one that is not known.

    Examples
    --------
    >>> nearest("rolle", ["role", "side"])
    "did you mean 'role'?"
    """
    # Needed for mistakes only, so it is imported for them only.
    from difflib import get_close_matches

    names = list(known)
    lowered = {name.lower(): name for name in names}
    close = get_close_matches(word[:200].lower(), lowered, n=1, cutoff=0.6)
    return f"did you mean '{lowered[close[0]]}'?" if close else ""


def known_or_list(word: str, known: Iterable[str], what: str) -> str:
    """Suggest the nearest known word, or else list them all."""
    names = list(known)
    if not names:
        return f"the file names no {what}"
    shown = ", ".join(names[:12]) + (", ..." if len(names) > 12 else "")
    return nearest(word, names) or f"known: {shown}"


def unique_ids(tables: list[dict[str, Any]], loc: Loc, findings: Findings) -> None:
    """Report ids that stand twice in a list of tables, ignoring case."""
    first: dict[str, int] = {}
    for index, table in enumerate(tables):
        if not isinstance(name := table.get("id"), str):
            continue
        if name.lower() in first:
            earlier = key_path((*loc, first[name.lower()]))
            findings.error((*loc, index, "id"), f"the id {show(name)} is taken by {earlier}", hint="ids ignore case")
        else:
            first[name.lower()] = index
