"""A matplotlib figure as a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from PIL.Image import Image


def drawn(figure: Figure, dpi: float) -> Image:
    """The figure in RGB at so many dots per inch, straight from the drawing: no file on the way."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from PIL import Image

    canvas = FigureCanvasAgg(figure)
    figure.set_dpi(dpi)
    canvas.draw()
    return Image.fromarray(np.asarray(canvas.buffer_rgba())[..., :3])
