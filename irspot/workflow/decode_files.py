"""Many pictures decoded to files: what ``irspot decode`` does."""

from __future__ import annotations

import glob
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from irspot.atomic import write_atomic, write_atomic_by
from irspot.camera import NO_CAMERA, Camera
from irspot.color_picture import Decoded, Rgb
from irspot.color_wish import ColorWish
from irspot.decoding.kind import kind_of
from irspot.errors import BarRefused, IrspotError, OutputRefused, UsageError
from irspot.workflow.color_frames import color_frame, decode_file
from irspot.workflow.decode_summary import VideoSummary, summary_of
from irspot.workflow.pool import Progress

if TYPE_CHECKING:
    from irspot.exports.degc_tiff import Page
    from irspot.workflow.color_video import VideoFrames

Seer = Callable[[Rgb, Decoded], None]
"""Is shown each picture of a video with what it decodes to."""


@dataclass(frozen=True, slots=True)
class DecodeJob:
    """What to decode and how.

    Parameters
    ----------
    files : tuple of Path
    camera_file : Path or None
    wish : ColorWish
        What was said about the colour bar.
    every_s : float
        Of a video.
    show_mask : bool
    output : Path or None
        A file for one frame, a folder for several; None writes nothing.
    """

    files: tuple[Path, ...]
    camera_file: Path | None
    wish: ColorWish
    every_s: float
    show_mask: bool
    output: Path | None


@dataclass(frozen=True, slots=True)
class DecodeOutcome:
    """What became of one file: a summary for people and scripts, or why there is none.

    Parameters
    ----------
    file : Path
    summary : dict, optional
    error : IrspotError, optional
    crop_file : Path, optional
        Where the part of the picture lies whose numbers could not be read.
    """

    file: Path
    summary: dict[str, Any] | None = None
    error: IrspotError | None = None
    crop_file: Path | None = None


def expanded_files(given: Sequence[Path]) -> tuple[Path, ...]:
    """List the files that were named: themselves, the pictures of a folder, what a pattern matches.

    Raises
    ------
    UsageError
        If something names nothing.
    """
    found: list[Path] = []
    for path in given:
        if path.is_dir():
            inside = sorted(file for file in path.iterdir() if kind_of(file) != "other")
        elif path.exists() or not glob.has_magic(str(path)):
            inside = [path]
        else:
            inside = [Path(name) for name in sorted(glob.glob(str(path), recursive=True))]
        if not inside:
            raise UsageError("holds or matches no picture", file=str(path))
        found += inside
    return tuple(dict.fromkeys(found))


def decode_files(job: DecodeJob, progress: Progress | None = None) -> Iterator[DecodeOutcome]:
    """Decode files one after another; one that fails does not stop the others.

    Parameters
    ----------
    job : DecodeJob
    progress : callable, optional

    Yields
    ------
    DecodeOutcome

    Raises
    ------
    UsageError, FileInvalid, OutputRefused
        If the job itself cannot be done.
    """
    camera = _camera(job)
    outputs = _outputs(job)
    for number, (file, output) in enumerate(zip(job.files, outputs, strict=True), start=1):
        try:
            yield DecodeOutcome(file, _decoded(job, file, camera, output))
        except OutputRefused:
            raise
        except BarRefused as refusal:
            yield DecodeOutcome(file, error=refusal, crop_file=_crop_written(output, refusal))
        except IrspotError as error:
            yield DecodeOutcome(file, error=error)
        if progress is not None:
            progress(number, len(job.files), file.name)


def _camera(job: DecodeJob) -> Camera:
    from irspot.files import read_camera

    return NO_CAMERA if job.camera_file is None else read_camera(job.camera_file)


def _outputs(job: DecodeJob) -> list[Path | None]:
    """Choose where each file goes, refusing what would go over an input or twice to one place."""
    if job.output is None:
        return [None] * len(job.files)
    if len(job.files) == 1 and not job.output.is_dir():
        chosen = [job.output]
    else:
        if job.output.is_file():
            raise UsageError("several frames need a folder", file=str(job.output), hint="give -o a folder")
        chosen = [job.output / f"{file.stem}.tiff" for file in job.files]
    beside = [_beside(job, file, path) for file, path in zip(job.files, chosen, strict=True)]
    inputs = {file.resolve() for file in job.files}
    for path in chain(chosen, *beside):
        if path.resolve() in inputs:
            raise OutputRefused("is an input and will not be written over", file=str(path), hint="give another -o")
    written = [str(path).lower() for path in chain(chosen, *beside)]
    if len(set(written)) < len(written):
        raise UsageError("two frames have one name, so one would overwrite the other", hint="decode them apart")
    return list(chosen)


