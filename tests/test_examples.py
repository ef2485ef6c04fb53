"""The examples in docstrings run and give what they say."""

from __future__ import annotations

import doctest
from importlib import import_module
from pathlib import Path

import pytest

import lightsim

PACKAGE = Path(lightsim.__file__).parent
MODULES = sorted(
    "lightsim." + ".".join(path.relative_to(PACKAGE).with_suffix("").parts)
    for path in PACKAGE.rglob("*.py")
    if ">>> " in path.read_text(encoding="utf-8")
)


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_docstrings(name, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    found = doctest.testmod(import_module(name))
    assert found.attempted > 0
    assert found.failed == 0


def test_the_front_door_shows_the_public_names_and_explains_each():
    assert dir(lightsim) == sorted(lightsim.__all__)
    for name in lightsim.__all__:
        about = getattr(lightsim, name).__doc__
        assert about is not None, name
        assert about.strip().partition("\n")[0].endswith((".", ":")), name
