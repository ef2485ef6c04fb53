"""Named tuples of arrays handed from kernel to kernel by their place in memory.

The compiler hands over each array of a tuple as nine numbers or more, so one call with petal, drops and paths
copies hundreds, which takes longer than much of what the kernels do. A held tuple is one pointer; its fields
are read where they are used.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from weakref import ref

import numba
import numpy as np
from numba.core import cgutils, types
from numba.core.datamodel import models
from numba.core.datamodel.registry import register_default
from numba.core.imputils import impl_ret_borrowed, lower_getattr_generic
from numba.core.typing.templates import AttributeTemplate, infer_getattr
from numba.extending import NativeValue, intrinsic, typeof_impl, unbox
from numpy.typing import NDArray


class Held(types.Type):
    """The type of a held tuple."""

    def __init__(self, inner: types.Type):
        self.inner = inner
        super().__init__(name=f"held({inner})")


@register_default(Held)
class _HeldModel(models.PrimitiveModel):
    def __init__(self, manager: Any, held_type: Held):
        inner = manager.lookup(held_type.inner).get_value_type()
        super().__init__(manager, held_type, inner.as_pointer())


@infer_getattr
class _HeldFields(AttributeTemplate):
    key = Held

    def generic_resolve(self, typ: Any, attr: Any) -> Any:  # type: ignore[override]
        inner = typ.inner
        if attr not in inner.fields:
            return None
        field = inner.types[inner.fields.index(attr)]
        return Held(field) if isinstance(field, types.BaseNamedTuple) else field


@lower_getattr_generic(Held)
def _field(context: Any, builder: Any, held_type: Any, place: Any, field: str) -> Any:
    at = held_type.inner.fields.index(field)
    found = cgutils.gep_inbounds(builder, place, 0, at)
    if isinstance(held_type.inner.types[at], types.BaseNamedTuple):
        return found  # a record within a record: its own place
    return impl_ret_borrowed(context, builder, held_type.inner.types[at], builder.load(found))


def _held(_typing: Any, value: Any) -> Any:
    """A named tuple kept in memory for as long as the calling kernel runs; anything else as it is.

    For a tuple that a kernel makes; its arrays must be kept alive by something else. Those that Python hands
    over come held: see `Holding`.
    """
    if not isinstance(value, types.BaseNamedTuple):
        return value(value), lambda context, builder, signature, args: impl_ret_borrowed(
            context, builder, value, args[0]
        )

    def emit(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        return cgutils.alloca_once_value(builder, args[0])

    return Held(value)(value), emit


held: Any = intrinsic(_held)


class Holding:
    """A named tuple of arrays, numbers and such tuples of Python's, laid out in memory as kernels read it.

    words: its numbers and, for each array, as many as the compiler keeps of one; numba_type: how kernels know
    it. Whoever hands it to a kernel keeps the arrays alive meanwhile.
    """

    __slots__ = ("address", "numba_type", "words")

    def __init__(self, value: tuple[Any, ...]):
        self.words = _words(value)
        self.address = self.words.ctypes.data
        self.numba_type = _type_of(value)


_kept: dict[int, tuple[type, tuple[Any, ...], Holding]] = {}
_MOST_KEPT = 256


def holding(value: tuple[Any, ...]) -> Holding:
    """The tuple held; one that was held before, all its arrays the same and still alive, is not laid out
    anew. No array is kept alive by that."""
    known = _kept.get(id(value))
    fields = list(_flat(value))
    if known is not None and known[0] is type(value) and len(known[1]) == len(fields):
        same = all(map(_is_same, known[1], fields))
        if same:
            return known[2]
    made = Holding(value)
    if len(_kept) >= _MOST_KEPT:
        _kept.clear()
    remembered = tuple(ref(one) if isinstance(one, np.ndarray) else one for one in fields)
    _kept[id(value)] = type(value), remembered, made
    return made


def _flat(value: tuple[Any, ...]) -> Iterator[Any]:
    """The fields one after another, those of a tuple within it in its place."""
    for field in value:
        if isinstance(field, tuple):
            yield from _flat(field)
        else:
            yield field


def _is_same(old: Any, new: Any) -> bool:
    if isinstance(new, np.ndarray):
        return isinstance(old, ref) and old() is new
    return type(old) is type(new) and bool(old == new)


def _words(value: tuple[Any, ...]) -> NDArray[np.int64]:
    """The fields one after another, each in words of eight bytes."""
    words: list[int] = []
    for field in _flat(value):
        if isinstance(field, np.ndarray):
            start = field.__array_interface__["data"][0]
            # owner and parent (none), items, bytes of an item, where they begin, shape, strides
            words += [0, 0, field.size, field.itemsize, start, *field.shape, *field.strides]
        elif isinstance(field, int | np.integer):
            words.append(int(field))
        else:
            words.append(int(np.float64(field).view(np.int64)))
    return np.array(words, dtype=np.int64)


_types: dict[tuple[Any, ...], Held] = {}


def _type_of(value: tuple[Any, ...]) -> Held:
    """The compiler's type of the held tuple."""
    key = _kind(value)
    if key not in _types:
        _types[key] = Held(numba.typeof(_plain(value)))
    return _types[key]


def _kind(field: Any) -> Any:
    if isinstance(field, tuple):
        return (type(field), *map(_kind, field))
    if isinstance(field, np.ndarray):
        flags = field.flags
        return field.dtype, field.ndim, flags.c_contiguous, flags.f_contiguous, flags.writeable, flags.aligned
    return isinstance(field, int | np.integer)


def _plain(field: Any) -> Any:
    """A field with its numbers as Python's, of which the compiler keeps eight bytes."""
    if isinstance(field, np.ndarray):
        return field
    if isinstance(field, tuple):
        return type(field)(*map(_plain, field))
    return int(field) if isinstance(field, int | np.integer) else float(field)


@typeof_impl.register(Holding)
def _typeof_holding(value: Holding, _: Any) -> Held:
    return value.numba_type


@unbox(Held)
def _unbox_holding(held_type: Any, value: Any, c: Any) -> NativeValue:
    address = c.pyapi.object_getattr_string(value, "address")
    place = c.pyapi.long_as_voidptr(address)
    c.pyapi.decref(address)
    return NativeValue(c.builder.bitcast(place, c.context.get_value_type(held_type)))
