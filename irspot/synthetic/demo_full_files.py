"""Files of the large demo: one folder a batch, board and camera files shared, the truth beside them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from irspot.synthetic.demo import true_corners_px, truth_json
from irspot.synthetic.demo_files import board_toml, camera_toml, run_pairs, study_pairs, table
from irspot.synthetic.demo_full import BATCHES, LOADS, PAIR, PRICES, REFERENCE, WALL_W, Batch, FullRun, full_boards
from irspot.synthetic.demo_full import full_runs as runs_of
from irspot.synthetic.demo_pictures import INVENTED
from irspot.synthetic.demo_runs import DEMO_CAMERA
from irspot.synthetic.sensor import photograph
from irspot.synthetic.tiff import tiff_bytes
from irspot.synthetic.truth import Truth, zone_truths

_LOADS = {
    "stock": "all-core render, limits as shipped",
    "overclock": "all-core render, limits lifted",
    "burst": "all-core render, limits lifted, highest clock",
}


def frame_name(batch: Batch, run: FullRun) -> str:
    """Name a run's frame, from the folder of the whole."""
    return f"{batch.id}/frames/{run.id}.tiff"


def frame_bytes(run: FullRun) -> bytes:
    """Take a run's frame."""
    return tiff_bytes(photograph(run.scene, run.surface), run.run.taken, INVENTED)


def study_name(batch: Batch) -> str:
    """Name a batch's study."""
    return f"{batch.id}/study.toml"


def texts() -> Iterator[tuple[str, bytes]]:
    """Make every file but frames and truths, the studies last, the later one at the end.

    Yields
    ------
    name : str
        Relative path with forward slashes.
    content : bytes
    """
    yield "camera.toml", camera_toml(DEMO_CAMERA).encode()
    for board in full_boards():
        yield f"boards/{board}.toml", board_toml(full_boards()[board].board).encode()
    for batch in BATCHES:
        yield study_name(batch), _study(batch).encode()


def truth_file(batch: Batch, truths: tuple[Truth, ...]) -> tuple[str, bytes]:
    """Give name and content of the file that says what was true of a batch's runs."""
    return f"{batch.id}/truth.json", truth_json(truths).encode()


def truth_of(run: FullRun) -> Truth:
    """Say what was true of a run."""
    scene = run.scene
    return Truth(
        run=run.id,
        board=run.run.board,
        load=run.true_load,
        side=run.run.side,
        ambient_degc=run.run.true_ambient_degc,
        reflected_degc=run.run.true_reflected_degc,
        error_share=run.run.error_share,
        corners_px=true_corners_px(scene),
        zones=zone_truths(scene.board.board, run.surface),
    )


def _study(batch: Batch) -> str:
    earlier = BATCHES[: BATCHES.index(batch)]
    head = dict(study_pairs(batch.title)) | {"camera": "../camera.toml", "reference_board": REFERENCE}
    if earlier:
        head["previous"] = [f"../{study_name(each)}" for each in earlier]
    return "\n".join(
        [
            "# An invented study: boards, camera, prices and frames are made up. truth.json tells what was true.",
            table("", head.items()),
            table("[decision]", [("rule", "conditional")]),
            table("[setup]", [("heatsinks", "off the power stages"), ("fan", "120 mm, 0.8 m/s over the board")]),
            *(table("[[board]]", _board_pairs(batch, board)) for board in batch.boards),
            *(table("[[load]]", _load_pairs(load)) for load in LOADS),
            *(table("[[run]]", _run_pairs(run)) for run in runs_of(batch)),
        ]
    )


def _board_pairs(batch: Batch, board: str) -> list[tuple[str, Any]]:
    pairs: list[tuple[str, Any]] = [
        ("id", board),
        ("file", f"../boards/{board}.toml"),
        ("price", PRICES[board]),
        ("currency", "EUR"),
        ("price_date", batch.priced),
        ("batch", batch.id),
    ]
    if board in PAIR:
        pairs.append(("design", {"stages": "R", "heatsink": "ribbed" if board == PAIR[1] else "plain"}))
    return pairs


def _load_pairs(load: str) -> Iterable[tuple[str, Any]]:
    return [
        ("id", load),
        ("description", _LOADS[load]),
        ("duration_min", 60.0),
        ("intended_power_w", WALL_W[load]),
        ("power_point", "wall"),
        ("power_tolerance_percent", 2.0),
        ("clock_tolerance_ghz", 0.05),
    ]


def _run_pairs(run: FullRun) -> list[tuple[str, Any]]:
    pairs = dict(run_pairs(run.run, true_corners_px(run.scene)))
    pairs["frames"] = f"frames/{run.id}.tiff"
    if not run.rejected:
        return list(pairs.items())
    return [("id", run.id), *pairs.items(), ("rejected", run.rejected)]
