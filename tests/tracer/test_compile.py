"""Kernels that are compiled but not run, and their division between two processes."""

from __future__ import annotations

import os
import time

import numpy as np

from lightsim.tracer import View
from lightsim.tracer.compilation import FIRST_SHARE
from lightsim.tracer.kernel_folder import forget_old
from lightsim.tracer.kernels import (
    box_tree,
    connection,
    direct_light,
    drop_visibility,
    highlight_splat,
    jit,
    near_drops,
    pixel_cells,
    visibility_classification,
)
from tests.tracer.sets import lamp, one_drop, plain_petal, simple

SET = simple(plain_petal(0.5), one_drop(), (lamp(angle_deg=45.0),), field_mm=4.0)


def test_loops_that_are_only_compiled_leave_the_picture_black_and_run_again_afterwards():
    jit.only_compile(lambda name: name == "add_direct")
    try:
        with np.errstate(all="ignore"):
            dark = View(SET, width_px=16, samples=1).trace()
    finally:
        jit.only_compile(None)
    bright = View(SET, width_px=16, samples=1).trace()
    assert not dark.by_light["lamp"].petal.any()
    assert bright.by_light["lamp"].petal.any()


def test_the_share_of_one_process_names_loops_that_there_are():
    modules = (direct_light, pixel_cells, visibility_classification, drop_visibility, near_drops)
    modules += connection, highlight_splat, box_tree
    found = {name for module in modules for name in vars(module)}
    assert found >= FIRST_SHARE


def test_kernels_of_other_sources_are_removed_when_they_are_old(tmp_path):
    ages_days = {"kernels-now": 0.0, "kernels-new": 3.0, "kernels-old": 100.0, "else": 100.0}
    for name, days in ages_days.items():
        (tmp_path / name).mkdir()
        (tmp_path / name / "complete").touch()
        then = time.time() - 86400.0 * days
        os.utime(tmp_path / name, (then, then))
    forget_old(tmp_path / "kernels-now")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["else", "kernels-new", "kernels-now"]
