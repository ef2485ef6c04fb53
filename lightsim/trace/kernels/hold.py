"""Named tuples of arrays handed from kernel to kernel by their place in memory.

The compiler hands over each array of a tuple as nine numbers or more, so one call with petal, drops and paths
copies hundreds, which takes longer than much of what the kernels do. A held tuple is one pointer; its fields
are read where they are used.
"""

from __future__ import annotations

from typing import Any

from numba.core import cgutils, types
from numba.core.datamodel import models
from numba.core.datamodel.registry import register_default
from numba.core.imputils import impl_ret_borrowed, lower_getattr_generic
from numba.core.typing.templates import AttributeTemplate, infer_getattr
from numba.extending import intrinsic


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
        return inner.types[inner.fields.index(attr)] if attr in inner.fields else None


@lower_getattr_generic(Held)
def _field(context: Any, builder: Any, held_type: Any, place: Any, field: str) -> Any:
    at = held_type.inner.fields.index(field)
    value = builder.load(cgutils.gep_inbounds(builder, place, 0, at))
    return impl_ret_borrowed(context, builder, held_type.inner.types[at], value)


def _held(_typing: Any, value: Any) -> Any:
    """A named tuple kept in memory for as long as the calling kernel runs; anything else as it is.

    Its arrays must be kept alive by something else: those that Python hands over are, those that a kernel
    makes are not.
    """
    if not isinstance(value, types.BaseNamedTuple):
        return value(value), lambda context, builder, signature, args: impl_ret_borrowed(
            context, builder, value, args[0]
        )

    def emit(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        return cgutils.alloca_once_value(builder, args[0])

    return Held(value)(value), emit


held: Any = intrinsic(_held)
