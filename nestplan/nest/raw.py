"""Numbers read from and written to plain addresses inside compiled loops.

Handing arrays from one compiled function to the next costs a reference count up and down
for each array and call, several times what the search itself costs. An address costs
nothing. Who owns the arrays must keep them alive.
"""

# mypy: disable-error-code="misc, no-untyped-def, no-untyped-call, type-arg"
# (numba ships no types, and its intrinsics are typed by their signatures)

from typing import Any

from llvmlite import ir
from numba import extending, njit, types

intrinsic: Any = extending.intrinsic
compiled: Any = njit(cache=True, nogil=True, error_model="numpy")


def _place(builder, kind, args):
    """The memory cell number args[1] behind address args[0]."""
    start = builder.inttoptr(args[0], kind.as_pointer())
    return builder.gep(start, [args[1]])


@intrinsic
def f8(typing, address, index):
    """float64 number `index` behind an address."""

    def generate(context, builder, signature, args):
        return builder.load(_place(builder, ir.DoubleType(), args))

    return types.float64(types.int64, types.int64), generate


@intrinsic
def set_f8(typing, address, index, value):
    """Write a float64."""

    def generate(context, builder, signature, args):
        builder.store(args[2], _place(builder, ir.DoubleType(), args))
        return context.get_dummy_value()

    return types.void(types.int64, types.int64, types.float64), generate


@intrinsic
def i8(typing, address, index):
    """int64 number `index` behind an address."""

    def generate(context, builder, signature, args):
        return builder.load(_place(builder, ir.IntType(64), args))

    return types.int64(types.int64, types.int64), generate


@intrinsic
def set_i8(typing, address, index, value):
    """Write an int64."""

    def generate(context, builder, signature, args):
        builder.store(args[2], _place(builder, ir.IntType(64), args))
        return context.get_dummy_value()

    return types.void(types.int64, types.int64, types.int64), generate


@intrinsic
def i4(typing, address, index):
    """int32 number `index` behind an address."""

    def generate(context, builder, signature, args):
        value = builder.load(_place(builder, ir.IntType(32), args))
        return builder.sext(value, ir.IntType(64))

    return types.int64(types.int64, types.int64), generate


@intrinsic
def u4(typing, address, index):
    """uint32 number `index` behind an address."""

    def generate(context, builder, signature, args):
        value = builder.load(_place(builder, ir.IntType(32), args))
        return builder.zext(value, ir.IntType(64))

    return types.int64(types.int64, types.int64), generate


@intrinsic
def u2(typing, address, index):
    """uint16 number `index` behind an address."""

    def generate(context, builder, signature, args):
        value = builder.load(_place(builder, ir.IntType(16), args))
        return builder.zext(value, ir.IntType(64))

    return types.int64(types.int64, types.int64), generate


@intrinsic
def set_i4(typing, address, index, value):
    """Write an int32; the value must fit."""

    def generate(context, builder, signature, args):
        value = builder.trunc(args[2], ir.IntType(32))
        builder.store(value, _place(builder, ir.IntType(32), args))
        return context.get_dummy_value()

    return types.void(types.int64, types.int64, types.int64), generate


@intrinsic
def f4(typing, address, index):
    """float32 number `index` behind an address."""

    def generate(context, builder, signature, args):
        value = builder.load(_place(builder, ir.FloatType(), args))
        return builder.fpext(value, ir.DoubleType())

    return types.float64(types.int64, types.int64), generate


@intrinsic
def set_f4(typing, address, index, value):
    """Write a float32."""

    def generate(context, builder, signature, args):
        value = builder.fptrunc(args[2], ir.FloatType())
        builder.store(value, _place(builder, ir.FloatType(), args))
        return context.get_dummy_value()

    return types.void(types.int64, types.int64, types.float64), generate
