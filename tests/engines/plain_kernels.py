"""The exploring kernel of the explicit engine as plain Python, so that faults can be put into it: compiling it anew for
each would take longer than everything else.
"""

from __future__ import annotations
import __future__

import inspect
from typing import Any

import numpy as np
import pytest

from interlock.engines.explicit import kernels, parts


def put_in(patch: pytest.MonkeyPatch, *changes: tuple[str, str, str]) -> None:
    """Explore by plain Python. `changes`: the name of a part, some text of it, the text to put there."""
    names: dict[str, Any] = {**vars(kernels), **vars(parts)}
    names["lowest"] = lambda word: np.uint64((int(word) & -int(word)).bit_length() - 1)
    names["count"] = lambda word: int(word).bit_count()
    names["fetch"] = lambda array, line: None
    left = list(changes)
    for name, made in [*vars(parts).items(), ("explore", kernels.explore)]:
        if not hasattr(made, "py_func"):
            continue
        text = inspect.getsource(made.py_func).split("\n", 1)[1]  # without its decorator
        for change in changes:
            if change[0] == name:
                assert change[1] in text, change
                text = text.replace(change[1], change[2])
                left.remove(change)
        code = compile(text, name, "exec", __future__.annotations.compiler_flag)
        exec(code, names)
    assert not left
    explore = names["explore"]

    def plain(*given: Any) -> Any:
        with np.errstate(over="ignore"):
            return explore(*given)

    patch.setattr(kernels, "explore", plain)
