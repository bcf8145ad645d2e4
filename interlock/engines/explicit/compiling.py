"""Compiling kernels: numba, with the result kept on disk, behind a type checker's eyes.

The three operations that Python does not have are instructions of the machine.
"""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any, TypeVar

import numba
from numba import types
from numba.core import cgutils
from numba.core.caching import NullCache
from numba.extending import intrinsic

from interlock.engines.notices import NOTICES

SOURCES = (
    "explicit/arrays.py",
    "explicit/compiling.py",
    "explicit/parts.py",
    "explicit/kernels.py",
    "explicit/looking.py",
    "explicit/graphs.py",
    "timed/kernels_graph.py",
    "timed/kernels_zones.py",
    "ways/kernels_whatever.py",
)
"""The files that compiled kernels are made from, beside each other's folders."""

F = TypeVar("F", bound=Callable[..., Any])


def _njit(function: F, *, forceinline: bool) -> F:
    """Without counting references to arrays, which would cost more than the rest: kernels make no arrays."""
    njit: Any = numba.njit
    made: Any = njit(nogil=True, _nrt=False, forceinline=forceinline)(function)
    _keep(made)
    kept: F = made
    return kept


def digest() -> str:
    """What all files say that kernels are made from."""
    here = Path(__file__).parent.parent
    return sha256(b"".join((here / name).read_bytes() for name in SOURCES)).hexdigest()


def _keep(made: Any) -> None:
    """Keeps the compiled function on disk, by what all `SOURCES` say.

    By itself numba looks only at the file in which a function stands, and would go on using a kernel after a part of it
    in another file has changed. Where its inner works have changed so that this cannot be told it, nothing is kept.
    """
    made.enable_caching()
    file: Any = getattr(getattr(made, "_cache", None), "_cache_file", None)
    if hasattr(file, "_source_stamp"):
        file._source_stamp = (file._source_stamp, _DIGEST)
        load = made._cache.load_overload

        def loaded(*given: Any) -> Any:
            found = load(*given)
            if found is None:
                NOTICES.compiling()
            return found

        made._cache.load_overload = loaded
    else:
        made._cache = NullCache()


_DIGEST = digest()


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
