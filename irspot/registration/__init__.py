"""Where the board is in a frame.

`place` and `place_frame` are loaded when first asked for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from irspot.registration.by_hand import place
    from irspot.registration.either_way import place_frame

__all__ = ["place", "place_frame"]


def __getattr__(name: str) -> Any:
    if name == "place":
        from irspot.registration.by_hand import place

        return place
    if name == "place_frame":
        from irspot.registration.either_way import place_frame

        return place_frame
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
