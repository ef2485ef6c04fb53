"""Eight boxes or four triangles against one ray at once, in the processor's vector registers.

The compiler does not make vectors of so short a loop by itself, so the instructions are spelled here, in its
own intermediate language; it fits them to whatever registers there are.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from llvmlite import ir
from numba import types
from numba.extending import intrinsic

LANES, TRIANGLES = 8, 4
SLACK = 2e-5  # mm; boxes that a fan passes so close by count as met, for singles are rounded
EDGE = -1e-7  # a triangle's edges count in, so that no ray slips between two
VECTOR = types.UniTuple(types.float64, 3)


class _Types(NamedTuple):
    """The compiler's types: of whole numbers, of all boxes' singles, of all triangles' doubles."""

    long: ir.Type = ir.IntType(64)
    word: ir.Type = ir.IntType(32)
    singles: ir.Type = ir.VectorType(ir.FloatType(), LANES)
    doubles: ir.Type = ir.VectorType(ir.DoubleType(), TRIANGLES)


_TYPE = _Types()


def _all(builder: Any, scalar: Any, lanes: int) -> Any:
    """A vector with the same number in each lane."""
    kind = ir.VectorType(scalar.type, lanes)
    none = ir.Constant(kind, ir.Undefined)
    one = builder.insert_element(none, scalar, ir.Constant(_TYPE.word, 0))
    return builder.shuffle_vector(one, none, ir.Constant(ir.VectorType(_TYPE.word, lanes), [0] * lanes))


def _constant(value: float) -> Any:
    return ir.Constant(_TYPE.doubles, [value] * TRIANGLES)


def _load(builder: Any, start: Any, at: Any, lanes: int) -> Any:
    """So many singles from the `at`-th after a pointer on."""
    place = builder.gep(start, [at])
    got = builder.load(builder.bitcast(place, ir.VectorType(ir.FloatType(), lanes).as_pointer()))
    got.align = 4
    return got


def _bits(builder: Any, mask: Any) -> Any:
    return builder.zext(builder.bitcast(mask, ir.IntType(mask.type.count)), _TYPE.long)


def _vector(builder: Any, packed: Any, lanes: int, single: bool) -> list[Any]:
    """A vector's three numbers, each in all lanes; single: rounded to singles."""
    parts = [builder.extract_value(packed, k) for k in range(3)]
    if single:
        parts = [builder.fptrunc(part, ir.FloatType()) for part in parts]
    return [_all(builder, part, lanes) for part in parts]


