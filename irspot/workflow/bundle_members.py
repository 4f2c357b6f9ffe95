"""Members of an evidence bundle, which is untrusted input: what names, sizes and places they may have."""

from __future__ import annotations

import hashlib
import re
import stat
import unicodedata
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import BinaryIO, Final

from irspot.errors import BundleRefused

MANIFEST: Final = "manifest.json"
MOST_MEMBERS: Final = 20_000
MOST_RATIO: Final = 200.0
"""Deflate packs a file of one repeated byte a thousandfold; frames, logs and tables never come near this."""
_RATIO_FROM_BYTES: Final = 1 << 20
"""Small members may be packed by any ratio: they cost nothing."""
MOST_MANIFEST_BYTES: Final = 64 << 20
PIECE_BYTES: Final = 1 << 20
_PACKINGS: Final = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_ENCRYPTED: Final = 0x1
_LOCAL_HEADER_BYTES: Final = 30
_RESERVED: Final = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?")
"""Names that stand for devices on some systems."""


@contextmanager
def opened_bundle(path: Path) -> Iterator[zipfile.ZipFile]:
    """Open a bundle.

    Raises
    ------
    BundleRefused
        If it is no ZIP file, or is damaged where its members are listed.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            yield archive
    except (zipfile.BadZipFile, zipfile.LargeZipFile, NotImplementedError, EOFError, ValueError) as error:
        raise BundleRefused(f"cannot be opened as a bundle: {error}", file=str(path)) from error
    except OSError as error:
        raise BundleRefused(f"cannot be read: {error.strerror or error}", file=str(path)) from error


def checked_members(archive: zipfile.ZipFile, path: Path, most_bytes: int) -> dict[str, zipfile.ZipInfo]:
    """Check all that a bundle says of its members before any is read.

    Parameters
    ----------
    archive : ZipFile
    path : Path
        For messages.
    most_bytes : int
        Of all members together, unpacked.

    Returns
    -------
    dict of str to ZipInfo

    Raises
    ------
    BundleRefused
        For too many members, names that are doubled, absolute, escaping or not portable, links, encryption, unknown
        packing, sizes or ratios beyond bounds, and members that lie over one another.
    """
    members = archive.infolist()
    if len(members) > MOST_MEMBERS:
        _refuse(path, "", "has too many members", str(len(members)), f"at most {MOST_MEMBERS}")
    taken: dict[str, str] = {}
    for member in members:
        _check_name(member, path)
        folded = unicodedata.normalize("NFC", member.filename).casefold()
        if folded in taken:
            _refuse(path, member.filename, "stands twice, as upper and lower case are alike on some systems")
        taken[folded] = member.filename
        _check_kind(member, path)
    total = sum(member.file_size for member in members)
    if total > most_bytes:
        hint = "allow more with --most-gb if you trust where it comes from"
        raise BundleRefused(
            "unpacks to more than is allowed",
            file=str(path),
            found=f"{total / 1e9:.3g} GB",
            wanted=f"at most {most_bytes / 1e9:g} GB",
            hint=hint,
        )
    _check_places(members, path)
    return {member.filename: member for member in members}


def portable_fault(name: str) -> str:
    """Say what keeps a member's name from being one that every system can store inside a folder; empty if nothing.

    Examples
    --------
    >>> portable_fault("files/study.toml"), portable_fault("../x")
    ('', 'escapes the folder')
    """
    parts = name.split("/")
    if name.startswith("/") or re.match(r"^[A-Za-z]:", name):
        return "is absolute"
    if "\\" in name or ":" in name:
        return "has a character that is no part of a name on some systems"
    if ".." in parts:
        return "escapes the folder"
    if any(part in ("", ".") for part in parts):
        return "has an empty part"
    if any(unicodedata.category(character)[0] == "C" for character in name):
        return "has control characters"
    if any(part.endswith((" ", ".")) or _RESERVED.fullmatch(part) for part in parts):
        return "is reserved on some systems"
    if len(name) > 1000 or any(len(part.encode()) > 255 for part in parts):
        return "is too long"
    return ""


def _check_name(member: zipfile.ZipInfo, path: Path) -> None:
    if fault := portable_fault(member.filename):
        _refuse(path, member.filename, f"has a name that {fault}")


def _check_kind(member: zipfile.ZipInfo, path: Path) -> None:
    mode = member.external_attr >> 16
    if stat.S_IFMT(mode) not in (0, stat.S_IFREG):
        _refuse(path, member.filename, "is no plain file: links and devices are not taken")
    if member.flag_bits & _ENCRYPTED:
        _refuse(path, member.filename, "is encrypted")
    if member.compress_type not in _PACKINGS:
        _refuse(path, member.filename, "is packed in a way that bundles are not")
    if member.file_size > _RATIO_FROM_BYTES and member.file_size > MOST_RATIO * max(member.compress_size, 1):
        ratio = member.file_size / max(member.compress_size, 1)
        _refuse(path, member.filename, "unpacks to far more than it is packed", f"{ratio:.0f} times")


def _check_places(members: Sequence[zipfile.ZipInfo], path: Path) -> None:
    """Refuse members that share bytes of the file: then a small file could hold endless ones."""
    end = 0
    for member in sorted(members, key=lambda each: each.header_offset):
        if member.header_offset < end:
            _refuse(path, member.filename, "lies over another member")
        # What the local header says of extra fields may differ; the least it takes is enough to tell overlaps by.
        end = member.header_offset + _LOCAL_HEADER_BYTES + len(member.filename.encode()) + member.compress_size


def unpack(archive: zipfile.ZipFile, member: zipfile.ZipInfo, target: BinaryIO | None, path: Path) -> str:
    """Read a member piece by piece, never more than it says it holds.

    Parameters
    ----------
    archive : ZipFile
    member : ZipInfo
    target : binary file or None
        Where it goes; None to take the digest alone.
    path : Path
        For messages.

    Returns
    -------
    str
        SHA-256.

    Raises
    ------
    BundleRefused
        If it holds more or less than it says, or is damaged.
    """
    digest, done = hashlib.sha256(), 0
    try:
        with archive.open(member) as source:
            while piece := source.read(PIECE_BYTES):
                done += len(piece)
                if done > member.file_size:
                    _refuse(path, member.filename, "holds more than it says")
                digest.update(piece)
                if target is not None:
                    target.write(piece)
    except (zipfile.BadZipFile, EOFError, RuntimeError, NotImplementedError) as error:
        raise BundleRefused(f"is damaged: {error}", file=str(path), key=member.filename) from error
    except _zlib_error() as error:
        raise BundleRefused(f"is damaged: {error}", file=str(path), key=member.filename) from error
    if done != member.file_size:
        _refuse(path, member.filename, "holds less than it says")
    return digest.hexdigest()


def _zlib_error() -> type[Exception]:
    import zlib

    return zlib.error


def place_in(folder: Path, name: str) -> Path:
    """Give a checked member's place in a folder."""
    return folder.joinpath(*PurePosixPath(name).parts)


def _refuse(path: Path, member: str, message: str, found: str = "", wanted: str = "") -> None:
    raise BundleRefused(message, file=str(path), key=member[:200], found=found, wanted=wanted)
