"""Kernels fetched from the disk, and tuples handed to them by their place in memory."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest

from lightsim.tracer.kernels.jit import entry_point, from_python, jit, threaded


@jit
def _halved(x):
    return 0.5 * x


def _fill(values, x):
    """Makes an array, calls another kernel, and writes."""
    more = np.full(3, x)
    for i in range(values.shape[0]):
        values[i] += _halved(more[i % 3])


def test_a_kernel_is_fetched_and_not_compiled_a_second_time():
    first, again = np.zeros(5), np.zeros(5)
    entry_point(_fill)(first, 8.0)
    fetched = entry_point(_fill)
    fetched(again, 8.0)
    assert sum(fetched.dispatcher.stats.cache_hits.values()) == 1
    assert not fetched.dispatcher.stats.cache_misses
    assert (again == first).all()
    assert (first == 4.0).all()


def test_a_kernel_for_other_types_is_compiled_after_one_was_fetched():
    entry_point(_fill)(np.zeros(2), 2.0)
    fetched = entry_point(_fill)
    fetched(np.zeros(2), 2.0)
    few = np.zeros(2, dtype=np.float32)
    fetched(few, 2.0)
    assert few.tolist() == [1.0, 1.0]


def test_kernels_can_be_compiled_after_one_was_fetched():
    entry_point(_fill)(np.zeros(2), 2.0)
    entry_point(_fill)(np.zeros(2), 2.0)
    assert from_python(_halved)(3.0) == 1.5

    @threaded
    def doubled(begin, end, values):
        for i in range(begin, end):
            values[i] *= 2.0

    values = np.ones(100)
    doubled(100, values)
    assert (values == 2.0).all()


class Things(NamedTuple):
    many: int
    table: np.ndarray
    share: float
    flags: np.ndarray


@threaded
def _add_things(begin, end, things, total):
    for i in range(begin, end):
        total[i] = things.many
        for j in range(things.table.shape[1]):
            total[i] += things.share * things.table[i, j] * things.flags[j]


@pytest.mark.parametrize("many", [3, np.int32(3), True])
@pytest.mark.parametrize("share", [0.5, np.float32(0.5), np.float64(0.5)])
def test_a_tuple_is_read_from_its_place_in_memory(many, share):
    table = np.arange(40.0, dtype=np.float32).reshape(4, 10)
    flags = np.array([1, 0, 2, 1, 0], dtype=np.uint8)
    for view in (table[:, :5], table[:, ::2], np.asfortranarray(table[:, 5:])):
        total = np.zeros(4)
        _add_things(4, Things(many, view, share, flags), total)
        assert total == pytest.approx(int(many) + 0.5 * (view @ flags))
