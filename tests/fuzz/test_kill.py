"""A small sweep that is killed at random moments and begun again comes out as if nothing had happened."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import time

import pytest

from tests.cli.conftest import SMALL_SET

KILLS, SEED = 20, 5
# The sweep with the tracer that draws: what is written, and how, is the program's own.
SWEEP = """
import sys, lightsim.tracer
from tests.runs.fake import FakeTracer
fake = FakeTracer()
for name in ("View", "trace_layers", "trace_strips", "compiled"):
    setattr(lightsim.tracer, name, getattr(fake, name))
import lightsim.runs.views as views
if hasattr(views, "View"):
    views.View = fake.View
from lightsim.cli import main
main(["sweep", "my-set.toml", "--angles", "10,50,90", "--width", "96", "-o", sys.argv[1], "--quiet"])
"""


def begun(folder, out):
    """The sweep as a process of its own."""
    settings = {**os.environ, "LIGHTSIM_LAYERS_GB": "0"}
    return subprocess.Popen(
        [sys.executable, "-c", SWEEP, out], cwd=folder, env=settings, stdout=subprocess.DEVNULL
    )


def contents(folder):
    """Every file and its bytes; a lock's file, which a killed process leaves, aside."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files(folder)}


def files(folder):
    return sorted(path for path in folder.rglob("*") if path.is_file() and ".lightsim-" not in path.name)


def wait_for_files(process, folder):
    """Until the first frame is there, or the process has ended."""
    while process.poll() is None and not list(folder.glob("frames/*")):
        time.sleep(0.01)


@pytest.mark.skipif(os.name != "posix", reason="needs SIGKILL")
def test_a_sweep_killed_twenty_times_ends_as_an_undisturbed_one(tmp_path):
    (tmp_path / "my-set.toml").write_text(SMALL_SET)
    process = begun(tmp_path, "whole")
    wait_for_files(process, tmp_path / "whole")
    began = time.monotonic()
    assert process.wait(120) == 0
    writing_s = time.monotonic() - began
    chance = random.Random(SEED)
    killed = 0
    for number in range(KILLS):
        if number % 5 == 0:  # begin with nothing again
            for path in files(tmp_path / "out"):
                path.unlink()
        process = begun(tmp_path, "out")
        wait_for_files(process, tmp_path / "out")
        time.sleep(chance.uniform(0.0, writing_s))
        process.kill()
        killed += process.wait() != 0
        whole = contents(tmp_path / "whole")
        for name, data in contents(tmp_path / "out").items():
            assert name.rpartition("/")[2].startswith(".part-") or data == whole[name], name
    assert killed > KILLS // 2
    process = begun(tmp_path, "out")
    assert process.wait(120) == 0
    assert contents(tmp_path / "out") == contents(tmp_path / "whole")
    assert not list((tmp_path / "out").rglob(".*"))
