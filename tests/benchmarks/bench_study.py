"""A batch of the large demo evaluated whole, against reading its frames and drawing as many plain matplotlib figures.

Run by hand: ``python tests/benchmarks/bench_study.py FOLDER``; the large demo is written there if it is not there yet.
Both sides are processes of their own, begun cold, one after the other.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

PLAIN = """
import sys, resource
from pathlib import Path
import matplotlib
matplotlib.use("Agg")
import matplotlib.pyplot as plt
import tifffile
for number, path in enumerate(sorted(Path(sys.argv[1]).glob("*.tiff"))):
    degc = tifffile.imread(path) * 0.01 - 273.15
    figure, axes = plt.subplots(figsize=(19.2, 10.8), dpi=100)
    drawn = axes.imshow(degc, cmap="inferno")
    figure.colorbar(drawn)
    axes.set_title(path.name)
    figure.savefig(Path(sys.argv[2]) / f"{number}.png")
    plt.close(figure)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""
WHOLE = """
import resource, sys
from irspot.workflow.run import run_study
if __name__ == "__main__":
    result = run_study(sys.argv[1], sys.argv[2])
    assert not result.problems, result.problems
    own, workers = (resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    print(max(own, workers))
"""


def timed(script: str, *arguments: str) -> tuple[float, float]:
    """Seconds, and the memory of the largest process in MB."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "script.py"
        file.write_text(script, encoding="utf-8")
        start = time.perf_counter()
        command = [sys.executable, str(file), *arguments]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        return time.perf_counter() - start, int(done.stdout.split()[-1]) / 1024.0


def main() -> None:
    from irspot.workflow.demo import write_full_demo

    folder = Path(sys.argv[1])
    write_full_demo(folder)
    batch = folder / "winter"
    frames = len(list((batch / "frames").glob("*.tiff")))
    for _ in range(2):
        with tempfile.TemporaryDirectory() as out:
            plain_s, plain_mb = timed(PLAIN, str(batch / "frames"), out)
        with tempfile.TemporaryDirectory() as out:
            whole_s, whole_mb = timed(WHOLE, str(batch / "study.toml"), out)
        print(
            f"{frames} frames: irspot run {whole_s:.1f} s, {whole_mb:.0f} MB a process; reading and plain figures "
            f"{plain_s:.1f} s, {plain_mb:.0f} MB: {whole_s / plain_s:.2f} times (0.5 wanted)"
        )


if __name__ == "__main__":
    main()