def _boxes_met(_typing: Any, box: Any, node: Any, o: Any, inverse: Any, far: Any):
    """Bits of those of a wide node's eight boxes that a ray meets before `far`.

    box (m, 6, 8) float32: low x y z, high x y z; o: the ray's origin; inverse: one over its direction.
    """

    def emit(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        array = context.make_array(signature.args[0])(context, builder, args[0])
        origin, inverse = (_vector(builder, packed, LANES, True) for packed in args[2:4])
        far = _all(builder, builder.fptrunc(args[4], ir.FloatType()), LANES)
        start = builder.gep(array.data, [builder.mul(args[1], ir.Constant(_TYPE.long, 6 * LANES))])

        def least(a: Any, b: Any) -> Any:
            return builder.select(builder.fcmp_ordered("<", a, b), a, b)

        def most(a: Any, b: Any) -> Any:
            return builder.select(builder.fcmp_ordered(">", a, b), a, b)

        near = ir.Constant(_TYPE.singles, [0.0] * LANES)
        for axis in range(3):
            ends = []
            for side in (axis, axis + 3):
                border = _load(builder, start, ir.Constant(_TYPE.long, LANES * side), LANES)
                ends.append(builder.fmul(builder.fsub(border, origin[axis]), inverse[axis]))
            near, far = most(least(*ends), near), least(most(*ends), far)
        return _bits(builder, builder.fcmp_ordered("<=", near, far))

    return types.int64(box, types.int64, VECTOR, VECTOR, types.float64), emit


def _triangles_met(_typing: Any, lanes: Any, first: Any, many: Any, o: Any, d: Any, span: Any):
    """Bits of those of `many` (at most TRIANGLES) triangles from `first`, a multiple of TRIANGLES, on that a
    ray from o along d meets between the two distances of its span.

    lanes (n, 9, TRIANGLES) float32: corner, first edge, second edge, x y z, of so many triangles at a time.
    Moeller and Trumbore, J. Graphics Tools 2 (1997) 21.
    """

    def emit(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        array = context.make_array(signature.args[0])(context, builder, args[0])
        start = builder.gep(array.data, [builder.mul(args[1], ir.Constant(_TYPE.long, 9))])
        o, d = (_vector(builder, packed, TRIANGLES, False) for packed in args[3:5])
        near, far = (_all(builder, builder.extract_value(args[5], k), TRIANGLES) for k in range(2))
        rows = []
        for k in range(9):
            got = _load(builder, start, ir.Constant(_TYPE.long, k * TRIANGLES), TRIANGLES)
            rows.append(builder.fpext(got, _TYPE.doubles))
        corner, e1, e2 = rows[:3], rows[3:6], rows[6:]

        def mul(a: Any, b: Any) -> Any:
            return builder.fmul(a, b, flags=("contract",))

        def sub(a: Any, b: Any) -> Any:
            return builder.fsub(a, b, flags=("contract",))

        def add(a: Any, b: Any) -> Any:
            return builder.fadd(a, b, flags=("contract",))

        def cross(a: Any, b: Any) -> list[Any]:
            return [sub(mul(a[i], b[j]), mul(a[j], b[i])) for i, j in ((1, 2), (2, 0), (0, 1))]

        def dot(a: Any, b: Any) -> Any:
            return add(add(mul(a[0], b[0]), mul(a[1], b[1])), mul(a[2], b[2]))

        p = cross(d, e2)
        inverse = builder.fdiv(_constant(1.0), dot(e1, p))
        s = [sub(o[k], corner[k]) for k in range(3)]
        u = mul(dot(s, p), inverse)
        q = cross(s, e1)
        v, t = mul(dot(d, q), inverse), mul(dot(e2, q), inverse)
        low, high = _constant(EDGE), _constant(1.0 - EDGE)
        met = ir.Constant(ir.VectorType(ir.IntType(1), TRIANGLES), [1] * TRIANGLES)
        for a, sign, b in (
            (u, ">=", low), (v, ">=", low), (add(u, v), "<=", high),
            (t, ">", near), (t, "<", far),
        ):  # fmt: skip
            met = builder.and_(met, builder.fcmp_ordered(sign, a, b))
        one = ir.Constant(_TYPE.long, 1)
        there = builder.sub(builder.shl(one, args[2]), one)
        return builder.and_(_bits(builder, met), there)

    span = types.UniTuple(types.float64, 2)
    return types.int64(lanes, types.int64, types.int64, VECTOR, VECTOR, span), emit


def _fan_boxes_met(_typing: Any, box: Any, node: Any, o: Any, aside: Any, low: Any, high: Any):
    """Bits of those of a wide node's eight boxes through which the plane aside.x = 0 goes and parts of which
    have low.x > 0 and high.x < 0, with x from o; a little more than those.

    box : as for `boxes_met`; the others vectors.
    """

    def emit(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        array = context.make_array(signature.args[0])(context, builder, args[0])
        start = builder.gep(array.data, [builder.mul(args[1], ir.Constant(_TYPE.long, 6 * LANES))])

        origin, ends = _vector(builder, args[2], LANES, True), []
        for k in range(6):
            border = _load(builder, start, ir.Constant(_TYPE.long, LANES * k), LANES)
            ends.append(builder.fsub(border, origin[k % 3]))

        def reaches(packed: Any, sign: str, slack: float) -> Any:
            total = None
            for axis, gradient in enumerate(_vector(builder, packed, LANES, True)):
                a, b = (builder.fmul(gradient, ends[k]) for k in (axis, axis + 3))
                one = builder.select(builder.fcmp_ordered(sign, a, b), a, b)
                total = one if total is None else builder.fadd(total, one)
            return builder.fcmp_ordered(sign, total, ir.Constant(_TYPE.singles, [slack] * LANES))

        across = builder.and_(reaches(args[3], ">", -SLACK), reaches(args[3], "<", SLACK))
        between = builder.and_(reaches(args[4], ">", -SLACK), reaches(args[5], "<", SLACK))
        return _bits(builder, builder.and_(across, between))

    return types.int64(box, types.int64, VECTOR, VECTOR, VECTOR, VECTOR), emit


def _fan_triangles_met(
    _typing: Any, lanes: Any, first: Any, many: Any, o: Any, aside: Any, low: Any, high: Any
):
    """As `fan_boxes_met`, of `many` triangles from `first` on. lanes, first, many: as for `triangles_met`."""

    def emit(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        array = context.make_array(signature.args[0])(context, builder, args[0])
        start = builder.gep(array.data, [builder.mul(args[1], ir.Constant(_TYPE.long, 9))])
        rows = []
        for k in range(9):
            got = _load(builder, start, ir.Constant(_TYPE.long, k * TRIANGLES), TRIANGLES)
            rows.append(builder.fpext(got, _TYPE.doubles))

        def dot(a: list[Any], b: list[Any]) -> Any:
            total = builder.fmul(a[0], b[0])
            for k in (1, 2):
                total = builder.fadd(
                    total, builder.fmul(a[k], b[k], flags=("contract",)), flags=("contract",)
                )
            return total

        corner = [
            builder.fsub(rows[k], one) for k, one in enumerate(_vector(builder, args[3], TRIANGLES, False))
        ]

        def reaches(packed: Any, sign: str) -> Any:
            gradient = _vector(builder, packed, TRIANGLES, False)
            begin, *others = (dot(gradient, v) for v in (corner, rows[3:6], rows[6:9]))
            most = begin
            for edge in others:
                other = builder.fadd(begin, edge)
                most = builder.select(builder.fcmp_ordered(sign, other, most), other, most)
            return builder.fcmp_ordered(sign + "=", most, _constant(0.0))

        across = builder.and_(reaches(args[4], ">"), reaches(args[4], "<"))
        one = ir.Constant(_TYPE.long, 1)
        there = builder.sub(builder.shl(one, args[2]), one)
        between = builder.and_(reaches(args[5], ">"), reaches(args[6], "<"))
        return builder.and_(_bits(builder, builder.and_(across, between)), there)

    return types.int64(lanes, types.int64, types.int64, VECTOR, VECTOR, VECTOR, VECTOR), emit


def _lowest(_typing: Any, bits: Any):
    """The number of the lowest bit that is set, of one or more."""

    def emit(_context: Any, builder: Any, _signature: Any, args: Any) -> Any:
        return builder.cttz(args[0], ir.Constant(ir.IntType(1), 1))

    return types.int64(types.int64), emit


# What kernels call takes the arguments after the first.
boxes_met: Any = intrinsic(_boxes_met)
triangles_met: Any = intrinsic(_triangles_met)
fan_boxes_met: Any = intrinsic(_fan_boxes_met)
fan_triangles_met: Any = intrinsic(_fan_triangles_met)
lowest: Any = intrinsic(_lowest)
