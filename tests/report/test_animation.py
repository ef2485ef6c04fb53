"""The animation of a sweep."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from lightsim.errors import OutputError
from lightsim.report.frames import Varied
from lightsim.report.sheet.animation import animation_pictures, play_order, save_animations
from lightsim.report.theme import theme_for

from .samples import clock_sweep, frame, sweep

THEME = theme_for()


def save_animation(path: Path, frames: list, **options: object) -> Path:
    """One animation under one name."""
    return save_animations([path], frames, **options)[0]  # type: ignore[arg-type]


def varied(values: list[float], unit: str) -> list[Varied]:
    """Settings of a sweep."""
    return [Varied("light", value, unit) for value in values]


@pytest.mark.parametrize(
    ("values", "unit", "order"),
    [
        ([0, 45, 90], "deg", [0, 1, 2, 1]),
        ([0, 45, 90, 135], "deg", [0, 1, 2, 3, 2, 1]),
        ([3, 6, 9, 12], "clock", [0, 1, 2, 3]),  # full circle
        ([12, 4, 8], "clock", [0, 1, 2]),
        ([3, 6, 9], "clock", [0, 1, 2, 1]),
        ([0, 120, 240], "deg", [0, 1, 2]),
        ([100, 200, 300], "mm", [0, 1, 2, 1]),
        ([75], "deg", [0]),
        ([75, 90], "deg", [0, 1]),
    ],
)
def test_there_and_back_unless_full_circle(values: list[float], unit: str, order: list[int]) -> None:
    assert play_order(varied(values, unit)) == order


@pytest.mark.parametrize("suffix", [".webp", ".gif"])
def test_frames_times_and_loop(tmp_path: Path, suffix: str) -> None:
    path = save_animation(tmp_path / f"sweep{suffix}", sweep(4), frame_ms=200)
    with Image.open(path) as file:
        times = []
        for index in range(file.n_frames):
            file.seek(index)
            file.load()
            times.append(file.info["duration"])
        assert file.info["loop"] == 0  # 0: for ever, in both formats
    assert times == [400, 200, 200, 400, 200, 200]


def test_gif_loops_for_ever(tmp_path: Path) -> None:
    content = save_animation(tmp_path / "sweep.gif", sweep(3)).read_bytes()
    # the application extension NETSCAPE2.0: sub-block 3 1 and a count, 0 for ever (its form from memory)
    place = content.index(b"NETSCAPE2.0") + 11
    assert content[place : place + 4] == bytes([3, 1, 0, 0])


def test_gif_keeps_the_colour_of_the_light(tmp_path: Path) -> None:
    red = np.zeros((160, 240, 3), np.uint8)
    red[..., 0] = np.arange(240)  # a picture that would fill the palette alone
    path = save_animation(tmp_path / "sweep.gif", [frame(at, image=red) for at in (0.0, 90.0)])
    with Image.open(path) as file:
        pixels = np.asarray(file.convert("RGB")).reshape(-1, 3)
    assert np.any(np.all(pixels == THEME.accent, axis=1))


def test_webp_loops_for_ever(tmp_path: Path) -> None:
    content = save_animation(tmp_path / "sweep.webp", sweep(3)).read_bytes()
    # WebP container specification, chunk ANIM: size, background (4 bytes), loop count (2 bytes, 0: for ever)
    place = content.index(b"ANIM")
    assert content[place + 12 : place + 14] == b"\0\0"


def test_a_full_circle_shows_every_frame_once(tmp_path: Path) -> None:
    path = save_animation(tmp_path / "round.webp", clock_sweep([3, 6, 9, 12]))
    with Image.open(path) as file:
        assert file.n_frames == 4


def test_pictures_are_never_enlarged_and_keep_their_shape(tmp_path: Path) -> None:
    with Image.open(save_animation(tmp_path / "sweep.webp", sweep(2), width_px=720)) as file:
        assert file.size[0] == 120
    picture = animation_pictures([frame()], 60, THEME)[0]
    assert picture.width == 60
    assert picture.height > 40  # the picture, and a strip for the caption below it


def test_the_photograph_is_whole_and_the_direction_stands_below_it() -> None:
    grey = np.full((200, 300, 3), 77, np.uint8)
    picture = np.asarray(animation_pictures([frame(image=grey, inset_drop=None)], 300, THEME)[0])
    assert np.all(picture[:200] == 77)
    accent = np.all(np.abs(picture[200:].astype(int) - THEME.accent) < 20, axis=-1)
    assert accent.sum() > 10
    assert np.nonzero(accent)[1].min() > 150  # at the right


def test_what_cannot_be_built_is_struck_through() -> None:
    grey = np.full((80, 120, 3), 128, np.uint8)
    struck = frame(image=grey, inset_drop=None, not_buildable="the flash stands inside the lens")
    picture = np.asarray(animation_pictures([struck], 300, THEME)[0])[:195, 5:295]
    whole = np.asarray(animation_pictures([frame(image=grey, inset_drop=None)], 300, THEME)[0])[:195, 5:295]
    assert set(whole.ravel().tolist()) == {128}
    assert (picture > 190).all(axis=-1).any(axis=1).mean() > 0.9  # a line from the foot to the top


def test_the_size_is_kept_within_bounds(tmp_path: Path) -> None:
    rng = np.random.default_rng(2)
    noisy = [frame(angle, image=rng.integers(0, 255, (320, 480, 3), dtype=np.uint8)) for angle in (0, 45, 90)]
    sizes = {}
    for most in (10_000_000, 120_000):
        path = save_animation(tmp_path / f"{most}.webp", noisy, most_bytes=most)
        sizes[most] = path.stat().st_size
        assert sizes[most] <= most
    assert sizes[120_000] < sizes[10_000_000]


def test_a_film_shows_each_frame_for_its_time_twice_over(tmp_path: Path) -> None:
    imageio = pytest.importorskip("imageio.v3")
    pytest.importorskip("imageio_ffmpeg")
    path = save_animation(tmp_path / "sweep.mp4", sweep(3), frame_ms=200)
    about = imageio.immeta(path, plugin="FFMPEG")
    assert about["codec"] == "h264"
    assert about["duration"] == pytest.approx(2 * (400 + 200 + 400 + 200) / 1000.0, abs=0.1)
    picture = animation_pictures(sweep(3), 120, THEME)[0]
    first = imageio.imread(path, plugin="FFMPEG", index=0)
    assert abs(float(first.mean()) - float(np.asarray(picture).mean())) < 6.0


def test_another_ending_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"allowed \.webp, \.gif, \.mp4"):
        save_animation(tmp_path / "sweep.avi", sweep(2))
    assert list(tmp_path.iterdir()) == []
