"""Frame files of any kind opened: pictures and videos are decoded, everything else is read as numbers."""

from __future__ import annotations

from pathlib import Path

from irspot.board import Board
from irspot.camera import NO_CAMERA, Camera
from irspot.color_wish import ColorWish
from irspot.decoding.kind import kind_of
from irspot.errors import UsageError
from irspot.frame import Frame, FrameList, FrameSource


def open_any(path: Path, camera: Camera, wish: ColorWish) -> FrameSource:
    """Open a frame file.

    Parameters
    ----------
    path : Path
    camera : Camera
    wish : ColorWish
        Used for pictures and videos only.

    Raises
    ------
    FrameUnreadable
        If it cannot be read, or its colour bar is refused.
    """
    kind = kind_of(path)
    if kind == "other":
        from irspot.readers import open_frames

        return open_frames(path, camera)
    if kind == "video":
        from irspot.workflow.color_video import VideoFrames

        return VideoFrames.opened(path, camera, wish)
    from irspot.workflow.color_frames import color_frame, decode_file

    return FrameList((color_frame(decode_file(path, camera, wish), camera, path),))


def read_any(path: Path, camera: Camera, wish: ColorWish, index: int | None) -> Frame:
    """Read one frame of a file of any kind.

    Parameters
    ----------
    path : Path
    camera : Camera
    wish : ColorWish
    index : int or None
        Which, where the file holds several.

    Raises
    ------
    UsageError
        If the file holds several and none was chosen, or there is no such one.
    FrameUnreadable
        See `open_any`.
    """
    if kind_of(path) == "other":
        from irspot.readers import read_frame

        return read_frame(path, camera, index=index)
    source = open_any(path, camera, wish)
    if index is None and source.count > 1:
        raise UsageError(
            "the file holds several frames", file=str(path), found=f"{source.count} frames", hint="choose one by index"
        )
    chosen = index or 0
    if not 0 <= chosen < source.count:
        raise UsageError(
            "no such frame in the file", file=str(path), found=f"index {chosen}", wanted=f"0 to {source.count - 1}"
        )
    return source.frame(chosen)


def frame_and_board(
    frame_file: Path, board_file: Path, camera_file: Path | None, wish: ColorWish, index: int | None
) -> tuple[Frame, Board]:
    """Read a frame, numbers or picture, and the board that is to be found in it.

    Raises
    ------
    IrspotError
        Whatever is wrong with a file, in one line.
    """
    from irspot.files import read_board, read_camera

    board = read_board(board_file)
    camera = NO_CAMERA if camera_file is None else read_camera(camera_file)
    return read_any(frame_file, camera, wish, index), board
