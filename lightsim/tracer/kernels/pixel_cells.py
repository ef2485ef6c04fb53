"""Cells of pixels, and which drops may send an emitter's light to each."""

from __future__ import annotations

from typing import NamedTuple

from numpy.typing import NDArray

from lightsim.tracer.kernels.drop_visibility import DropVisibility

CELL = 8  # pixels along the side of a cell that shares its list of drops


class DropLight(NamedTuple):
    """Which drops may send an emitter's light to the pixels of a block, and how they see it.

    listed, bounds (rows, columns, 2): the drops near each cell of pixels. balls (rows, columns, 4): centre
    and radius of a ball round what its pixels see of the petal, -1 for none. senders, sender_count (rows,
    columns): drops of the cell that may send it caustics (`near_drops.list_senders`), from the same bounds
    on. reach, core, crest, most: see `caustic_list.list_caustics`."""

    listed: NDArray
    bounds: NDArray
    balls: NDArray
    senders: NDArray
    sender_count: NDArray
    reach: NDArray
    core: NDArray
    crest: NDArray
    most: NDArray
    visibility: DropVisibility
