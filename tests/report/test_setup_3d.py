"""The 3-D view, drawn through EGL, and the plan where there is no OpenGL."""

from __future__ import annotations

import sys

import numpy as np
import pytest

from lightsim.errors import LightsimError
from lightsim.report.page_options import PageOptions
from lightsim.report.setup.drafting import TitleBlock
from lightsim.report.setup.plan_sheets import settings_sheets
from lightsim.report.setup.view_3d import PAPER, NoOpenGL, open_window, render
from lightsim.report.setup.viewpoint import Viewpoint, candidate_viewpoints
from tests.report.sets import a_set, far_away, hard, plan_of

BLOCK = TitleBlock("the set", "plan of the set-up", "set.toml", "2026-01-31", "1 / 2")
PICTURE = np.full((32, 48, 3), (150, 90, 110), np.uint8)


@pytest.fixture(scope="module", params=["plain", "hard", "far"])
def seen(request):
    """A small view of three sets."""
    scene = {"plain": a_set, "hard": hard, "far": far_away}[request.param]()
    _, shapes, stage = plan_of(scene)
    return render(shapes, 300, 240), shapes, stage


def test_everything_that_is_near_shows(seen):
    view, shapes, _ = seen
    assert view.picture.shape == (240, 300, 3)
    for number, name in enumerate(view.names):
        assert (view.things == number).any(), name
    assert set(view.names) == {part.thing for part in shapes.parts} - set(shapes.beyond)


def test_what_is_drawn_is_where_the_viewpoint_says(seen):
    view, shapes, _ = seen
    height, width = view.things.shape
    for number, name in enumerate(view.names):
        if name in ("table", "backdrop"):
            continue
        rows, columns = np.nonzero(view.things == number)
        points = np.vstack([part.hull for part in shapes.of(name)])
        spots = view.viewpoint.seen(points) * [width, height]
        low, high = spots.min(axis=0) - 1.5, spots.max(axis=0) + 1.5
        assert low[0] <= columns.min() <= columns.max() <= high[0], name
        assert low[1] <= rows.min() <= rows.max() <= high[1], name


def test_the_ground_behind_the_set_is_the_paper_s_own(seen):
    view, _, _ = seen
    empty = view.things == -1
    off = np.abs(view.picture[empty].astype(int) - PAPER).max(axis=1)
    assert np.mean(off <= 1) > 0.95  # all but the fine edges of what stands before it


def test_up_on_the_picture_is_against_gravity(seen):
    view, _, stage = seen
    spots = view.viewpoint.seen(np.array([np.zeros(3), 20.0 * stage.up]))
    assert spots[1, 1] < spots[0, 1]
    assert spots[1, 0] == pytest.approx(spots[0, 0], abs=0.02)


def test_all_candidates_hold_the_whole_set():
    _, shapes, stage = plan_of(hard())
    points = np.vstack([part.hull for part in shapes.parts if part.what not in ("board", "top", "grid")])
    for viewpoint in candidate_viewpoints(shapes.parts, stage.up, 1.3):
        spots = viewpoint.seen(points)
        assert spots.min() > 0.0
        assert spots.max() < 1.0


def test_a_point_on_the_axis_falls_in_the_middle():
    viewpoint = Viewpoint(np.array([0.0, 0.0, 100.0]), np.zeros(3), np.array([0.0, 1.0, 0.0]), 0.5, 1.5)
    # half the field's height at 100 mm is 100 tan(0.25)
    edge = 100.0 * np.tan(0.25)
    spots = viewpoint.seen(np.array([[0.0, 0.0, 0.0], [0.0, edge, 0.0], [1.5 * edge, 0.0, 0.0]]))
    assert np.allclose(spots, [[0.5, 0.5], [0.5, 0.0], [1.0, 0.5]])


def test_the_sheet_has_the_view_with_its_items_numbered():
    plan, shapes, _ = plan_of(hard())
    (sheet,) = settings_sheets(plan, shapes, PICTURE, BLOCK, PageOptions())
    said = [each.text for each in sheet.texts]
    for number in range(1, 3 + len(plan.places)):
        assert str(number) in said
    assert any(text.startswith("lines on the table: every ") for text in said)


@pytest.mark.parametrize("how", ["no library", "no driver"])
def test_without_opengl_one_sentence_says_what_to_install(monkeypatch, how):
    plan, shapes, _ = plan_of(a_set())
    if how == "no library":
        monkeypatch.setitem(sys.modules, "pyrender", None)
    else:
        import pyrender

        def fails(*sizes):
            raise ImportError("Unable to load EGL library")

        monkeypatch.setattr(pyrender, "OffscreenRenderer", fails)
    with pytest.raises(NoOpenGL) as caught:
        settings_sheets(plan, shapes, PICTURE, BLOCK, PageOptions())
    assert "libegl1 and libgl1-mesa-dri" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_window_needs_a_display(monkeypatch):
    monkeypatch.delenv("DISPLAY", raising=False)
    _, shapes, _ = plan_of(a_set())
    with pytest.raises(LightsimError, match="--open: found no display"):
        open_window(shapes, "a set")
