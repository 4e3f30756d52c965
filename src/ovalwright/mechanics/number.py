"""The numbers the kernel computes with: plain floats, or floats that carry exact derivatives.

The physics is written once, for any number. Given floats it returns the residual; given `Dual` numbers it
returns the residual and its derivatives by forward-mode differentiation (Griewank & Walther, *Evaluating
Derivatives*, 2nd ed., ch. 3, from memory). A `Dual` exists only in compiled code, as one LLVM vector
beside its value: eight derivatives for a block of the car, two inside a linkage, widened where they meet.
With `NUMBA_DISABLE_JIT=1` the same functions take complex numbers, which gives the complex-step derivative
that arbitrates.
"""

from __future__ import annotations

import math
import operator
from collections.abc import Callable
from typing import Any

import numpy as np
from llvmlite import ir
from numba.core import cgutils, types
from numba.core.datamodel import PrimitiveModel, StructModel
from numba.extending import intrinsic, overload, register_model

WIDE, NARROW = 8, 2
"""Derivatives a number carries: of a whole block's unknowns, or of a linkage's own two."""
Number = Any
"""A float, a Dual (compiled) or a complex (interpreted)."""
FLAGS = ("contract", "nsz")
"""Multiply and add may fuse, and the sign of a zero derivative does not matter."""


class LanesType(types.Type):
    """Derivatives side by side, one machine vector."""

    def __init__(self, width: int) -> None:
        self.width = width
        super().__init__(name=f"Lanes{width}")


class DualType(types.Type):
    """A value with `width` derivatives."""

    def __init__(self, width: int) -> None:
        self.width = width
        super().__init__(name=f"Dual{width}")


DUALS = {width: DualType(width) for width in (WIDE, NARROW)}


def _vector(width: int) -> Any:
    return ir.VectorType(ir.DoubleType(), width)


@register_model(LanesType)
class _LanesModel(PrimitiveModel):
    def __init__(self, dmm: Any, fe_type: Any) -> None:
        super().__init__(dmm, fe_type, _vector(fe_type.width))


@register_model(DualType)
class _DualModel(StructModel):
    def __init__(self, dmm: Any, fe_type: Any) -> None:
        super().__init__(dmm, fe_type, [("value", types.float64), ("lanes", LanesType(fe_type.width))])


def _splat(builder: Any, scalar: Any, width: int) -> Any:
    """A vector that holds one scalar in every lane."""
    nothing = ir.Constant(_vector(width), ir.Undefined)
    one = builder.insert_element(nothing, scalar, ir.Constant(ir.IntType(32), 0))
    mask = ir.Constant(ir.VectorType(ir.IntType(32), width), [0] * width)
    return builder.shuffle_vector(one, nothing, mask)


def _new(context: Any, builder: Any, kind: DualType, value: Any, lanes: Any) -> Any:
    dual = cgutils.create_struct_proxy(kind)(context, builder)
    dual.value, dual.lanes = value, lanes
    return dual._getvalue()


def _open(context: Any, builder: Any, kind: DualType, dual: Any) -> Any:
    return cgutils.create_struct_proxy(kind)(context, builder, value=dual)


@intrinsic
def _seed(typing: Any, x: Any, lane: Any) -> Any:
    """A wide Dual with the value x and the derivative 1 in one lane."""
    return DUALS[WIDE](types.float64, types.int64), _build_seed


@intrinsic
def _seed_narrow(typing: Any, x: Any, lane: Any) -> Any:
    """A narrow Dual with the value x and the derivative 1 in one lane."""
    return DUALS[NARROW](types.float64, types.int64), _build_seed


def _build_seed(context: Any, builder: Any, sig: Any, args: Any) -> Any:
    kind = sig.return_type
    one = ir.Constant(ir.DoubleType(), 1.0)
    zero = ir.Constant(_vector(kind.width), [0.0] * kind.width)
    index = builder.trunc(args[1], ir.IntType(32))
    return _new(context, builder, kind, args[0], builder.insert_element(zero, one, index))


