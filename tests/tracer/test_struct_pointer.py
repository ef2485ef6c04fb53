"""Tuples handed to kernels by their place in memory: what is kept from one call to the next."""

from __future__ import annotations

import gc
from typing import NamedTuple
from weakref import ref

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels.struct_pointer import holding


class Numbered(NamedTuple):
    """Numbers and a number."""

    numbers: NDArray[np.float64]
    one: float


def test_the_same_tuple_is_laid_out_once():
    held = Numbered(np.zeros(4), 2.0)
    assert holding(held) is holding(held)


def test_each_tuple_is_read_from_its_own_arrays():
    """A tuple may take the place in memory of one that is gone."""
    for size in range(1, 300):
        held = Numbered(np.zeros(size), 0.5 * size)
        words = holding(held).words
        assert words[2] == size
        assert words[4] == held.numbers.ctypes.data
        assert words[-1:].view(np.float64)[0] == 0.5 * size
        del held


def test_no_array_is_kept_alive():
    numbers = np.zeros(1000)
    gone = ref(numbers)
    held = Numbered(numbers, 1.0)
    holding(held)
    del held, numbers
    gc.collect()
    assert gone() is None
