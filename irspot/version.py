"""The version of the tool, the one place that states it (the package's metadata is made from here)."""

from __future__ import annotations

__version__ = "0.1.0"
