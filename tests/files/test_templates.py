from __future__ import annotations

from irspot.files import board_problems, camera_problems, read_study, templates
from irspot.files.board_keys import BOARD
from irspot.files.study_keys import RUN_DEFAULTS


def write(folder):
    for name, text in templates().items():
        path = folder.joinpath(*name.split("/"))
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    (folder / "frames").mkdir()
    return folder / "study.toml"


def test_templates_are_sound_once_frames_exist(tmp_path):
    study = write(tmp_path)
    (tmp_path / "frames" / "example-full-front-1.tiff").touch()
    assert read_study(study).problems == ()
    assert board_problems(tmp_path / "boards" / "example.toml") == ()
    assert camera_problems(tmp_path / "camera.toml") == ()


def test_without_frames_the_glob_is_the_only_problem(tmp_path):
    (problem,) = read_study(write(tmp_path)).problems
    assert problem.key == "run[0].frames"


def test_every_commented_key_is_sound_too(tmp_path):
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "example-full-front.jpg").touch()
    (tmp_path / "logs").mkdir()
    for name in ("example-full", "zero", "firmware"):
        (tmp_path / "logs" / f"{name}.csv").touch()
    # Taking away the '#' before a key must give a file that is accepted, apart from alternatives to what stands above.
    alternatives = ("points_px", "replaces", "range", "unit", "points", "rect_mm")
    study = write(tmp_path)
    (tmp_path.parent / "winter").mkdir(exist_ok=True)
    (tmp_path.parent / "winter" / "study.toml").touch()
    for frame in ("example-full-front-1.tiff", "even.tiff", "cold-1.tiff"):
        (tmp_path / "frames" / frame).touch()
    for path in (study, tmp_path / "camera.toml", tmp_path / "boards" / "example.toml"):
        lines = []
        for line in path.read_text(encoding="utf-8").splitlines():
            bare = line.removeprefix("# ")
            key = bare.split(" =")[0]
            uncommented = " = " in bare and key.replace("_", "").isalnum() and key not in alternatives
            lines.append(bare if uncommented or bare.startswith("[") else line)
        path.write_text("\n".join(lines), encoding="utf-8")
    assert [str(p) for p in read_study(study).problems] == []


def test_templates_show_every_key_that_can_be_used():
    text = templates()
    shown = {word for name in text for word in text[name].replace("=", " ").replace("{", " ").split()}
    assert RUN_DEFAULTS - shown == {"mount"}
    zone_keys = set(BOARD.keys["zone"].table.keys)
    later = {"psi_jt_k_per_w", "power_w"}
    assert zone_keys - later <= shown
    assert {"polygon_mm", "emissivity", "material", "limit_kind", "exclude"} <= shown


def test_templates_can_be_asked_for_again():
    import irspot.files

    assert irspot.files.templates() == irspot.files.templates()
