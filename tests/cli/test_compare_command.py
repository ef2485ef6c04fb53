"""`lightsim compare` through click's runner."""

from __future__ import annotations

import json

import numpy as np
import pytest

from tests.cli.checking import picture, refused, rows


def test_compare_shows_one_scene_at_several_angles(run, folder, tracer):
    result = run("compare", "my-set.toml", "--angles", "15,75,135")
    assert result.exit_code == 0, result.output
    assert result.stdout.splitlines()[-4:] == [
        "compare.png",
        "compare.csv",
        "compare-differences.csv",
        "compare.json",
    ]
    assert min(picture("compare.png").shape[:2]) > 500
    assert [row["picture"] for row in rows("compare.csv")] == ["15°", "75°", "135°"]
    assert len(tracer.views) == 1
    told = json.loads((folder / "compare.json").read_text())
    stated = {(d["picture"], d["measure"]): d["difference"] for d in told["differences"]}
    first, second = told["pictures"][:2]
    assert stated["75°", "petal_linear"] == pytest.approx(
        np.log2(second["petal_linear"] / first["petal_linear"])
    )


def test_compare_shows_each_set_as_set_or_all_as_the_first(run, folder, tracer):
    text = (folder / "my-set.toml").read_text()
    (folder / "faster.toml").write_text(text + "\n[exposure]\niso = 800\n")
    command = ("compare", "my-set.toml", "faster.toml", "-o", "pair.png")
    result = run(*command)
    assert "Exposure: each picture as it is set." in result.output
    means = [float(row["petal_linear"]) for row in rows("pair.csv")]
    assert means[1] == pytest.approx(8.0 * means[0])  # ISO 800 against 100: three stops
    assert [row["picture"] for row in rows("pair.csv")] == ["My set", "Faster"]
    result = run(*command, "--same-exposure")
    assert "Faster: moved by −3.0 stops" in result.output
    means = [float(row["petal_linear"]) for row in rows("pair.csv")]
    assert means[1] == pytest.approx(means[0])
    assert [float(row["flash_moved_stops"]) for row in rows("pair.csv")] == pytest.approx([0.0, -3.0])


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (
            ("my-set.toml",),
            "compare: found 1 picture, allowed 2 to 6 (several scenes, or one scene with several --angles)",
        ),
        (
            ("my-set.toml", "--angles", "0:180:15"),
            "compare: found 13 pictures, allowed 2 to 6 (several scenes, or one scene with several --angles)",
        ),
        (
            ("my-set.toml", "my-set.toml", "-o", "x.npz"),
            "x.npz: found the ending '.npz', allowed .png, .pdf, .svg, .jpg, .jpeg",
        ),
    ],
)
def test_compare_refuses_in_one_sentence(run, folder, tracer, words, sentence):
    refused(run("compare", *words), sentence)
    assert tracer.views == []
