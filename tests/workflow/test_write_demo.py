"""Writing the demo's files, and the sample study of the repository against a fresh one."""

import json
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from irspot.errors import OutputRefused
from irspot.workflow import demo

SAMPLES = Path(__file__).parents[2] / "sample_images"


def test_files_are_written_and_the_study_is_named(tmp_path, monkeypatch):
    contents = [("boards/a.toml", b"a"), ("study.toml", b"s")]
    monkeypatch.setattr("irspot.synthetic.demo.demo_contents", lambda: iter(contents))
    study = demo.write_demo(tmp_path / "new")
    assert study == tmp_path / "new" / "study.toml"
    assert study.read_bytes() == b"s"
    assert (tmp_path / "new" / "boards" / "a.toml").read_bytes() == b"a"


def test_writing_again_changes_nothing_and_other_files_are_never_overwritten(tmp_path, monkeypatch):
    contents = [("boards/a.toml", b"a"), ("study.toml", b"s")]
    monkeypatch.setattr("irspot.synthetic.demo.demo_contents", lambda: iter(contents))
    study = demo.write_demo(tmp_path)
    assert demo.write_demo(tmp_path) == study
    study.write_bytes(b"mine")
    with pytest.raises(OutputRefused, match="exists"):
        demo.write_demo(tmp_path)
    assert study.read_bytes() == b"mine"


@pytest.fixture(scope="module")
def fresh(tmp_path_factory):
    return demo.write_samples(tmp_path_factory.mktemp("samples")).parent


def files_of(folder):
    """Files of a study; README's picture of a result is none."""
    names = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
    return {name for name in names if not name.startswith("pictures/")}


def test_committed_samples_are_the_files_a_fresh_run_writes(fresh):
    assert files_of(SAMPLES) == files_of(fresh)
    for name in sorted(files_of(fresh)):
        if name.endswith(".toml"):
            assert (SAMPLES / name).read_text(encoding="utf-8") == (fresh / name).read_text(encoding="utf-8"), name


def numbers_in(value):
    """Every number and text of a JSON document, in order."""
    if isinstance(value, dict):
        return [item for key in value for item in (key, *numbers_in(value[key]))]
    if isinstance(value, list):
        return [item for element in value for item in numbers_in(element)]
    return [value]


def test_committed_truth_is_the_truth_of_a_fresh_run(fresh):
    committed, written = (
        numbers_in(json.loads((folder / "truth.json").read_text(encoding="utf-8"))) for folder in (SAMPLES, fresh)
    )
    for known, found in zip(committed, written, strict=True):
        assert known == (pytest.approx(found, abs=2e-3) if isinstance(found, float) else found)


def test_committed_frames_hold_the_numbers_a_fresh_run_makes(fresh):
    for path in sorted((fresh / "frames").glob("*.tiff")):
        committed = tifffile.imread(SAMPLES / "frames" / path.name).astype(int)
        # Other versions of the libraries may round a sample otherwise; two counts are 0.02 K.
        np.testing.assert_allclose(committed, tifffile.imread(path).astype(int), atol=2, err_msg=path.name)


def test_committed_pictures_are_the_pictures_a_fresh_run_draws(fresh):
    drawn = sorted(path for path in fresh.glob("*/*") if path.suffix in (".png", ".jpg"))
    assert {path.parent.name for path in drawn} == {"frames", "photos"}
    assert len(drawn) >= 4
    for path in drawn:
        with Image.open(SAMPLES / path.relative_to(fresh)) as committed, Image.open(path) as written:
            assert committed.size == written.size
            difference = np.abs(np.asarray(committed).astype(int) - np.asarray(written))
        # Other versions of the libraries may draw a letter, or round a coefficient, otherwise.
        assert np.mean(difference > 24) < 0.002, path.name


def test_samples_are_small():
    assert sum(path.stat().st_size for path in SAMPLES.rglob("*") if path.is_file()) < 6_000_000
