"""Frame files in: one reader a file format, chosen by content first and ending second.

>>> from irspot.readers import open_frames, read_frame
"""

from irspot.readers.choose import open_frames, read_frame

__all__ = ["open_frames", "read_frame"]
