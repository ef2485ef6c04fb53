"""Settings for all tests.

Property tests are not timed, for a loaded machine is no fault of the code. Where several processes share the
tests the kernels are compiled before these start, once for all.
"""

from __future__ import annotations

import pytest
from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


def pytest_configure(config: pytest.Config) -> None:
    if not config.getoption("numprocesses", None) or hasattr(config, "workerinput"):
        return
    from lightsim.scene.records import Scene
    from lightsim.tracer.view import View

    View(Scene(), width_px=16, samples=1).trace()


@pytest.fixture(autouse=True)
def no_layers_kept(monkeypatch):
    """No test reads layers that another one kept."""
    monkeypatch.setenv("LIGHTSIM_LAYERS_GB", "0")
