"""Folders and files: one run at a time, inputs never overwritten, nothing of a killed run left behind."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from lightsim.errors import OutputError
from lightsim.report.files.writable import locked, require_outputs
from lightsim.whole_file import clear_abandoned, replacing
from tests.cli.conftest import SMALL_SET, folder, run, tracer
from tests.scene.test_mesh_file import bowl

__all__ = ["folder", "run", "tracer"]

HOLD = """
import sys, time
from pathlib import Path
from lightsim.report.files.writable import locked
with locked(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


def holder(folder):
    """A process that holds the folder."""
    process = subprocess.Popen([sys.executable, "-c", HOLD, str(folder)], stdout=subprocess.PIPE)
    assert process.stdout.readline() == b"held\n"
    return process


def refused(result, words):
    assert (result.exit_code, result.stdout) == (2, ""), result.output
    assert words in result.stderr
    assert len(result.stderr.splitlines()) == 1


def test_a_second_sweep_in_one_folder_is_refused_and_a_dead_one_s_lock_taken_over(run, folder, tracer):
    (folder / "out").mkdir()
    first = holder(folder / "out")
    try:
        result = run("sweep", "my-set.toml", "--angles", "0,90", "-o", "out")
        refused(result, f"out: found process {first.pid} writing there, allowed another folder")
        assert tracer.traced == []
    finally:
        first.kill()
        first.communicate()
    assert run("sweep", "my-set.toml", "--angles", "0,90", "-o", "out").exit_code == 0
    assert not [path for path in (folder / "out").rglob(".*") if path.is_file()]


def test_a_folder_is_locked_against_other_threads_but_not_against_its_own(tmp_path):
    seen = []

    def other():
        try:
            with locked(tmp_path):
                seen.append("in")
        except OutputError as error:
            seen.append(str(error))

    with locked(tmp_path), locked(tmp_path):
        thread = threading.Thread(target=other)
        thread.start()
        thread.join()
    assert f"found process {os.getpid()} writing there" in seen[0]
    with locked(tmp_path):
        pass


@pytest.fixture
def with_mesh(folder):
    """The small set with a mesh that has a texture, in an OBJ file."""
    from PIL import Image
    from trimesh.visual import TextureVisuals

    mesh, uv = bowl(5)
    mesh.visual = TextureVisuals(uv=uv, image=Image.new("RGB", (8, 8), (90, 40, 50)))
    mesh.export(folder / "petal.obj")
    petal = '[petal]\nform = "mesh"\nfile = "petal.obj"\nscale = 10.0\n'
    text = SMALL_SET.replace('[petal]\nform = "flat"\nrelief_mm = 0.0\n', petal)
    (folder / "my-set.toml").write_text(text)
    return folder


COMMANDS = {
    "preview": ("preview", "my-set.toml", "-o"),
    "exposure": ("exposure", "my-set.toml", "-o"),
    "compare": ("compare", "my-set.toml", "--angles", "20,60", "-o"),
    "plan": ("plan", "my-set.toml", "-o"),
}


@pytest.mark.parametrize("words", COMMANDS.values(), ids=COMMANDS)
def test_no_texture_is_overwritten(run, with_mesh, tracer, words):
    texture = next(path for path in with_mesh.glob("*.png"))
    before = texture.read_bytes()
    refused(run(*words, texture.name), f"{texture.name}: found {texture}, which is read"[:20])
    os.link(texture, with_mesh / "other.png")
    refused(run(*words, "other.png"), "which is read, allowed a file that is not")
    (with_mesh / "third.png").symlink_to(texture.name)
    refused(run(*words, "third.png"), "which is read, allowed a file that is not")
    assert texture.read_bytes() == before
    assert tracer.traced == []


def test_what_goes_beside_a_picture_overwrites_no_scene_either(run, folder, tracer):
    (folder / "my-set.json").write_text(SMALL_SET)
    before = (folder / "my-set.json").read_bytes()
    result = run("compare", "my-set.json", "--angles", "20,60", "-o", "my-set.png")
    refused(result, "my-set.json: found my-set.json, which is read")
    assert (folder / "my-set.json").read_bytes() == before
    out = folder / "out"
    out.mkdir()
    (out / "measures.json").write_text(SMALL_SET)
    result = run("sweep", "out/measures.json", "--angles", "20,60", "-o", "out")
    refused(result, "out/measures.json: found out/measures.json, which is read")
    assert [path.name for path in out.iterdir()] == ["measures.json"]


@pytest.mark.parametrize(
    "name", ["sheet.png", "measures.csv", "chart.png", "sweep.webp", "frames/angle-020.png", "drops.csv"]
)
def test_a_folder_where_a_file_must_go_is_found_before_tracing(run, folder, tracer, name):
    (folder / "out" / name).mkdir(parents=True)
    words = ("sweep", "my-set.toml", "--angles", "20,60", "-o", "out")
    refused(run(*words), f"out/{name}: found a folder, allowed a file's name")
    assert tracer.traced == []


def test_other_places_that_cannot_be_written_are_found_before_tracing(run, folder, tracer):
    (folder / "compare.csv").mkdir()
    refused(run("compare", "my-set.toml", "--angles", "20,60"), "compare.csv: found a folder")
    (folder / "out").mkdir()
    (folder / "out" / "frames").write_text("a file")
    refused(run("sweep", "my-set.toml", "--angles", "20,60", "-o", "out"), "out/frames: found a file")
    (folder / "file").write_text("")
    refused(run("sweep", "my-set.toml", "-o", "file/out"), "file: found a file, allowed a folder")
    assert tracer.traced == []


def test_outputs_are_looked_at_without_making_any(tmp_path):
    require_outputs([tmp_path / "no" / "where" / "a.png"], [tmp_path / "missing.toml"])
    assert list(tmp_path.iterdir()) == []


def left_by_dead_run(folder, suffix=".png"):
    """A temporary file as a killed process leaves it."""
    code = (
        "import os, sys; from lightsim.whole_file import replacing\n"
        "with replacing(sys.argv[1]) as part:\n    part.write_text('half'); os._exit(9)"
    )
    subprocess.run([sys.executable, "-c", code, str(folder / f"a{suffix}")], check=False)
    (left,) = folder.glob(".part-*")
    return left


def test_what_a_killed_run_left_is_removed_by_the_next_and_nothing_else(run, folder, tracer):
    left = left_by_dead_run(folder)
    assert run("preview", "my-set.toml").exit_code == 0
    assert not left.exists()
    (folder / "out" / "frames").mkdir(parents=True)
    left = left_by_dead_run(folder / "out" / "frames")
    assert run("sweep", "my-set.toml", "--angles", "20,60", "-o", "out").exit_code == 0
    assert not left.exists()
    with replacing(folder / "mine.txt") as part:
        clear_abandoned(folder)
        assert part.exists()
        part.write_text("whole")
    assert (folder / "mine.txt").read_text() == "whole"


def test_temporary_files_of_other_machines_stay_for_a_day(tmp_path):
    elsewhere = tmp_path / ".part-00000000-999999-abc.png"
    elsewhere.touch()
    clear_abandoned(tmp_path)
    assert elsewhere.exists()
    os.utime(elsewhere, (0, 0))
    clear_abandoned(tmp_path)
    assert not elsewhere.exists()
    assert Path(tmp_path).exists()
