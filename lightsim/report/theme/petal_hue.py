"""The colour of a petal that lends a page its accent."""

from __future__ import annotations

import numpy as np

from lightsim.report.theme.legible import RGB8, coded
from lightsim.scene.stage import Stage


def petal_colour(stage: Stage) -> RGB8:
    """The mean reflectance of the most colourful quarter of the petal, as sRGB."""
    values = np.asarray(stage.petal.reflectance, float)
    colourful = np.ptp(values, axis=1)
    chosen = values[colourful >= np.quantile(colourful, 0.75)]
    red, green, blue = (round(float(value)) for value in coded(chosen.mean(axis=0)))
    return red, green, blue
