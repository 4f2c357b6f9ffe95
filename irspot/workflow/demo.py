"""Write the demo study, and the small sample study that lies in the repository."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from irspot.atomic import write_atomic
from irspot.errors import OutputRefused
from irspot.workflow.pool import Progress, executor_for, run_tasks, silent

if TYPE_CHECKING:
    from irspot.synthetic.demo_full import Batch, FullRun
    from irspot.synthetic.truth import Truth


def write_demo(directory: Path) -> Path:
    """Write the demo study: four invented boards, two loads, front and rear, with the truth beside it.

    Parameters
    ----------
    directory : Path
        Made if need be; nothing in it is overwritten.

    Returns
    -------
    Path
        The study file.

    Raises
    ------
    OutputRefused
        If a file of the study is there already with other content, or the system refuses.
    """
    from irspot.synthetic.demo import demo_contents

    return _write(directory, demo_contents())


def write_full_demo(directory: Path, progress: Progress = silent) -> Path:
    """Write the large demo: twelve invented boards in two batches, three loads, front and rear.

    Parameters
    ----------
    directory : Path
        Made if need be; nothing in it is overwritten.
    progress : callable

    Returns
    -------
    Path
        The later batch's study file, which names the earlier one.

    Raises
    ------
    OutputRefused
        If a file of the study is there already with other content, or the system refuses.
    """
    from irspot.synthetic.demo_full import BATCHES, full_runs
    from irspot.synthetic.demo_full_files import texts, truth_file

    # Boards of one load together: front and rear share a solution.
    tasks = [FrameTask(batch, run, directory) for batch in BATCHES for run in full_runs(batch)]
    names = [task.run.id for task in tasks]
    with executor_for(len(tasks), None) as workers:
        made = run_tasks(write_frame, tasks, names, workers, progress, _died)
    for each in made:
        if isinstance(each, str):
            raise OutputRefused(each, file=str(directory))
    truths = [truth for truth in made if not isinstance(truth, str)]
    for batch in BATCHES:
        of_batch = tuple(truth for task, truth in zip(tasks, truths, strict=True) if task.batch == batch)
        _write(directory, [truth_file(batch, of_batch)])
    return _write(directory, texts())


@dataclass(frozen=True, slots=True)
class FrameTask:
    """One frame of the large demo to be made."""

    batch: Batch
    run: FullRun
    directory: Path


def write_frame(task: FrameTask) -> Truth | str:
    """Make a frame and write it; give what is true of it, or what went wrong."""
    from irspot.synthetic.demo_full_files import frame_bytes, frame_name, truth_of

    try:
        _write(task.directory, [(frame_name(task.batch, task.run), frame_bytes(task.run))])
    except OutputRefused as refused:
        return str(refused)
    return truth_of(task.run)


def _died(task: FrameTask, reason: str) -> Truth | str:
    return f"{task.run.id}: {reason}"


def write_samples(directory: Path) -> Path:
    """Write the sample study: two of the demo's boards, everything else alike.

    Parameters
    ----------
    directory : Path
        Made if need be; nothing in it is overwritten.

    Returns
    -------
    Path
        The study file.

    Raises
    ------
    OutputRefused
        If a file of the study is there already with other content, or the system refuses.
    """
    from irspot.synthetic.demo import sample_contents

    return _write(directory, sample_contents())


def _write(directory: Path, contents: Iterable[tuple[str, bytes]]) -> Path:
    """Write files as they come; the study file comes last, so a study that is there is whole."""
    written = directory
    for name, content in contents:
        written = directory.joinpath(*name.split("/"))
        if not _holds(written, content):
            write_atomic(written, content, overwrite=False)
    return written


def _holds(file: Path, content: bytes) -> bool:
    """Say whether a file is there with just this content, so that writing the same study again is no conflict."""
    return file.is_file() and file.read_bytes() == content
