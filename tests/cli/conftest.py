"""The commands as a user runs them, in an empty folder, with a tracer that draws."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from lightsim.cli import main
from lightsim.cli.failures import TRACEBACK
from tests.runs.conftest import tracer

pytest.register_assert_rewrite("tests.cli.checking")

__all__ = ["tracer"]

SMALL_SET = """
about = "A flat petal with four drops."

[petal]
form = "flat"
relief_mm = 0.0
mesh_spacing_mm = 2.0

[drops]
count = 4
diameter_mm = 3.0
diameter_spread = 1.1

[camera]
width_px = 120

[[light]]
guide_number_m = 10.0
power = "1/16"
"""


LENS_SET = """
about = "A flat petal, a drop in focus, a lens on tubes, one flash."

[petal]
form = "flat"
relief_mm = 0.0
mesh_spacing_mm = 2.0

[drops]
count = 0

[[drops.placed]]
x_mm = 0.0
y_mm = 0.0
diameter_mm = 1.6

[camera]
f_number = 8.0
width_px = 120

[camera.focus]
on = "drop"

[lens]
focal_length_mm = 100.0
native_magnification = 1.0
extension_tubes_mm = [20.0, 30.0]

[[light]]
guide_number_m = 20.0
power = "1/128"
distance_mm = 200.0
"""


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """An empty folder to work in, with my-set.toml."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "my-set.toml").write_text(SMALL_SET)
    return tmp_path


@pytest.fixture
def lens_set(folder):
    """The folder, with lens.toml beside it: a lens on tubes and a flash."""
    (folder / "lens.toml").write_text(LENS_SET)
    return folder


@pytest.fixture
def run():
    """Runs a command line; returns click's result. A fault of the program's own is raised as it is."""

    def command(*words):
        return CliRunner(env={TRACEBACK: "1"}).invoke(
            main, [str(word) for word in words], prog_name="lightsim"
        )

    return command
