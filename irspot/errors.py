"""Everything irspot refuses with, in one tree.

::

    IrspotError                 anything irspot says no to            (exit 1)
    ├── UsageError              the call itself is wrong              (exit 2)
    ├── FileInvalid             a board, camera or study file has problems (it lists them all)
    │   └── Misfit              parts of a layout do not lie on the board (of `irspot.workflow.zones_from`)
    ├── FrameUnreadable         a frame file cannot be read as declared
    │   ├── UnitImplausible     its numbers do not fit the declared unit
    │   ├── FrameTooLarge       more pixels than the cap allows
    │   └── BarRefused          a picture's colour bar, or the numbers on it, cannot be taken for certain
    ├── ColdFrameRefused        a cold frame cannot tell the camera's pattern, with the reason
    ├── PlacementRefused        the board was not placed, with the reason
    ├── MapRefused              a frame of the evenly warm board gives no emissivity map, with the reason
    ├── BundleRefused           an evidence bundle cannot be made, or may not be opened
    ├── OutputRefused           writing would lose or overwrite something
    └── LibraryMissing          a library or a system library cannot be loaded

An error is one line for a person and attributes for a program. It pickles, so a worker process can raise it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar, Literal

Severity = Literal["error", "warning"]


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in one place of one file.

    Parameters
    ----------
    message : str
        What is wrong, in one sentence without a final stop.
    file : str
        The file as the user named it.
    key : str
        The place in it: a key path such as ``zone[2].polygon_mm``, or ``row 12``; empty for the whole file.
    found : str
        What stands there; empty where that adds nothing.
    wanted : str
        What would be accepted; empty where the message says it.
    hint : str
        What to try; empty where there is nothing better than the above.
    severity : {"error", "warning"}
        A warning does not stop the job.
    """

    message: str
    file: str = ""
    key: str = ""
    found: str = ""
    wanted: str = ""
    hint: str = ""
    severity: Severity = "error"

    def __str__(self) -> str:
        return one_line(self.message, self.file, self.key, self.found, self.wanted, self.hint)


def one_line(message: str, file: str = "", key: str = "", found: str = "", wanted: str = "", hint: str = "") -> str:
    """Compose ``file: key: message (found ...; wanted ...); hint`` on one line, control characters shown.

    Examples
    --------
    >>> one_line("unknown key", "k7.toml", "zone[0].rolle", hint="did you mean 'role'?")
    "k7.toml: zone[0].rolle: unknown key; did you mean 'role'?"
    """
    details = "; ".join(
        part for part in (f"found {found}" if found else "", f"wanted {wanted}" if wanted else "") if part
    )
    text = ": ".join(part for part in (file, key, message) if part)
    text += f" ({details})" if details else ""
    text += f"; {hint}" if hint else ""
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in text)


class IrspotError(Exception):
    """What irspot says no to.

    Parameters
    ----------
    message : str
        What is wrong, in one sentence without a final stop.
    file, key, found, wanted, hint : str, optional
        See `Problem`.
    """

    code: ClassVar[str] = "failed"
    exit_status: ClassVar[int] = 1

    def __init__(
        self,
        message: str,
        *,
        file: str = "",
        key: str = "",
        found: str = "",
        wanted: str = "",
        hint: str = "",
    ) -> None:
        super().__init__(message)
        self.message = message
        self.file = file
        self.key = key
        self.found = found
        self.wanted = wanted
        self.hint = hint

    def __str__(self) -> str:
        return one_line(self.message, self.file, self.key, self.found, self.wanted, self.hint)

    def __reduce__(self) -> tuple[Any, ...]:
        # Keyword-only arguments do not survive the default pickling of exceptions.
        return (_rebuild, (type(self), self.message, self.__dict__.copy()))

    def problems(self) -> tuple[Problem, ...]:
        """Give the error as a list of problems, so that all errors are reported alike."""
        return (Problem(self.message, self.file, self.key, self.found, self.wanted, self.hint),)


def _rebuild(kind: type[IrspotError], message: str, attributes: dict[str, Any]) -> IrspotError:
    error = kind.__new__(kind, message)
    error.args = (message,)
    error.__dict__.update(attributes)
    return error


class UsageError(IrspotError):
    """The call itself is wrong: contradicting or missing arguments."""

    code = "usage"
    exit_status = 2


class FileInvalid(IrspotError):
    """A board, camera or study file has problems; all of them are listed.

    Parameters
    ----------
    found_problems : sequence of Problem
        At least one of severity ``error``.
    """

    code = "file-invalid"

    def __init__(self, found_problems: tuple[Problem, ...]) -> None:
        first = next(p for p in found_problems if p.severity == "error")
        super().__init__(
            first.message,
            file=first.file,
            key=first.key,
            found=first.found,
            wanted=first.wanted,
            hint=first.hint,
        )
        self.found_problems = tuple(found_problems)

    def __str__(self) -> str:
        return "\n".join(str(p) for p in self.found_problems if p.severity == "error")

    def problems(self) -> tuple[Problem, ...]:
        """Give every problem found, warnings included."""
        return self.found_problems


class FrameUnreadable(IrspotError):
    """A frame file cannot be read as declared."""

    code = "frame-unreadable"


class UnitImplausible(FrameUnreadable):
    """The stored numbers do not fit the unit that was declared for them."""

    code = "unit-implausible"


class FrameTooLarge(FrameUnreadable):
    """A frame has more pixels than the cap allows."""

    code = "frame-too-large"


class BarRefused(FrameUnreadable):
    """A picture's colour bar, or the numbers on it, cannot be taken for certain.

    Parameters
    ----------
    message : str
        The reason.
    cause : str, optional
        One word for programs: ``none``, ``two``, ``contrast``, ``hidden``, ``labels``, ...
    crop_png : bytes, optional
        With ``labels``: the part of the picture that could not be read.
    file, key, found, wanted, hint : str, optional
        See `Problem`.
    """

    code = "bar-refused"

    def __init__(self, message: str, *, cause: str = "none", crop_png: bytes = b"", **details: str) -> None:
        super().__init__(message, **details)
        self.cause = cause
        self.crop_png = crop_png


class PlacementRefused(IrspotError):
    """The board could not be placed in the frame with certainty.

    Parameters
    ----------
    message : str
        The reason.
    cause : str, optional
        One word for programs: ``points``, ``mirrored``, ``collinear``, ...
    file, key, found, wanted, hint : str, optional
        See `Problem`.
    """

    code = "placement-refused"

    def __init__(self, message: str, *, cause: str = "points", **details: str) -> None:
        super().__init__(message, **details)
        self.cause = cause


class MapRefused(IrspotError):
    """A frame of the evenly warm board gives no emissivity map that could be trusted."""

    code = "map-refused"


class ColdFrameRefused(IrspotError):
    """A cold frame cannot tell the camera's pattern: not cold, not even, or not of this camera."""

    code = "cold-frame-refused"


class OutputRefused(IrspotError):
    """Writing would lose or overwrite something, or cannot be done."""

    code = "output-refused"


class BundleRefused(IrspotError):
    """An evidence bundle cannot be made, or is not one that may be opened."""

    code = "bundle-refused"


class LibraryMissing(IrspotError):
    """A library, or a system library behind it, cannot be loaded."""

    code = "library-missing"
