"""The commands as a user runs them, in an empty folder, with a tracer that draws."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from lightsim.cli import main
from lightsim.cli.failures import TRACEBACK
from tests.runs.conftest import tracer

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


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """An empty folder to work in, with my-set.toml."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "my-set.toml").write_text(SMALL_SET)
    return tmp_path


@pytest.fixture
def run():
    """Runs a command line; returns click's result. A fault of the program's own is raised as it is."""

    def command(*words):
        return CliRunner(env={TRACEBACK: "1"}).invoke(
            main, [str(word) for word in words], prog_name="lightsim"
        )

    return command
