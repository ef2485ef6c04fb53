"""`lightsim lens` through click's runner: what it prints and refuses."""

from __future__ import annotations

from math import log2

import pytest

from tests.cli.checking import refused, told
from tests.cli.conftest import LENS_SET


def test_lens_prints_all_figures_with_units(run, lens_set):
    result = run("lens", "lens.toml")
    assert result.exit_code == 0
    for words in (
        "1.50 : 1",
        "24.0 × 16.0 mm",
        "4.00 µm",
        "f/20",
        "2.64 stops",
        "cycles/mm",
        "Model: thin elements at their places (lens)",
    ):
        assert words in result.stdout
    assert "50 mm of tubes" in result.stdout


def test_lens_s_numbers_by_hand(run, lens_set):
    """Thin lens (Hecht, Optics, ch. 5): m = 1 + 50/100, u + v = f (2 + m + 1/m), N_eff = N (1 + m)."""
    thin = (lens_set / "lens.toml").read_text().replace("[lens]", "[lens]\nnative_focus_distance_mm = 400.0")
    (lens_set / "thin.toml").write_text(thin)
    found = told(run, "lens", "thin.toml")
    assert found["magnification"] == pytest.approx(1.5)
    assert found["sensor_distance_mm"] == pytest.approx(416.6667, abs=1e-3)
    assert found["effective_f_number"] == pytest.approx(20.0)
    assert found["light_lost_stops"] == pytest.approx(2 * log2(2.5))
    assert found["airy_diameter_um"] == pytest.approx(26.83, abs=0.01)
    assert found["framed_by"] == "lens train"


def test_lens_tries_another_value_beside_the_file_s(run, lens_set):
    before = (lens_set / "lens.toml").read_text()
    found = told(run, "lens", "lens.toml", "--extension", "0", "--f-number", "f/16")
    assert (found["magnification"], found["effective_f_number"]) == pytest.approx((1.0, 32.0))
    assert found["as_in_file"]["magnification"] == pytest.approx(1.5)
    assert (lens_set / "lens.toml").read_text() == before
    assert "in the file" in run("lens", "lens.toml", "--close-up", "5").stdout


def test_lens_of_a_field_width_says_what_it_supposes(run, folder):
    found = told(run, "lens", "my-set.toml")
    assert found["framed_by"] == "field width"
    assert "thin lens" in found["model"]
    assert "no [lens]" in run("lens", "my-set.toml").stdout


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--f-number", "x"), "--f-number: found 'x', allowed 0.5 to 1000, as \"f/11\""),
        (("--extension", "-3"), "--extension: found -3, allowed 0 to 2000 mm"),
        (("--close-up", "1000"), "--close-up: found 1000, allowed 0 to 100 dioptres"),
    ],
)
def test_lens_refuses_in_one_sentence(run, lens_set, words, sentence):
    refused(run("lens", "lens.toml", *words), sentence)


def test_lens_refuses_a_lens_option_without_a_lens(run, folder):
    result = run("lens", "my-set.toml", "--extension", "36")
    refused(result, "--extension: found 36, allowed with a [lens] section only")


def test_lens_refuses_a_train_that_cannot_be(run, lens_set):
    text = LENS_SET.replace("[lens]\n", "[lens]\nnative_working_distance_mm = 20.0\n")
    (lens_set / "short.toml").write_text(text)
    result = run("lens", "short.toml", "--extension", "300")
    assert result.exit_code == 2
    assert result.stderr.count("\n") == 1
    assert "the subject would be inside the lens" in result.stderr


def test_several_tubes_and_close_up_lenses_are_given_as_in_scene_files(run, lens_set):
    text = (lens_set / "lens.toml").read_text()
    for tubes, lenses in (("36,12", "4,2"), ("48", "6"), ("36 mm, 12mm", "+4, 2D")):
        listed = text.replace("[20.0, 30.0]", "[36.0, 12.0]\nclose_up_dioptres = [4.0, 2.0]")
        (lens_set / "listed.toml").write_text(listed)
        by_file = told(run, "lens", "listed.toml")
        by_option = told(run, "lens", "lens.toml", "--extension", tubes, "--close-up", lenses)
        assert by_option["magnification"] == pytest.approx(by_file["magnification"], rel=1e-12)
        assert by_option["working_distance_mm"] == pytest.approx(by_file["working_distance_mm"], rel=1e-12)
    spaced = text.replace("[20.0, 30.0]", "[48.0]\nclose_up_spacing_mm = 30.0")
    (lens_set / "spaced.toml").write_text(spaced)
    four_first, two_first, one = (
        told(run, "lens", "spaced.toml", "--close-up", lenses)["magnification"]
        for lenses in ("4,2", "2,4", "6")
    )
    assert len({round(m, 6) for m in (four_first, two_first, one)}) == 3  # their order and places count


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (
            ("--extension", "36,x"),
            "--extension: found '36,x', allowed 0 to 2000 mm, or several with commas",
        ),
        (("--extension", "36,"), "--extension: found '36,', allowed 0 to 2000 mm, or several with commas"),
        (("--close-up", "4,200"), "--close-up: found 200, allowed 0 to 100 dioptres"),
        (("--teleconverter", "1.4,2"), "--teleconverter: found '1.4,2', allowed 1 to 4"),
    ],
)
def test_a_wrong_part_of_a_list_is_one_sentence(run, lens_set, words, sentence):
    refused(run("lens", "lens.toml", *words), sentence)
