"""Fingerprints of content. The digest is SHA-256 (FIPS 180-4)."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from lightsim.runs.digest import code_version, digest, file_digest
from lightsim.scene.build import build


def test_a_file_has_the_standard_s_digest(tmp_path):
    # FIPS 180-4, example "abc" (Secure Hash Standard, SHA-256).
    path = tmp_path / "abc"
    path.write_bytes(b"abc")
    assert file_digest(path) == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_equal_content_has_equal_digests_and_other_content_others():
    assert digest((1.0, 2.0), {"a": 1, "b": 2}) == digest((1.0, 2.0), {"b": 2, "a": 1})
    different = [1, "1", 1.0, (1,), [1], None, True, np.array([1]), np.array([1.0]), np.array([[1]])]
    assert len({digest(thing) for thing in different}) == len(different)


def test_neighbouring_values_do_not_run_together():
    assert digest(("a", "bc")) != digest(("ab", "c"))
    assert digest("a", "bc") != digest("ab", "c")


def test_a_scene_s_name_and_words_do_not_count_but_its_set_does(scene):
    stage = build(scene)
    renamed = replace(scene, about="a note", path=Path("elsewhere.toml"))
    assert digest(build(renamed)) == digest(stage)
    moved = replace(scene, lights=(replace(scene.lights[0], angle_deg=20.0),))
    assert digest(build(moved)) != digest(stage)


def test_the_code_s_version_is_a_digest_that_repeats():
    assert code_version() == code_version()
    assert len(code_version()) == 64
