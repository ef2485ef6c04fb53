"""Real photographs: files, measures that a picture alone can give, looking for drops."""

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from scipy.ndimage import gaussian_filter

from lightsim.errors import PictureError
from lightsim.measures import find_drops, measure_frame, measure_photograph, read_photograph
from tests.measures.drawing import MM_PER_PX, coverage, ellipse, sphere_glint, wet_petal


def flower_file():
    """The flower among scikit-learn's sample images."""
    from importlib.resources import files

    return files("sklearn.datasets.images").joinpath("flower.jpg")


def test_sample_photograph_of_a_flower():
    photo = read_photograph(flower_file())
    assert photo.shape == (427, 640)
    m = measure_photograph(photo, petal=np.ones(photo.shape))
    # against numpy on the decoded values: IEC 61966-2-1 curve and ITU-R BT.709 weights written out here
    signal = np.asarray(Image.open(flower_file()), dtype=float) / 255
    linear = np.where(signal <= 0.04045, signal / 12.92, ((signal + 0.055) / 1.055) ** 2.4)
    light = linear @ (0.2126, 0.7152, 0.0722)
    # without a scale a hundredth of the width is averaged over: a grating of 6.4 pixels keeps half its
    # amplitude under a Gaussian of 6.4 sqrt(2 ln 2) / (2 pi) = 1.2 pixels, the pixel's own 1/12 px2 counted
    smooth = gaussian_filter(light, np.sqrt((6.4 * np.sqrt(2 * np.log(2)) / (2 * np.pi)) ** 2 - 1 / 12))
    dark, bright = np.percentile(smooth, (5, 95))
    assert m.petal_contrast_ratio == pytest.approx(bright / dark, rel=0.01)
    assert m.clipped_share == pytest.approx((signal >= 254 / 255 - 1e-9).any(axis=-1).mean(), abs=1e-9)
    assert m.shadow_depth_ratio is None
    assert m.missing["shadow_depth_ratio"] == "the key’s visibility is not known"


def test_a_duller_print_of_the_flower_measures_less_contrast():
    photo = read_photograph(flower_file())
    dull = replace(photo, linear=0.5 * photo.linear + 0.5 * photo.linear.mean())
    whole = {"mm_per_px": 0.05, "petal": np.ones(photo.shape)}
    full, less = measure_photograph(photo, **whole), measure_photograph(dull, **whole)
    assert less.petal_contrast_ratio < full.petal_contrast_ratio
    assert less.texture_fine_rms < 0.8 * full.texture_fine_rms


def test_a_highlight_dimmer_than_the_caustic_is_found_on_the_light_s_side():
    # at 60 degrees the mirror image lies sin(30 degrees) = 0.5 radii from the centre; a brighter spot lies
    # opposite, as drops gather light
    shape, drop = (200, 220), (110.4, 99.2, 70.0)
    glint = sphere_glint(shape, drop[:2], drop[2], 60.0, 10.0, 14.0, 4)
    gathered = coverage(ellipse((110.4 + 45.0, 99.2 + 26.0), (9.0, 9.0)), shape)
    light = 0.05 + 0.4 * glint / glint.max() + 0.8 * gathered
    told = measure_photograph(light, MM_PER_PX, [drop], light_clock=10.0).drops[0]
    assert told.highlight_place_share == pytest.approx(0.5, abs=0.02)
    assert told.highlight_clock == pytest.approx(10.0, abs=0.05)
    alone = measure_photograph(light - 0.8 * gathered, MM_PER_PX, [drop], light_clock=10.0).drops[0]
    assert told.highlight_long_mm == pytest.approx(alone.highlight_long_mm, rel=0.02)
    untold = measure_photograph(light, MM_PER_PX, [drop]).drops[0]
    assert untold.highlight_clock == pytest.approx(4.0, abs=0.1)


