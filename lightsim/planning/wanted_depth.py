"""The depth that is to be sharp: given, or taken from what stands in the frame, and said."""

from __future__ import annotations

import numpy as np

from lightsim.errors import LightsimError
from lightsim.planning.petal_light import SeenPetal
from lightsim.report.words import significant
from lightsim.scene.describe import drops_in_frame
from lightsim.scene.petal.pose import focused_drop
from lightsim.scene.records import Scene
from lightsim.scene.stage import Stage

LEAST_MM = 0.1  # a flat subject has no depth; our rule, no source
MOST_MM = 1000.0


def given_depth_mm(text: str) -> float:
    """--depth as a number; LightsimError for anything else."""
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0.0 < value <= MOST_MM:
        raise LightsimError(f"--depth: found {text.strip()!r}, allowed above 0 to {MOST_MM:g} mm")
    return value


def wanted_depth(scene: Scene, stage: Stage, seen: SeenPetal) -> tuple[float, str]:
    """Depth in mm and what it is: the drop in focus from front to foot, or all that stands in the frame."""
    if scene.camera.focus.on == "drop" and len(stage.drops):
        number = focused_drop(scene.camera.focus, stage.drops)
        radius, angle = stage.drops.radius[number], np.radians(stage.drops.contact_angle_deg[number])
        return float(radius * (1.0 - np.cos(angle))), "the drop in focus, from its front to its foot"
    if len(seen) == 0:
        return LEAST_MM, "nothing stands in the frame; a thin layer is taken"
    nearest, farthest = nearest_in_frame_mm(stage, seen), float(seen.points[:, 2].min())
    depth = nearest - farthest
    if depth < LEAST_MM:
        return LEAST_MM, f"what stands in the frame is flat to {significant(max(depth, 0.0))} mm"
    return depth, "all in the frame, from the nearest drop or petal to the farthest petal"


def nearest_in_frame_mm(stage: Stage, seen: SeenPetal) -> float:
    """How far petal and drops in the frame reach toward the lens from the sharp plane, mm."""
    inside = drops_in_frame(stage)
    tops = (stage.drops.centre[:, 2] + stage.drops.radius)[inside]
    petal = float(seen.points[:, 2].max()) if len(seen) else 0.0
    return max(petal, float(tops.max())) if len(tops) else petal
