"""The vocabulary the file formats are written in: keys, their types and bounds, tables of them.

A format is a `Table`: names with what each accepts and means. It becomes a pydantic-core schema, which validates
documents, and through pydantic's own generator the JSON Schema that editors use; so both say the same. The schemas are
built on pydantic-core directly because measuring one frame reads two small files: pydantic's model machinery costs
about 100 ms there, its core about 20 (``tests/benchmarks/bench_files.py`` shows both).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any, Final

from pydantic_core import core_schema as cs

from irspot.constants import MAX_TEXT, ZERO_DEGC_KELVIN

ID_PATTERN: Final = "^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$"
TEXT_PATTERN: Final = r"^[^\u0000-\u001F\u007F-\u009F\u2028-\u202E\u2066-\u2069]*$"
"""No control characters, no line separators, and none of the marks that reverse the direction of text around them."""
MAX_LENGTH_MM: Final = 10_000.0
MAX_TEMPERATURE_DEGC: Final = 5_000.0
MAX_ITEMS: Final = 1_000
"""Items of one list: far above any board, low enough that geometry checks of a hostile file end at once."""


@dataclass(frozen=True, eq=False)
class Key:
    """What one key accepts and means.

    Parameters
    ----------
    about : str
        One sentence for people, also shown by editors.
    wanted : str
        What is accepted, as messages say it: ``a number above 0``.
    schema : CoreSchema or None
        None where `table` says it.
    required : bool
    table : Table or None
        For a key that holds a table, or several.
    many : bool
        Whether it holds a list of tables.
    """

    about: str
    wanted: str
    schema: cs.CoreSchema | None = None
    required: bool = False
    table: Table | None = None
    many: bool = False

    def core(self, partial: bool) -> cs.CoreSchema:
        """Give the schema of the value; `partial` leaves no key required."""
        if self.table is None:
            assert self.schema is not None  # every constructor below gives one of the two
            return self.schema
        inner = self.table.core(partial)
        return cs.list_schema(inner, max_length=MAX_ITEMS) if self.many else inner

    def needed(self) -> Key:
        """Give the same key, required."""
        return replace(self, required=True)


@dataclass(frozen=True, eq=False)
class Table:
    """The keys of one table of a file.

    Parameters
    ----------
    keys : mapping of str to Key
    exactly_one : tuple of str
        Keys of which exactly one must be given.
    """

    keys: Mapping[str, Key]
    exactly_one: tuple[str, ...] = field(default=())

    def core(self, partial: bool = False) -> cs.CoreSchema:
        """Give the schema of the table; `partial` leaves no key required."""
        fields = {
            name: cs.typed_dict_field(key.core(partial), required=key.required and not partial)
            for name, key in self.keys.items()
        }
        return cs.typed_dict_schema(fields, extra_behavior="forbid", strict=True)

    def at(self, loc: tuple[str | int, ...]) -> Table | None:
        """Find the table a place of a document belongs to; None where it lies inside a single value."""
        table: Table | None = self
        for step in loc:
            if isinstance(step, str):
                key = table.keys.get(step) if table else None
                table = key.table if key else None
        return table

    def key_at(self, loc: tuple[str | int, ...]) -> Key | None:
        """Find the innermost key a place of a document belongs to."""
        table: Table | None = self
        found: Key | None = None
        for step in loc:
            if isinstance(step, str) and table is not None:
                found = table.keys.get(step, found)
                table = found.table if found else None
        return found


def number(
    about: str,
    *,
    ge: float | None = None,
    gt: float | None = None,
    le: float | None = None,
    lt: float | None = None,
    unit: str = "",
) -> Key:
    """Make a key for a finite number within bounds."""
    schema = cs.float_schema(strict=True, allow_inf_nan=False, ge=ge, gt=gt, le=le, lt=lt)
    return Key(about, _wanted_number("a number", ge, gt, le, lt, unit), schema)


def integer(about: str, *, ge: int, le: int) -> Key:
    """Make a key for a whole number within bounds."""
    return Key(about, f"a whole number from {ge} to {le}", cs.int_schema(strict=True, ge=ge, le=le))


def _wanted_number(what: str, ge: float | None, gt: float | None, le: float | None, lt: float | None, unit: str) -> str:
    if ge is not None and le is not None:
        return f"{what} from {ge:g} to {le:g}" + (f" ({unit})" if unit else "")
    low = f"at least {ge:g}" if ge is not None else f"above {gt:g}" if gt is not None else ""
    high = f"at most {le:g}" if le is not None else f"below {lt:g}" if lt is not None else ""
    bounds = " and ".join(part for part in (low, high) if part)
    return " ".join(part for part in (what, bounds, f"({unit})" if unit else "") if part)


def place_mm(about: str) -> Key:
    """Make a key for one coordinate on the board."""
    return number(about, ge=-MAX_LENGTH_MM, le=MAX_LENGTH_MM, unit="mm")


def length_mm(about: str) -> Key:
    """Make a key for a length that is not zero."""
    return number(about, gt=0.0, le=MAX_LENGTH_MM, unit="mm")


def temperature_degc(about: str) -> Key:
    """Make a key for a temperature."""
    return number(about, ge=-ZERO_DEGC_KELVIN, le=MAX_TEMPERATURE_DEGC, unit="°C")


def u_k(about: str) -> Key:
    """Make a key for a standard uncertainty, or a bound, of a temperature."""
    return number(about, ge=0.0, le=1000.0, unit="K")


def fraction(about: str) -> Key:
    """Make a key for an emissivity or a transmission: above 0, at most 1."""
    return number(about, gt=0.0, le=1.0)


def u_fraction(about: str) -> Key:
    """Make a key for the standard uncertainty of an emissivity or a transmission."""
    return number(about, ge=0.0, le=0.5)


def text(about: str) -> Key:
    """Make a key for free text: any characters but control characters."""
    schema = cs.str_schema(strict=True, max_length=MAX_TEXT, pattern=TEXT_PATTERN)
    return Key(about, f"text on one line, at most {MAX_TEXT} characters", schema)


def path(about: str) -> Key:
    """Make a key for a path, relative to the file that names it."""
    schema = cs.str_schema(strict=True, min_length=1, max_length=MAX_TEXT, pattern=TEXT_PATTERN)
    return Key(about, "a path, relative to this file", schema)


def paths(about: str) -> Key:
    """Make a key for a list of paths."""
    return Key(about, "a list of paths", cs.list_schema(path("").core(False), max_length=MAX_ITEMS))


def ident(about: str) -> Key:
    """Make a key for an id."""
    wanted = "letters, digits, '.', '_' and '-', beginning with a letter or digit, at most 64 characters"
    return Key(about, wanted, cs.str_schema(strict=True, pattern=ID_PATTERN))


def choice(about: str, *accepted: str) -> Key:
    """Make a key for one of a few words."""
    words = [f"'{word}'" for word in accepted]
    wanted = words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"
    return Key(about, wanted, cs.literal_schema(list(accepted)))


def matching(about: str, pattern: str, wanted: str) -> Key:
    """Make a key for text of a pattern."""
    return Key(about, wanted, cs.str_schema(strict=True, max_length=MAX_TEXT, pattern=pattern))


def flag(about: str) -> Key:
    """Make a key for true or false."""
    return Key(about, "true or false", cs.bool_schema(strict=True))


def numbers(about: str, count: int, wanted: str, bound: float = 1e9) -> Key:
    """Make a key for a fixed count of finite numbers."""
    return Key(about, wanted, _row(count, bound))


def rows(about: str, count: int, wanted: str, *, least: int = 0, bound: float = 1e9) -> Key:
    """Make a key for a list of rows of a fixed count of finite numbers."""
    return Key(about, wanted, cs.list_schema(_row(count, bound), min_length=least, max_length=MAX_ITEMS))


def whole_rows(about: str, count: int, wanted: str) -> Key:
    """Make a key for a list of rows of whole numbers from 0."""
    row = cs.list_schema(cs.int_schema(strict=True, ge=0, le=10**6), min_length=count, max_length=count)
    return Key(about, wanted, cs.list_schema(row, max_length=10 * MAX_ITEMS))


def whole_numbers(about: str, count: int, wanted: str, *, ge: int = 0) -> Key:
    """Make a key for a fixed count of whole numbers."""
    item = cs.int_schema(strict=True, ge=ge, le=10**6)
    return Key(about, wanted, cs.list_schema(item, min_length=count, max_length=count))


def _row(count: int, bound: float) -> cs.CoreSchema:
    item = cs.float_schema(strict=True, allow_inf_nan=False, ge=-bound, le=bound)
    return cs.list_schema(item, min_length=count, max_length=count)


def either(about: str, wanted: str, *keys: Key) -> Key:
    """Make a key that accepts what any one of others does."""
    return Key(about, wanted, cs.union_schema([key.core(False) for key in keys], mode="left_to_right"))


def texts_by_name(about: str, wanted: str) -> Key:
    """Make a key for a free table of scalars, kept as text."""
    members: list[Any] = [text("").core(False), cs.bool_schema(strict=True), cs.int_schema(strict=True)]
    members += [cs.float_schema(strict=True), cs.datetime_schema(strict=True), cs.date_schema(strict=True)]
    scalar = cs.no_info_after_validator_function(_scalar_as_text, cs.union_schema(members))
    name = cs.str_schema(strict=True, min_length=1, max_length=64, pattern=TEXT_PATTERN)
    return Key(about, wanted, cs.dict_schema(name, scalar, max_length=MAX_ITEMS))


def rows_by_name(about: str, count: int, wanted: str, *, bound: float = 1e9) -> Key:
    """Make a key for a table of rows of numbers, by id."""
    name = cs.str_schema(strict=True, pattern=ID_PATTERN)
    return Key(about, wanted, cs.dict_schema(name, _row(count, bound), max_length=MAX_ITEMS))


def day(about: str) -> Key:
    """Make a key for a date, as text or as TOML's own date."""
    schema = cs.str_schema(strict=True, pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$")
    checked = cs.no_info_after_validator_function(_real_day, schema)
    return Key(about, 'a date such as "2026-03-01"', cs.no_info_before_validator_function(_day_as_text, checked))


def _scalar_as_text(value: str | bool | int | float | date) -> str:
    """Write a value as TOML does."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return value.isoformat() if isinstance(value, date) else str(value)


def _day_as_text(value: Any) -> Any:
    # A datetime is a date too, but says more than a day.
    return value.isoformat() if isinstance(value, date) and not isinstance(value, datetime) else value


def _real_day(value: str) -> str:
    date.fromisoformat(value)
    return value


def one(about: str, table: Table) -> Key:
    """Make a key that holds a table."""
    return Key(about, "a table", table=table)


def several(about: str, table: Table) -> Key:
    """Make a key that holds a list of tables."""
    return Key(about, "tables, each under its own [[heading]]", table=table, many=True)


SCHEMA_NUMBER: Final = Key(
    "Number of the file format.",
    "schema = 1",
    cs.int_schema(strict=True, ge=1, le=1),
    required=True,
)
