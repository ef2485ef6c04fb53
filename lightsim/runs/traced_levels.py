"""The petal's colours by light, from a small traced picture; `planning` is handed this and traces nothing."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.photograph.mix import petal_colours
from lightsim.runs.steps import trace
from lightsim.scene.records import Scene

DRAFT_WIDTH_PX = 160


def draft_petal_colours(scene: Scene) -> dict[str, NDArray[np.float64]]:
    """For each light and the room the mean colour (3,) of the bare petal, cd/m2 per unit of its output."""
    return petal_colours(trace(scene, quality="draft", width_px=DRAFT_WIDTH_PX))
