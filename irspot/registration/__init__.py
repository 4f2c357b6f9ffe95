"""Where the board is in a frame.

`place` is loaded when first asked for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from irspot.registration.by_hand import place

__all__ = ["place"]


def __getattr__(name: str) -> Any:
    if name == "place":
        from irspot.registration.by_hand import place

        return place
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
