"""Compiling kernels: numba, with the result kept on disk, behind a type checker's eyes.

The three operations that Python does not have are instructions of the machine.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numba
from numba import types
from numba.core import cgutils
from numba.extending import intrinsic

F = TypeVar("F", bound=Callable[..., Any])


def _njit(function: F, *, forceinline: bool) -> F:
    """Without counting references to arrays, which would cost more than the rest: kernels make no arrays."""
    njit: Any = numba.njit
    made: F = njit(cache=True, nogil=True, _nrt=False, forceinline=forceinline)(function)
    return made


def compiled(function: F) -> F:
    """The function, compiled on first use for the types it is given; kept on disk for the next process."""
    return _njit(function, forceinline=False)


def part(function: F) -> F:
    """A part of kernels, put into each place that uses it: a call costs more than what it does."""
    return _njit(function, forceinline=True)


def _lowest(context: Any, word: Any) -> Any:
    def build(target: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return builder.cttz(arguments[0], target.get_constant(types.boolean, True))

    return types.uint64(types.uint64), build


def _count(context: Any, word: Any) -> Any:
    def build(target: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return builder.ctpop(arguments[0])

    return types.uint64(types.uint64), build


def _fetch(context: Any, array: Any, line: Any) -> Any:
    def build(target: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        ir: Any = vars(cgutils)["ir"]
        made = target.make_array(signature.args[0])(target, builder, arguments[0])
        begin = builder.mul(arguments[1], builder.extract_value(made.strides, 0))
        bytes_of = builder.bitcast(made.data, cgutils.voidptr_t)
        place = builder.gep(bytes_of, [begin])
        number = cgutils.int32_t
        prefetch = ir.FunctionType(ir.VoidType(), [cgutils.voidptr_t, number, number, number])
        insert: Any = vars(cgutils)["get_or_insert_function"]
        function = insert(builder.module, prefetch, "llvm.prefetch.p0")
        builder.call(function, [place, number(1), number(3), number(1)])
        return target.get_dummy_value()

    return types.void(array, types.int64), build


lowest: Any = intrinsic(_lowest)
"""The number of the lowest bit of a word that is not zero."""

count: Any = intrinsic(_count)
"""How many bits of a word are set."""

fetch: Any = intrinsic(_fetch)
"""Asks the memory for a line of an array of two dimensions, and does not wait for it."""
