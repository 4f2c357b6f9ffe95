"""TOML text from a path to a plain document, with every failure a problem at its line."""

from __future__ import annotations

import re
import stat
import tomllib
from pathlib import Path
from typing import Any, Final

from irspot.files.findings import Findings

MAX_BYTES: Final = 4_000_000
"""Of a board, camera or study file; the largest sensible one is a hundredth of it."""
MAX_KEY_PARTS: Final = 32

_PART = r"""(?:[A-Za-z0-9_-]++|"[^"\n]*+"|'[^'\n]*+')"""
# The parser's work grows with the square of the parts of a dotted key, so a hostile one is refused before it.
_ENDLESS_KEY: Final = re.compile(rf"(?<![A-Za-z0-9_-]){_PART}(?:[ \t]*+\.[ \t]*+{_PART}){{{MAX_KEY_PARTS}}}")


def load(path: Path, findings: Findings) -> dict[str, Any]:
    """Read a TOML file.

    Parameters
    ----------
    path : Path
    findings : Findings
        Takes what is wrong.

    Raises
    ------
    FileInvalid
        If it cannot be read, is too large, not UTF-8 or not TOML; nothing can be said about its keys then.
    """
    text = _text(plain_bytes(path, findings), findings)
    if match := _ENDLESS_KEY.search(text):
        line = text.count("\n", 0, match.start()) + 1
        findings.give_up(f"a key has more than {MAX_KEY_PARTS} parts", place=f"line {line}")
    return _parse(text, findings)


def plain_text(path: Path, findings: Findings, wanted: str) -> str:
    """Read a text file of another kind, within the same bounds.

    Raises
    ------
    FileInvalid
        If it cannot be read, is too large or not UTF-8.
    """
    return _text(plain_bytes(path, findings, wanted), findings)


def plain_bytes(path: Path, findings: Findings, wanted: str = "a TOML file", most: int = MAX_BYTES) -> bytes:
    """Read a file of up to `most` bytes.

    Raises
    ------
    FileInvalid
        If it cannot be read, is no plain file, or is too large.
    """
    try:
        found = path.stat()
        if stat.S_ISDIR(found.st_mode):
            findings.give_up("is a directory", wanted=wanted)
        if not stat.S_ISREG(found.st_mode):
            findings.give_up("is not a plain file", wanted=wanted)
        if found.st_size > most:
            findings.give_up("is too large", found=f"{found.st_size} bytes", wanted=f"at most {most}")
        return path.read_bytes()
    except FileNotFoundError:
        findings.give_up("there is no such file", hint="a path is relative to the file that names it")
    except (OSError, ValueError) as error:
        # A ValueError is a path no system accepts: one with a null character, say.
        findings.give_up(f"cannot be read: {getattr(error, 'strerror', None) or error}")


def _text(data: bytes, findings: Findings) -> str:
    try:
        # Some editors put a byte order mark before UTF-8; it means nothing.
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        found = f"byte 0x{data[error.start]:02X}"
        findings.give_up("is not UTF-8 text", place=f"line {line}", found=found, hint="save it as UTF-8")


def _parse(text: str, findings: Findings) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except RecursionError:
        findings.give_up("is nested too deeply")
    except ValueError as error:
        # Also numbers of thousands of digits, which are not a TOMLDecodeError.
        message, place = _message_and_place(str(error))
        findings.give_up(f"is not valid TOML: {message}", place=place, hint=_toml_hint(text, place))


def _message_and_place(message: str) -> tuple[str, str]:
    if match := re.fullmatch(r"(?s)(.*) \(at (line \d+, column \d+|end of document)\)", message):
        return match[1][0].lower() + match[1][1:], match[2]
    return message, ""


def _toml_hint(text: str, place: str) -> str:
    """Say what the usual slips look like: a Windows path between double quotes, text without quotes."""
    match = re.match(r"line (\d+)", place)
    line = text.split("\n")[int(match[1]) - 1] if match else ""
    if "\\" in line and '"' in line:
        return "write paths with '/', or between single quotation marks"
    if re.match(r"\s*[A-Za-z0-9_-]+\s*=\s*[A-Za-z]", line):
        return "text stands between quotation marks"
    return ""
