"""The solids of the plan stand where the stage has what they show, and clear of one another's way."""

from __future__ import annotations

import numpy as np
import pytest

from lightsim.scene.camera import in_view
from lightsim.scene.faces import corners
from lightsim.scene.records import Diffuser
from tests.report.sets import TRAIN, a_set, far_away, flash, hard, lamp, plan_of

SUPPORTS = ("arm", "post", "foot")


def farthest(points, others):
    """The greatest distance from one of the points to the nearest of the others."""
    return max(float(np.linalg.norm(others - point, axis=1).min()) for point in points)


@pytest.mark.parametrize("looks_down", [-30.0, 0.0, 35.0, 90.0])
def test_faces_stand_where_the_stage_has_them(looks_down):
    scene = a_set(looks_down, lights=(flash("flash", 75.0, 10.0), lamp("lamp", 120.0, 2.0)))
    _, shapes, stage = plan_of(scene)
    for staged in (*stage.lights, *stage.cards):
        what = "card" if staged in stage.cards else "face"
        (face,) = (part for part in shapes.of(staged.name) if part.what == what)
        assert farthest(corners(staged.face), face.vertices) < 1e-9
        # it is a thin sheet, behind its own front
        depth = (face.vertices - staged.face.centre) @ staged.face.out
        assert depth.max() == pytest.approx(0.0, abs=1e-9)
        assert depth.min() > -2.0
    (board,) = shapes.of("backdrop")
    assert farthest(corners(stage.backdrop), board.vertices) < 1e-9


def test_a_round_face_has_its_diameter():
    _, shapes, stage = plan_of(a_set(lights=(flash("flash", 75.0, 10.0, shape="round", width_mm=50.0),)))
    (face,) = (part for part in shapes.of("flash") if part.what == "face")
    centre = stage.lights[0].face.centre
    across = np.linalg.norm(face.vertices - centre, axis=1).max()
    assert across == pytest.approx(np.hypot(25.0, 1.5), rel=1e-3)


def test_a_head_is_behind_its_face_and_a_diffuser_before_its_head():
    scene = a_set(lights=(flash("flash", 75.0, 10.0, diffuser=Diffuser(width_mm=100.0, height_mm=80.0)),))
    _, shapes, stage = plan_of(scene)
    face = stage.lights[0].face
    assert 2.0 * face.half_width_mm == 100.0
    for part in shapes.of("flash"):
        if part.what in ("head", "grip"):
            assert ((part.vertices - face.centre) @ face.out).max() < -20.0


def test_the_camera_s_lens_begins_at_the_working_distance_and_its_tubes_have_their_lengths():
    _, shapes, stage = plan_of(a_set(lens=TRAIN))
    parts = shapes.of("camera")
    lens = next(part for part in parts if part.what == "lens")
    close_up = next(part for part in parts if part.what == "close-up lens")
    assert close_up.bounds[0, 2] == pytest.approx(stage.camera.working_distance_mm, abs=0.3)
    assert lens.bounds[0, 2] == pytest.approx(stage.camera.working_distance_mm)  # they touch
    tubes = [part.bounds[:, 2] for part in parts if part.what == "tube"]
    assert [float(end - start) for start, end in tubes] == pytest.approx([12.0, 36.0])
    assert tubes[0][0] == pytest.approx(lens.bounds[1, 2])
    assert tubes[1][0] == pytest.approx(tubes[0][1])
    body = next(part for part in parts if part.what == "body")
    assert body.bounds[0, 2] == pytest.approx(tubes[1][1])
    # 100 mm at life size and 48 mm of tubes: the image lies f (1 + m0) + 48 = 248 mm behind the lens, the
    # front 60 mm before it; without the close-up lens 1/(1/100 - 1/248) - 60 = 107.6 mm would be free, with
    # its 2 dioptres 1/(1/107.6 + 1/500)
    front = 1.0 / (1.0 / (1.0 / (1.0 / 100.0 - 1.0 / 248.0) - 60.0) + 1.0 / 500.0)
    assert stage.camera.working_distance_mm == pytest.approx(front)
    # 300 mm from subject to sensor without tubes (supposed), 400 less 100 between the principal planes
    assert body.bounds[0, 2] < front + 60.0 - 100.0 + 248.0 < body.bounds[1, 2]


def test_flower_and_drops_are_the_stage_s_own():
    _, shapes, stage = plan_of(a_set())
    petal = next(part for part in shapes.of("flower") if part.what == "petal")
    assert np.array_equal(petal.vertices, stage.petal.vertices)
    drops = next(part for part in shapes.of("flower") if part.what == "drops")
    low = (stage.drops.centre - stage.drops.radius[:, None]).min(axis=0)
    high = (stage.drops.centre + stage.drops.radius[:, None]).max(axis=0)
    assert np.allclose(drops.bounds, [low, high], atol=0.02 * stage.drops.radius.max())


@pytest.mark.parametrize("looks_down", [-30.0, 0.0, 35.0, 60.0, 90.0])
def test_the_table_is_level_and_lies_under_all_that_stands_on_it(looks_down):
    _, shapes, stage = plan_of(a_set(looks_down, TRAIN))
    top = next(part for part in shapes.of("table") if part.what == "top")
    heights = top.vertices @ stage.up
    assert np.allclose(
        np.unique(heights.round(6)), [-shapes.subject_above_table_mm - 16.0, -shapes.subject_above_table_mm]
    )
    hangs = stage.backdrop is not None and looks_down <= 45.0
    for part in shapes.parts:
        if part.thing != "table" and not (part.what == "board" and hangs):
            assert (part.vertices @ stage.up).min() > -shapes.subject_above_table_mm - 5.0, (
                part.thing,
                part.what,
            )


@pytest.mark.parametrize(
    "scene", [a_set(0.0), a_set(35.0), a_set(90.0), hard()], ids=["level", "35", "down", "hard"]
)
def test_stands_are_plumb_and_out_of_the_lens_s_view(scene):
    _, shapes, stage = plan_of(scene)
    for part in shapes.parts:
        if part.what == "post":
            level = part.vertices - np.outer(part.vertices @ stage.up, stage.up)
            assert np.ptp(level, axis=0).max() < 5.1  # no wider than the post itself
        if part.what in SUPPORTS and part.thing != "camera":
            assert not in_view(stage.camera, part.vertices).any(), (part.thing, part.what)


def test_what_is_far_away_has_no_stand_and_does_not_move_the_table():
    _, shapes, _ = plan_of(far_away())
    assert shapes.far == ("window", "sun")
    assert shapes.beyond == ("sun",)
    assert not any(part.what in SUPPORTS for part in shapes.of("window"))
    assert shapes.subject_above_table_mm < 200.0


def test_hulls_leave_nothing_out():
    _, shapes, _ = plan_of(a_set())
    for part in shapes.parts:
        assert np.allclose(part.hull.min(axis=0), part.vertices.min(axis=0), atol=1e-6)
        assert np.allclose(part.hull.max(axis=0), part.vertices.max(axis=0), atol=1e-6)
