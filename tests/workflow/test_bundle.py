"""Bundles of evidence: packed whole, measured anew to the same numbers; what was changed or is no bundle is refused."""

from __future__ import annotations

import io
import json
import os
import stat
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
import tomlkit
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from irspot.cli.main import main
from irspot.errors import BundleRefused, IrspotError, OutputRefused
from irspot.readers.plugins import NONE_WANTED
from irspot.workflow import verify as verifying
from irspot.workflow.bundle import bundle_study
from irspot.workflow.bundle_members import checked_members, opened_bundle, portable_fault, unpack
from irspot.workflow.run import run_study
from irspot.workflow.verify import verify_bundle
from tests.tiny import write_tiny


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_tiny(tmp_path_factory.mktemp("bundled") / "study")


@pytest.fixture(scope="module")
def bundle(study: Path) -> Path:
    path = study.parent / "evidence.zip"
    bundle_study(study, path)
    return path


def members_of(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def rewritten(bundle: Path, target: Path, change: Callable[[dict[str, bytes]], object], *, listed: bool) -> Path:
    """A bundle whose members were changed; where `listed`, by somebody who brought the digests up to date."""
    import hashlib

    members = members_of(bundle)
    change(members)
    if listed:
        manifest = json.loads(members["manifest.json"])
        manifest["members"] = {
            name: {"bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()}
            for name, data in members.items()
            if name != "manifest.json"
        }
        members["manifest.json"] = json.dumps(manifest).encode()
    with zipfile.ZipFile(target, "w") as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return target


def test_a_bundle_holds_all_that_the_numbers_follow_from(study: Path, bundle: Path) -> None:
    members = members_of(bundle)
    manifest = json.loads(members["manifest.json"])
    assert members["files/study.toml"] == study.read_bytes()
    assert {"files/camera.toml", "files/boards/w1.toml", "results/results.json", "results/results.csv"} <= set(members)
    assert set(manifest["members"]) == set(members) - {"manifest.json"}
    assert manifest["versions"]["irspot"]
    assert json.loads(members["zone_edits.json"])["edits"] == []
    frames = [name for name in members if name.startswith("files/frames/")]
    assert frames
    assert all(members[name] == (study.parent / name.removeprefix("files/")).read_bytes() for name in frames)


def test_a_bundle_of_the_same_files_is_the_same_file(study: Path, bundle: Path, tmp_path: Path) -> None:
    again = tmp_path / "again.zip"
    bundle_study(study, again)
    assert again.read_bytes() == bundle.read_bytes()


def test_every_number_holds_when_measured_anew(bundle: Path) -> None:
    found = verify_bundle(bundle)
    assert (found.holds, found.differences, found.damaged) == (True, (), ())
    assert found.compared > 200


def test_nothing_is_written_over(study: Path, bundle: Path) -> None:
    with pytest.raises(OutputRefused, match="exists already"):
        bundle_study(study, bundle)


def test_files_beside_the_study_keep_their_relative_places(tmp_path: Path) -> None:
    study = write_tiny(tmp_path / "campaign" / "spring")
    shared = tmp_path / "campaign" / "camera.toml"
    (tmp_path / "campaign" / "spring" / "camera.toml").rename(shared)
    study.write_text(study.read_text().replace('"camera.toml"', '"../camera.toml"'))
    bundle_study(study, tmp_path / "b.zip")
    members = members_of(tmp_path / "b.zip")
    assert {"files/camera.toml", "files/spring/study.toml"} <= set(members)
    assert verify_bundle(tmp_path / "b.zip").holds


def test_absolute_paths_are_refused_with_what_to_do(tmp_path: Path) -> None:
    study = write_tiny(tmp_path)
    study.write_text(study.read_text().replace('"camera.toml"', f'"{tmp_path / "camera.toml"}"'))
    with pytest.raises(BundleRefused, match="absolute path") as refused:
        bundle_study(study, tmp_path / "b.zip")
    assert refused.value.key == "camera"
    assert not (tmp_path / "b.zip").exists()


def test_a_study_that_cannot_be_measured_whole_is_no_evidence(tmp_path: Path) -> None:
    study = write_tiny(tmp_path)
    next((tmp_path / "frames").glob("front-1*")).write_bytes(b"no frame at all")
    with pytest.raises(BundleRefused, match="not all of the study"):
        bundle_study(study, tmp_path / "b.zip")


# --- what was changed ---------------------------------------------------


def test_a_changed_file_is_named(bundle: Path, tmp_path: Path) -> None:
    def warmer(members: dict[str, bytes]) -> None:
        members["files/study.toml"] = members["files/study.toml"].replace(b"21.5", b"20.5")

    found = verify_bundle(rewritten(bundle, tmp_path / "b.zip", warmer, listed=False))
    assert found.damaged == ("files/study.toml",)
    assert not found.holds


def test_a_changed_number_is_found_even_with_its_digest(bundle: Path, tmp_path: Path) -> None:
    def cooler(members: dict[str, bytes]) -> None:
        results = json.loads(members["results/results.json"])
        results["rows"][0]["max_degc"] -= 1e-5
        members["results/results.json"] = json.dumps(results).encode()

    found = verify_bundle(rewritten(bundle, tmp_path / "b.zip", cooler, listed=True))
    (difference,) = found.differences
    assert difference.column == "max_degc"
    assert float(difference.new) - float(difference.old) == pytest.approx(1e-5, abs=1e-9)
    assert not found.holds


def test_a_changed_input_gives_other_numbers(bundle: Path, tmp_path: Path) -> None:
    def warmer(members: dict[str, bytes]) -> None:
        members["files/study.toml"] = members["files/study.toml"].replace(
            b"ambient_degc = 21.5", b"ambient_degc = 20.5"
        )

    found = verify_bundle(rewritten(bundle, tmp_path / "b.zip", warmer, listed=True))
    assert {"ambient_degc", "rise_k"} <= {each.column for each in found.differences}
    assert not found.holds


def test_a_study_that_cannot_be_measured_here_says_why(
    bundle: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from irspot.errors import Problem
    from irspot.workflow import run as running

    real = running.run_study

    def failing(*arguments: object, **keys: object) -> object:
        result = real(*arguments, **keys)  # type: ignore[arg-type]
        return replace(result, problems=(Problem("no library for its compression", hint="pip install it"),))

    monkeypatch.setattr(running, "run_study", failing)
    with pytest.raises(BundleRefused, match=r"could not be measured whole again .*no library for its compression"):
        verify_bundle(bundle)


def test_numbers_of_another_method_are_listed_old_and_new(
    bundle: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def older(members: dict[str, bytes]) -> None:
        results = json.loads(members["results/results.json"])
        results["rows"][0]["max_degc"] -= 0.5
        members["results/results.json"] = json.dumps(results).encode()

    changed = rewritten(bundle, tmp_path / "b.zip", older, listed=True)
    monkeypatch.setattr(verifying, "METHOD", verifying.METHOD + 1)
    found = verify_bundle(changed)
    assert found.method == found.old_method + 1
    assert len(found.differences) == 1
    assert found.holds, "another method may say otherwise; it is listed"


def test_redrawn_zones_are_in_the_log(tmp_path: Path) -> None:
    study = write_tiny(tmp_path / "s")
    out, board = tmp_path / "out", tmp_path / "s" / "boards" / "w1.toml"
    first = run_study(study, out, pictures=False)
    assert not [warning for warning in first.warnings if "redrawn" in warning.message]
    before = (out / "zone_history.json").read_bytes()
    run_study(study, out, pictures=False)
    assert (out / "zone_history.json").read_bytes() == before
    document = tomlkit.parse(board.read_text())
    document["zone"][0]["rect_mm"][0] += 1.0
    board.write_text(tomlkit.dumps(document))
    again = run_study(study, out, pictures=False)
    assert any("redrawn after results had been written" in warning.message for warning in again.warnings)
    made = bundle_study(study, tmp_path / "b.zip", results=out)
    assert made.edits == 1
    (edit,) = verify_bundle(tmp_path / "b.zip").edits
    assert edit["old"] != edit["new"]


def test_results_that_are_not_the_studys_are_refused(study: Path, tmp_path: Path) -> None:
    run_study(study, tmp_path / "out", pictures=False)
    csv = tmp_path / "out" / "results.csv"
    csv.write_bytes(csv.read_bytes().replace(b"usable", b"retake", 1))
    with pytest.raises(BundleRefused, match="does not hold the results"):
        bundle_study(study, tmp_path / "b.zip", results=tmp_path / "out")


# --- hostile bundles ---------------------------------------------------


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("../x", "escapes"),
        ("files/../../x", "escapes"),
        ("/etc/x", "absolute"),
        ("C:/x", "absolute"),
        ("files\\x", "character"),
        ("files/a:b", "character"),
        ("files//x", "empty part"),
        ("files/./x", "empty part"),
        ("files/", "empty part"),
        ("files/nul.txt", "reserved"),
        ("files/COM1", "reserved"),
        ("files/x.", "reserved"),
        ("files/x\n", "control"),
        ("files/\u202ex", "control"),
        ("f" * 300, "too long"),
    ],
)
def test_names_that_could_leave_the_folder_are_refused(name: str, says: str, bundle: Path, tmp_path: Path) -> None:
    assert says in portable_fault(name)
    if "\\" in name:
        return  # zipfile itself turns these round on some systems
    hostile = rewritten(bundle, tmp_path / "b.zip", lambda members: members.update({name: b"x"}), listed=True)
    with pytest.raises(BundleRefused):
        verify_bundle(hostile)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["b.zip"]


@pytest.mark.parametrize("name", ["files/study.toml", "files/boards/w1.toml", "results/results.csv", "zone_edits.json"])
def test_good_names_are_good(name: str) -> None:
    assert portable_fault(name) == ""


def hostile_with(target: Path, member: zipfile.ZipInfo, data: bytes) -> Path:
    with zipfile.ZipFile(target, "w") as archive:
        archive.writestr(member, data)
    return target


def test_links_are_refused(tmp_path: Path) -> None:
    link = zipfile.ZipInfo("files/frames.tiff")
    link.external_attr = (stat.S_IFLNK | 0o777) << 16
    with pytest.raises(BundleRefused, match="no plain file"):
        verify_bundle(hostile_with(tmp_path / "b.zip", link, b"/etc/passwd"))


def test_doubled_names_are_refused_whatever_their_case(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "b.zip", "w") as archive:
        archive.writestr("files/Study.toml", b"a")
        archive.writestr("files/study.toml", b"b")
    with pytest.raises(BundleRefused, match="stands twice"):
        verify_bundle(tmp_path / "b.zip")


def test_bombs_are_refused_before_they_are_unpacked(tmp_path: Path) -> None:
    member = zipfile.ZipInfo("files/zeros.raw")
    member.compress_type = zipfile.ZIP_DEFLATED
    bomb = hostile_with(tmp_path / "b.zip", member, bytes(8 << 20))
    with pytest.raises(BundleRefused, match="far more"):
        verify_bundle(bomb)


def test_a_bundle_may_not_unpack_to_more_than_is_allowed(bundle: Path) -> None:
    with pytest.raises(BundleRefused, match="more than is allowed") as refused:
        verify_bundle(bundle, most_bytes=10_000)
    assert "--most-gb" in str(refused.value)


def test_a_member_that_holds_more_than_it_says_is_refused(bundle: Path, tmp_path: Path) -> None:
    """The size in the directory is lowered; the data are what they were."""
    data = bytearray(bundle.read_bytes())
    with zipfile.ZipFile(bundle) as archive:
        member = archive.getinfo("files/camera.toml")
    name = member.filename.encode()
    at = data.rindex(name)  # of the central directory, which comes last
    data[at - 22 : at - 18] = (10).to_bytes(4, "little")
    (tmp_path / "b.zip").write_bytes(data)
    with pytest.raises(BundleRefused):
        verify_bundle(tmp_path / "b.zip")


def test_members_that_lie_over_one_another_are_refused(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr("files/a.csv", b"x" * 1000)
        archive.writestr("files/b.csv", b"y" * 10)
    with opened_bundle(tmp_path / "a.zip") as archive:
        first, second = archive.infolist()
        second.header_offset = first.header_offset + 40
        with pytest.raises(BundleRefused, match="lies over"):
            checked_members(archive, tmp_path / "a.zip", 1 << 30)


def test_a_study_may_name_nothing_outside_of_its_bundle(bundle: Path, tmp_path: Path) -> None:
    outside = tmp_path / "secret.toml"
    outside.write_bytes(members_of(bundle)["files/camera.toml"])

    def reaching(members: dict[str, bytes]) -> None:
        members["files/study.toml"] = members["files/study.toml"].replace(
            b'"camera.toml"', json.dumps(str(outside)).encode()
        )

    with pytest.raises(BundleRefused, match="not in the bundle"):
        verify_bundle(rewritten(bundle, tmp_path / "b.zip", reaching, listed=True))


@pytest.mark.parametrize(
    "named", ["{}/secret.toml", "{}/**/*.tiff", "../../../../../../../..{}/secret.toml", "C:\\\\x"]
)
@pytest.mark.parametrize("instead_of", ['"camera.toml"', '"boards/w1.toml"', '"frames/rear.tiff"'])
def test_nothing_outside_of_a_bundle_is_opened_or_listed(
    bundle: Path, tmp_path: Path, named: str, instead_of: str
) -> None:
    # Not even to say that it is no camera file: a study that names a device would never end.
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "secret.toml").write_text("no camera file", encoding="utf-8")
    touched = []

    def reaching(members: dict[str, bytes]) -> None:
        text = members["files/study.toml"].decode()
        members["files/study.toml"] = text.replace(instead_of, f'"{named.format(outside)}"').encode()

    hostile = rewritten(bundle, tmp_path / "b.zip", reaching, listed=True)
    watched = _watch_opens(str(outside), touched)
    try:
        with pytest.raises(BundleRefused, match="not in the bundle"):
            verify_bundle(hostile)
    finally:
        watched.clear()
    assert touched == []


def _watch_opens(folder: str, touched: list[str]) -> list[bool]:
    """Note what is opened or listed in a folder, until what is returned is emptied: hooks cannot be taken off."""
    import sys

    watching = [True]

    def hook(event: str, arguments: tuple[object, ...]) -> None:
        if watching and event in ("open", "os.scandir", "os.listdir") and str(arguments[0]).startswith(folder):
            touched.append(f"{event} {arguments[0]}")

    sys.addaudithook(hook)
    return watching


def test_plug_ins_are_asked_only_if_allowed(bundle: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[str | None] = []
    real = verifying._compared

    def noted(*arguments: object) -> object:
        seen.append(os.environ.get(NONE_WANTED))
        return real(*arguments)

    monkeypatch.setattr(verifying, "_compared", noted)
    verify_bundle(bundle)
    verify_bundle(bundle, plugins=True)
    assert seen == ["1", None]
    assert NONE_WANTED not in os.environ


@pytest.mark.parametrize(
    "manifest",
    [
        b"",
        b"[]",
        b"{}",
        b'{"format": 1}',
        b'{"format": 9, "method": 4, "study": "s", "title": "", "versions": {}, "members": {}}',
    ],
)
def test_manifests_that_are_none_are_refused(manifest: bytes, tmp_path: Path) -> None:
    hostile = hostile_with(tmp_path / "b.zip", zipfile.ZipInfo("manifest.json"), manifest)
    with pytest.raises(BundleRefused):
        verify_bundle(hostile)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(at=st.floats(0.0, 1.0), change=st.binary(min_size=1, max_size=6), cut=st.booleans())
def test_broken_bundles_are_refused_in_words(bundle: Path, tmp_path: Path, at: float, change: bytes, cut: bool) -> None:
    data = bytearray(bundle.read_bytes())
    place = int(at * (len(data) - len(change)))
    data[place : place + len(change)] = change
    broken = tmp_path / "broken.zip"
    broken.write_bytes(data[:place] if cut else data)
    content = content_or_refusal(broken)
    assert content is None or "manifest.json" in content


def content_or_refusal(path: Path) -> dict[str, bytes] | None:
    """Read all of a bundle; anything but a refusal in words is a fault."""
    content = {}
    try:
        with opened_bundle(path) as archive:
            for name, member in checked_members(archive, path, 1 << 30).items():
                held = io.BytesIO()
                unpack(archive, member, held, path)
                content[name] = held.getvalue()
    except IrspotError:
        return None
    return content if "manifest.json" in content else None


def test_the_commands(study: Path, tmp_path: Path) -> None:
    target = tmp_path / "b.zip"
    made = CliRunner().invoke(main, ["bundle", str(study), "-o", str(target)])
    assert made.exit_code == 0, made.stderr
    told = CliRunner().invoke(main, ["verify", str(target)])
    assert (told.exit_code, told.stdout) == (0, "")
    assert "0 differ" in told.stderr
    as_json = CliRunner().invoke(main, ["verify", str(target), "--json"])
    assert json.loads(as_json.stdout)["holds"] is True
    wrong = CliRunner().invoke(main, ["verify", str(study)])
    assert wrong.exit_code == 1
    assert "cannot be opened as a bundle" in wrong.stderr
    assert "Traceback" not in wrong.stderr
