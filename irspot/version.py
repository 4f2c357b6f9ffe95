"""The version of the installed tool."""

from __future__ import annotations


def version() -> str:
    """Look the version up in the installed package's metadata."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("irspot")
    except PackageNotFoundError:  # run from a checkout that was never installed
        return "0+unknown"
