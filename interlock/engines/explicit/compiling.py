"""Compiling kernels: numba, with the result kept on disk, behind a type checker's eyes.

The two operations on words that Python does not have are instructions of the machine.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numba
from numba import types
from numba.extending import intrinsic

F = TypeVar("F", bound=Callable[..., Any])


def compiled(function: F) -> F:
    """The function, compiled on first use for the types it is given; kept on disk for the next process."""
    made: Any = numba.njit(cache=True, nogil=True)(function)
    return made  # type: ignore[no-any-return]


def _lowest(context: Any, word: Any) -> Any:
    def build(target: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return builder.cttz(arguments[0], target.get_constant(types.boolean, True))

    return types.uint64(types.uint64), build


def _count(context: Any, word: Any) -> Any:
    def build(target: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return builder.ctpop(arguments[0])

    return types.uint64(types.uint64), build


lowest: Any = intrinsic(_lowest)
"""The number of the lowest bit of a word that is not zero."""

count: Any = intrinsic(_count)
"""How many bits of a word are set."""
