"""The outside of the lens train: its pieces along the axis, from the subject to the camera."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from lightsim.optics.lens_chain import MAIN, teleconverter_length_mm
from lightsim.optics.lens_train import LensTrain

CLOSE_UP, SECOND, LENS, TUBE, TELECONVERTER = "close-up lens", "second lens", "lens", "tube", "teleconverter"
RING_MM = 7.0  # thickness of a close-up lens's ring where they touch; common practice, no source
SHORTEST_MM = 10.0  # of a lens, where the supposed figures would leave less or nothing


class Piece(NamedTuple):
    """One piece of the barrel. what : one of the names above. start_mm, end_mm : from the plane of sharp
    focus."""

    what: str
    start_mm: float
    end_mm: float


def pieces_of(train: LensTrain) -> tuple[Piece, ...]:
    """The pieces, the one next to the subject first; the last ends at the camera's mount."""
    return tuple(_pieces(train))


def _pieces(train: LensTrain) -> Iterator[Piece]:
    at = train.working_distance_mm
    for _ in (each for each in train.close_up_dioptres if each > 0):
        yield Piece(CLOSE_UP, at, at + max(train.close_up_spacing_mm, RING_MM))
        at += train.close_up_spacing_mm
    if train.stacked is not None:
        end = _stacked_end_mm(train)
        yield Piece(SECOND, at, max(end, at + SHORTEST_MM))
        at = end
    behind = list(_behind(train))
    end = train.mount_distance_mm - sum(length for _, length in behind)
    end = max(end, at + SHORTEST_MM) if train.barrel_length_mm is None else at + train.barrel_length_mm
    yield Piece(LENS, at, end)
    for what, length in behind:
        yield Piece(what, end, end + length)
        end += length


def _stacked_end_mm(train: LensTrain) -> float:
    """Where the lens's own front stands, with a second lens before it."""
    lens = next(element for element in train.chain.elements if element.name == MAIN)
    return train.working_distance_mm + lens.place_mm - train.planes.front_mm


def _behind(train: LensTrain) -> Iterator[tuple[str, float]]:
    """What stands between lens and camera, from the lens on, with its length."""
    tubes = [(TUBE, tube) for tube in train.extension_tubes_mm if tube > 0]
    if train.teleconverter == 1.0:
        yield from tubes
        return
    converter = (TELECONVERTER, teleconverter_length_mm(train))
    yield from [converter, *tubes] if train.teleconverter_on == "lens" else [*tubes, converter]