def _beside(job: DecodeJob, file: Path, output: Path) -> list[Path]:
    """List what may be written beside an output."""
    masks = _masks_of(output) if kind_of(file) == "video" else _mask_of(output)
    return [_crop_of(output), *([masks] if job.show_mask else [])]


def _decoded(job: DecodeJob, file: Path, camera: Camera, output: Path | None) -> dict[str, Any]:
    if kind_of(file) == "video":
        return _decoded_video(job, file, camera, output)
    decoded = decode_file(file, camera, job.wish)
    if output is not None:
        from irspot.exports.degc_tiff import Page

        frame = color_frame(decoded, camera, file)
        _write(output, [Page(frame, decoded.scale.low_degc, decoded.scale.high_degc)], 1)
        if job.show_mask:
            _write_mask(output, file, decoded)
    return summary_of(file, decoded)


def _decoded_video(job: DecodeJob, file: Path, camera: Camera, output: Path | None) -> dict[str, Any]:
    from irspot.workflow.color_video import VideoFrames

    source = VideoFrames.opened(file, camera, job.wish, job.every_s)
    summary = VideoSummary()
    if output is None:
        for _ in _pages(source, summary):
            pass
    elif job.show_mask:
        _write_with_masks(output, source, summary)
    else:
        _write(output, _pages(source, summary), source.count)
    return summary.of(file)


def _pages(source: VideoFrames, summary: VideoSummary, see: Seer | None = None) -> Iterator[Page]:
    """Decode a video's pictures one at a time, so that however many there are, few are in memory."""
    from irspot.exports.degc_tiff import Page

    for index, time_s in enumerate(source.times_s):
        rgb, decoded = source.shown_and_decoded(index)
        summary.add(decoded, time_s)
        if see is not None:
            see(rgb, decoded)
        yield Page(source.as_frame(decoded, index), decoded.scale.low_degc, decoded.scale.high_degc)


def _write_with_masks(output: Path, source: VideoFrames, summary: VideoSummary) -> None:
    """Write a video's temperatures, and beside them a page each of what was left out, in one pass over the video."""
    import tifffile

    from irspot.rendering.decode_mask import mask_picture

    def write_both(stream: BinaryIO) -> None:
        with tifffile.TiffWriter(stream) as masks:

            def see(rgb: Rgb, decoded: Decoded) -> None:
                painted = mask_picture(rgb, decoded).array
                masks.write(painted, photometric="rgb", compression="zlib", software="irspot", metadata=None)

            _write(output, _pages(source, summary, see), source.count)

    write_atomic_by(_masks_of(output), write_both)


def _crop_written(output: Path | None, refusal: BarRefused) -> Path | None:
    """Write the part of a picture whose numbers could not be read, for a person to read them."""
    if output is None or not refusal.crop_png:
        return None
    crop = _crop_of(output)
    write_atomic(crop, refusal.crop_png)
    return crop


def _write(output: Path, pages: Iterable[Page], count: int) -> None:
    from irspot.exports.degc_tiff import write_degc_tiff

    write_atomic_by(output, lambda stream: write_degc_tiff(stream, pages, count=count))


def _write_mask(output: Path, file: Path, decoded: Decoded) -> None:
    from irspot.decoding.picture import read_picture
    from irspot.rendering.decode_mask import mask_picture

    write_atomic(_mask_of(output), mask_picture(read_picture(file).rgb, decoded).png_bytes())


def _mask_of(output: Path) -> Path:
    return output.with_name(output.stem + "-mask.png")


def _masks_of(output: Path) -> Path:
    """Name the masks of a video: many pages, which PNG cannot hold."""
    return output.with_name(output.stem + "-mask.tiff")


def _crop_of(output: Path) -> Path:
    return output.with_name(output.stem + "-labels.png")
