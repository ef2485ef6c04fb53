"""Burnt-out parts: an outline, a hatch, a key."""

from __future__ import annotations

import numpy as np
import pytest

from lightsim.report.burnt_out import clipping_key, mark_burnt_out
from lightsim.report.theme import theme_for

THEME = theme_for()


def scene() -> tuple[np.ndarray, np.ndarray]:
    """A grey picture with one part clipped in red, another in all channels."""
    picture = np.full((200, 300, 3), 90, np.uint8)
    over = np.zeros((200, 300), np.uint8)
    over[20:80, 20:120], over[100:160, 150:280] = 1, 7
    picture[over > 0] = 255
    return picture, over


def test_the_outline_runs_round_each_part_and_nothing_else_is_touched() -> None:
    picture, over = scene()
    marked = mark_burnt_out(picture, over, THEME)
    assert (marked[19, 20:120] == THEME.accent).all()
    assert (marked[99, 150:280] == THEME.accent).all()
    away = np.zeros_like(over, bool)
    away[:15], away[170:] = True, True
    assert (marked[away] == picture[away]).all()
    assert (mark_burnt_out(picture, np.zeros_like(over), THEME) == picture).all()


def test_the_hatch_is_light_and_crossed_where_all_channels_are_clipped() -> None:
    picture, over = scene()
    marked = (mark_burnt_out(picture, over, THEME) == THEME.accent).all(axis=-1)
    one, all_three = marked[20:80, 20:120].mean(), marked[100:160, 150:280].mean()
    assert 0.05 < one < 0.25
    assert 1.6 * one < all_three < 2.1 * one


@pytest.mark.parametrize("width", [48, 320, 961, 6000])
def test_the_key_is_as_wide_as_the_picture(width: int) -> None:
    _, over = scene()
    key = clipping_key(width, over, THEME)
    assert key.shape[1:] == (width, 3)
    assert key.shape[0] > 10
    assert (key[0] == THEME.paper).all()
    assert (key != np.array(THEME.paper)).any()
    assert clipping_key(width, np.zeros_like(over), THEME).shape[1] == width