def test_plan_and_result_agree_on_the_same_picture():
    shape, drop = (200, 220), (110.4, 99.2, 70.0)
    glint = 40.0 * sphere_glint(shape, drop[:2], drop[2], 60.0, 10.0, 14.0, 4)
    photo = wet_petal(shape, [drop], glint=glint, saturation=1.0)
    known = measure_frame(photo).drops[0]
    seen = measure_photograph(photo.linear, MM_PER_PX, [drop], light_clock=10.0).drops[0]
    assert seen.highlight_long_mm == pytest.approx(known.highlight_long_mm, rel=0.05)
    assert seen.highlight_short_mm == pytest.approx(known.highlight_short_mm, rel=0.05)
    assert seen.highlight_place_share == pytest.approx(known.highlight_place_share, abs=0.01)
    assert seen.highlight_clock == pytest.approx(known.highlight_clock, abs=0.05)
    assert seen.highlight_area_mm2 == pytest.approx(known.highlight_area_mm2, rel=0.1)


def test_a_clipped_highlight_gives_a_lower_limit():
    shape, drop = (120, 120), (60.0, 60.0, 40.0)
    light = 0.1 + 5.0 * coverage(ellipse((45.0, 50.0), (12.0, 8.0)), shape)
    free = measure_photograph(light, 0.01, [drop]).drops[0]
    clipped = measure_photograph(np.minimum(light, 1.0), 0.01, [drop]).drops[0]
    assert clipped.highlight_stops_at_least
    assert clipped.highlight_stops_above_petal == pytest.approx(np.log2(10.0), abs=0.01)
    assert free.highlight_stops_above_petal > clipped.highlight_stops_above_petal


def test_of_highlight_and_gathered_light_the_lights_side_decides():
    shape, drop = (160, 160), (80.0, 80.0, 60.0)
    light = np.full(shape, 0.1)
    light += 0.8 * coverage(ellipse((50.0, 80.0), (14.0, 10.0)), shape)
    light += 0.85 * coverage(ellipse((112.0, 80.0), (22.0, 16.0)), shape)
    left, right = (
        measure_photograph(light, 0.01, [drop], light_clock=clock).drops[0] for clock in (9.0, 3.0)
    )
    assert left.highlight_clock == pytest.approx(9.0, abs=0.02)
    assert right.highlight_clock == pytest.approx(3.0, abs=0.02)
    assert left.caustic_clock == pytest.approx(3.0, abs=0.05)


def test_a_dull_drop_has_no_highlight():
    drop = measure_photograph(np.full((80, 80), 0.3), 0.01, [(40.0, 40.0, 20.0)]).drops[0]
    assert drop.highlight_area_px is None
    assert drop.missing["highlight_area_px"] == "no spot a stop brighter than the drop"
    assert drop.missing["shadow_clock"] == "the key’s visibility is not known"


def test_without_a_scale_pixels_and_shares_remain():
    light = 0.1 + 0.8 * coverage(ellipse((45.0, 50.0), (12.0, 8.0)), (100, 100))
    drop = measure_photograph(light, drops=[(50.0, 50.0, 30.0)]).drops[0]
    assert drop.highlight_long_mm is None
    assert drop.missing["highlight_long_mm"] == "the picture's scale in mm is not known"
    assert drop.highlight_aspect == pytest.approx(1.5, rel=0.02)


def test_drops_are_found_in_a_plan_of_our_own():
    drops = [(60.0, 70.0, 24.0), (150.0, 60.0, 30.0), (120.0, 150.0, 20.0), (220.0, 140.0, 26.0)]
    light = np.full((210, 280), 0.3)
    for x, y, r in drops:
        light = np.where(coverage(ellipse((x, y), (2 * r, 2 * r)), light.shape, 2) > 0.5, 0.12, light)
    found = find_drops(measure_ready(light), 15.0, 35.0, count=4)
    assert len(found) == 4
    for x, y, r in drops:
        nearest = min(found, key=lambda f: np.hypot(f[0] - x, f[1] - y))
        assert nearest == pytest.approx((x, y, r), abs=2.0)


def test_round_things_are_found_in_a_sample_photograph():
    # scikit-image's picture of 24 coins in rows of six
    from importlib.resources import files

    photo = read_photograph(files("skimage.data").joinpath("coins.png"))
    found = find_drops(photo, 17.0, 33.0, count=24)
    assert len(found) == 24
    rows = np.histogram([y for _, y, _ in found], bins=[0, 88, 160, 226, 303])[0]
    assert list(rows) == [6, 6, 6, 6]