@intrinsic
def _constant(typing: Any, x: Any, like: Any) -> Any:
    """A Dual of the kind of `like` with the value x and no derivatives."""

    def build(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        zero = ir.Constant(_vector(like.width), [0.0] * like.width)
        return _new(context, builder, like, args[0], zero)

    return like(types.float64, like), build


@intrinsic
def _widen(typing: Any, x: Any) -> Any:
    """A narrow Dual as a wide one: its lanes come first."""

    def build(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        inner = _open(context, builder, x, args[0])
        zero = ir.Constant(_vector(NARROW), [0.0] * NARROW)
        places = [0, 1] + [NARROW] * (WIDE - NARROW)
        mask = ir.Constant(ir.VectorType(ir.IntType(32), WIDE), places)
        return _new(
            context, builder, DUALS[WIDE], inner.value, builder.shuffle_vector(inner.lanes, zero, mask)
        )

    return DUALS[WIDE](x), build


@intrinsic
def _chain(typing: Any, x: Any, f: Any, df: Any) -> Any:
    """f(x) with the derivatives of x times df."""

    def build(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        inner = _open(context, builder, x, args[0])
        lanes = builder.fmul(_splat(builder, args[2], x.width), inner.lanes, flags=FLAGS)
        return _new(context, builder, x, args[1], lanes)

    return x(x, types.float64, types.float64), build


@intrinsic
def _combine(typing: Any, a: Any, b: Any, f: Any, fa: Any, fb: Any) -> Any:
    """f(a, b) with the derivatives fa * a' + fb * b'; a and b of one width."""

    def build(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        left, right = _open(context, builder, a, args[0]), _open(context, builder, b, args[1])
        lanes = builder.fadd(
            builder.fmul(_splat(builder, args[3], a.width), left.lanes, flags=FLAGS),
            builder.fmul(_splat(builder, args[4], a.width), right.lanes, flags=FLAGS),
            flags=FLAGS,
        )
        return _new(context, builder, a, args[2], lanes)

    return a(a, b, types.float64, types.float64, types.float64), build


@intrinsic
def _value(typing: Any, x: Any) -> Any:
    def build(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        return _open(context, builder, x, args[0]).value

    return types.float64(x), build


@intrinsic
def _partial(typing: Any, x: Any, lane: Any) -> Any:
    def build(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        index = builder.trunc(args[1], ir.IntType(32))
        return builder.extract_element(_open(context, builder, x, args[0]).lanes, index)

    return types.float64(x, types.int64), build


def value(x: Number) -> float:
    """The plain value of any number, for decisions (which side of a contact we are on)."""
    return float(x.real)


@overload(value, strict=False)
def _value_of(x: Any) -> Callable[..., Any]:
    if isinstance(x, DualType):
        return lambda x: _value(x)
    return lambda x: float(x)


def seed(x: float, lane: int) -> Number:
    """The variable x, differentiated in one lane. Compiled code only."""
    raise RuntimeError("seeds exist only in compiled code; interpreted code takes complex numbers")


@overload(seed, strict=False)
def _seed_of(x: Any, lane: Any) -> Callable[..., Any]:
    return lambda x, lane: _seed(x, lane)


def seed_narrow(x: float, lane: int) -> Number:
    """The variable x of a linkage, differentiated in one of its two lanes. Compiled code only."""
    raise RuntimeError("seeds exist only in compiled code; interpreted code takes complex numbers")


@overload(seed_narrow, strict=False)
def _seed_narrow_of(x: Any, lane: Any) -> Callable[..., Any]:
    return lambda x, lane: _seed_narrow(x, lane)


def partial(x: Number, lane: int) -> float:
    """The derivative of x in one lane. Compiled code only."""
    raise RuntimeError("derivatives exist only in compiled code; interpreted code takes complex numbers")


@overload(partial, strict=False)
def _partial_of(x: Any, lane: Any) -> Callable[..., Any]:
    return lambda x, lane: _partial(x, lane)


def _unary(
    function: Callable[..., Any],
    of_float: Callable[..., Any],
    of_dual: Callable[..., Any],
) -> None:
    @overload(function, strict=False)
    def choose(x: Any) -> Callable[..., Any]:
        return of_dual if isinstance(x, DualType) else of_float


def alike(x: Number, other: Number) -> Number:
    """x as the same kind of number as another."""
    return x


@overload(alike, strict=False)
def _alike(x: Any, other: Any) -> Callable[..., Any]:
    if isinstance(other, DualType) and not isinstance(x, DualType):
        return lambda x, other: _constant(float(x), other)
    if isinstance(other, DualType) and other.width > x.width:
        return lambda x, other: _widen(x)
    return lambda x, other: x


def sin(x: Number) -> Number:
    """Sine of any number in rad."""
    return np.sin(x)


def cos(x: Number) -> Number:
    """Cosine of any number in rad."""
    return np.cos(x)


def atan(x: Number) -> Number:
    """Inverse tangent in rad."""
    return np.arctan(x)


def asin(x: Number) -> Number:
    """Inverse sine in rad."""
    return np.arcsin(x)


def sqrt(x: Number) -> Number:
    """Square root; NaN below zero, which the solvers read as 'links cannot close here'."""
    return np.sqrt(x)


def power(x: Number, n: float) -> Number:
    """x to a constant power, x > 0."""
    return x**n


_unary(
    sin,
    lambda x: math.sin(x),
    lambda x: _chain(x, math.sin(_value(x)), math.cos(_value(x))),
)
_unary(
    cos,
    lambda x: math.cos(x),
    lambda x: _chain(x, math.cos(_value(x)), -math.sin(_value(x))),
)
_unary(
    atan,
    lambda x: math.atan(x),
    lambda x: _chain(x, math.atan(_value(x)), 1.0 / (1.0 + _value(x) * _value(x))),
)
_unary(
    asin,
    lambda x: math.asin(x),
    lambda x: _chain(x, math.asin(_value(x)), 1.0 / math.sqrt(1.0 - _value(x) * _value(x))),
)
_unary(
    sqrt,
    lambda x: math.sqrt(x),
    lambda x: _chain(x, math.sqrt(_value(x)), 0.5 / math.sqrt(_value(x))),
)


@overload(power, strict=False)
def _power(x: Any, n: Any) -> Callable[..., Any]:
    if isinstance(x, DualType):
        return lambda x, n: _chain(x, _value(x) ** n, n * _value(x) ** (n - 1.0))
    return lambda x, n: x**n


def _binary(
    op: Callable[..., Any],
    both: Callable[..., Any],
    dual_float: Callable[..., Any],
    float_dual: Callable[..., Any],
    widened_left: Callable[..., Any],
    widened_right: Callable[..., Any],
) -> None:
    @overload(op, strict=False)
    def choose(a: Any, b: Any) -> Callable[..., Any] | None:
        if isinstance(a, DualType) and isinstance(b, DualType):
            if a.width == b.width:
                return both
            return widened_left if a.width < b.width else widened_right
        if isinstance(a, DualType) and isinstance(b, types.Number):
            return dual_float
        if isinstance(b, DualType) and isinstance(a, types.Number):
            return float_dual
        return None


_binary(
    operator.add,
    lambda a, b: _combine(a, b, _value(a) + _value(b), 1.0, 1.0),
    lambda a, b: _chain(a, _value(a) + b, 1.0),
    lambda a, b: _chain(b, a + _value(b), 1.0),
    lambda a, b: _widen(a) + b,
    lambda a, b: a + _widen(b),
)
_binary(
    operator.sub,
    lambda a, b: _combine(a, b, _value(a) - _value(b), 1.0, -1.0),
    lambda a, b: _chain(a, _value(a) - b, 1.0),
    lambda a, b: _chain(b, a - _value(b), -1.0),
    lambda a, b: _widen(a) - b,
    lambda a, b: a - _widen(b),
)
_binary(
    operator.mul,
    lambda a, b: _combine(a, b, _value(a) * _value(b), _value(b), _value(a)),
    lambda a, b: _chain(a, _value(a) * b, float(b)),
    lambda a, b: _chain(b, a * _value(b), float(a)),
    lambda a, b: _widen(a) * b,
    lambda a, b: a * _widen(b),
)
_binary(
    operator.truediv,
    lambda a, b: _combine(
        a,
        b,
        _value(a) / _value(b),
        1.0 / _value(b),
        -_value(a) / (_value(b) * _value(b)),
    ),
    lambda a, b: _chain(a, _value(a) / b, 1.0 / b),
    lambda a, b: _chain(b, a / _value(b), -a / (_value(b) * _value(b))),
    lambda a, b: _widen(a) / b,
    lambda a, b: a / _widen(b),
)


@overload(operator.neg, strict=False)
def _neg(x: Any) -> Callable[..., Any] | None:
    return (lambda x: _chain(x, -_value(x), -1.0)) if isinstance(x, DualType) else None