def measure_ready(light):
    from lightsim.picture import Photograph

    return Photograph(light[..., None].repeat(3, axis=-1).astype(np.float32), 0.01)


@pytest.mark.parametrize("name", ["a.png", "a.jpg", "a.tif"])
def test_files_of_each_kind(tmp_path, name):
    code = np.full((20, 30, 3), 128, np.uint8)
    Image.fromarray(code).save(tmp_path / name, quality=100)
    photo = read_photograph(tmp_path / name, mm_per_px=0.02)
    assert photo.shape == (20, 30)
    assert photo.mm_per_px == 0.02
    assert photo.linear == pytest.approx(0.2158605, abs=1e-5)  # IEC 61966-2-1: code 128


def test_sixteen_bits_grey_and_transparent(tmp_path):
    import tifffile

    deep = np.full((8, 9, 3), 30000, np.uint16)
    tifffile.imwrite(tmp_path / "deep.tif", deep)
    expected = ((30000 / 65535 + 0.055) / 1.055) ** 2.4
    assert read_photograph(tmp_path / "deep.tif").linear == pytest.approx(expected, rel=1e-5)
    Image.fromarray(np.full((8, 9), 128, np.uint8)).save(tmp_path / "grey.png")
    assert read_photograph(tmp_path / "grey.png").linear.shape == (8, 9, 3)
    Image.fromarray(np.full((8, 9, 4), 128, np.uint8)).save(tmp_path / "clear.png")
    assert read_photograph(tmp_path / "clear.png").linear == pytest.approx(0.2158605, abs=1e-5)
    Image.fromarray(np.full((8, 9), 32896, np.uint16)).save(tmp_path / "deep.png")
    assert read_photograph(tmp_path / "deep.png").linear == pytest.approx(0.2158605, abs=1e-5)


def test_the_orientation_tag_is_obeyed(tmp_path):
    image = Image.fromarray(np.zeros((20, 30, 3), np.uint8))
    tags = image.getexif()
    tags[0x0112] = 6  # Exif: turn by 90 degrees
    image.save(tmp_path / "turned.jpg", exif=tags)
    assert read_photograph(tmp_path / "turned.jpg").shape == (30, 20)


def test_files_that_cannot_be_read_say_so_in_one_sentence(tmp_path):
    with pytest.raises(PictureError, match="no such file; a PNG, JPEG or TIFF file is needed"):
        read_photograph(tmp_path / "none.png")
    with pytest.raises(PictureError, match="cannot be read as a picture"):
        read_photograph(tmp_path)
    (tmp_path / "text.png").write_text("not a picture")
    with pytest.raises(PictureError, match=r"text\.png: cannot be read as a picture \(unknown format\)"):
        read_photograph(tmp_path / "text.png")
    (tmp_path / "text.tif").write_text("not a picture")
    with pytest.raises(PictureError, match="cannot be read as a picture"):
        read_photograph(tmp_path / "text.tif")
    Image.fromarray(np.random.default_rng(1).integers(0, 255, (90, 90, 3), np.uint8)).save(
        tmp_path / "cut.png"
    )
    whole = (tmp_path / "cut.png").read_bytes()
    (tmp_path / "cut.png").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(PictureError, match="cannot be read as a picture"):
        read_photograph(tmp_path / "cut.png")


def test_bad_arguments_say_what_is_allowed():
    with pytest.raises(PictureError, match="it must be a positive number of mm"):
        read_photograph(flower_file(), mm_per_px=0.0)
    with pytest.raises(PictureError, match=r"a picture of shape \(3, 4, 2\)"):
        measure_photograph(np.zeros((3, 4, 2)))
    with pytest.raises(PictureError, match="radius above 0"):
        measure_photograph(np.zeros((30, 40)), drops=[(5.0, 5.0, -1.0)])
    with pytest.raises(PictureError, match="the least must be 2 or more"):
        find_drops(measure_ready(np.zeros((30, 40))), 9.0, 3.0)
