"""Files made to hurt: each ends soon, with one plain diagnostic or a bounded number of them, and never an exception."""

from __future__ import annotations

import time

import pytest

from interlock.spec import load_text
from interlock.spec.book import MAX_MISTAKES

HEAD = "format: interlock/1\n"

BOMB = "a: &a [x, x]\n" + "".join(
    f"{new}: &{new} [*{old}, *{old}]\n" for old, new in zip("abcdefgh", "bcdefghi", strict=True)
)

FAR_TOO_LONG_S = 40.0
"""A file that explodes takes minutes or all memory. This tells that apart; it measures nothing, for tracing (coverage)
slows reading down several times."""

ONE_DIAGNOSTIC: dict[str, tuple[str | bytes, str]] = {
    "aliases that double": (BOMB, "yaml-feature"),
    "lists a hundred thousand deep": ("[" * 100_000, "too-deep"),
    "mappings a hundred thousand deep": ("{a: " * 100_000, "too-deep"),
    "dashes a hundred thousand deep": ("- " * 100_000, "too-deep"),
    "question marks a hundred thousand deep": ("? " * 100_000, "too-deep"),
    "fifty megabytes": ("a: " + "x" * 50_000_000, "too-large"),
    "a text of a megabyte": ("a: " + "x" * 1_000_000, "too-large"),
    "a quotation mark never closed": ('a: "' + "x" * 1_000_000, "yaml-syntax"),
    "a hundred thousand keys": ("a: 1\n" * 150_000, "too-large"),
    "bytes that are no text": (b"\xff\xfe" * 1000, "not-unicode"),
    "a zero": ("a: \0", "strange-character"),
    "an escape of the terminal": ("a: \x1b[2J", "strange-character"),
    "half a character": ("a: \ud800", "strange-character"),
    "a merge key": ("<<: {a: b}", "yaml-feature"),
    "a tag that would make an object": ("a: !!python/object/apply:os.system [x]", "yaml-feature"),
    "a directive": ("%YAML 1.1\n---\na: b", "yaml-feature"),
    "nothing": ("", "empty-file"),
    "only a list": ("- a\n- b", "wrong-type"),
    "only a text": ("hello", "wrong-type"),
}


@pytest.mark.parametrize("name", ONE_DIAGNOSTIC)
def test_a_hostile_file_ends_at_its_first_breach(name: str) -> None:
    source, kind = ONE_DIAGNOSTIC[name]
    start = time.process_time()
    spec, bag, _ = load_text(source, "hostile.yaml")
    assert time.process_time() - start < FAR_TOO_LONG_S / 2
    assert spec is None
    assert [one.kind for one in bag.sorted()] == [kind]


def _numbered(text: str, n: int) -> str:
    return "".join(text.replace("#", str(i)) for i in range(n))


BUILT: dict[str, str] = {
    "not a thousand times": HEAD + "rules: {R1: {never: " + "not " * 1000 + "x}}",
    "brackets a thousand deep": HEAD + "rules: {R1: {never: " + "(" * 1000 + "x" + ")" * 1000 + "}}",
    "a chain of a thousand conditions": HEAD + "conditions:\n  c0: true\n"
    + "".join(f"  c{i}: c{i - 1} and c{i - 1}\n" for i in range(1, 1000)) + "rules: {R1: {never: c999}}",
    "a chain of a thousand parameters": HEAD + "parameters:\n  p0: 1 s\n"
    + "".join(f"  p{i}: p{i - 1} + p{i - 1}\n" for i in range(1, 1000)),
    "ten thousand unknown names": HEAD + "rules:\n" + _numbered("  R#: {never: nothing_# and other_#}\n", 10_000),
    "ten thousand unknown keys": HEAD + _numbered("key_#: 1\n", 10_000),
    "ten thousand items of one name": HEAD + "equipment:\n" + "  a: {states: [b, c], start: b}\n" * 10_000,
    "all inside all inside all": HEAD
    + "parts: {p: {equipment: {x: {states: [a, b], start: a}}}}\ninstances: {ps: {part: p, count: 400}}\n"
    + "rules: {R1: {never: " + "all ps " * 40 + "x is a}}",
    "big parts many times": HEAD + "parts: {p: {equipment: {" + _numbered("x#: {states: [a, b], start: a}, ", 2000)
    + "}}}\ninstances: {ps: {part: p, count: 400}}",
    "parts in parts in parts": HEAD + "parts:\n" + "".join(
        f"  p{i}: {{instances: {{ps: {{part: p{i + 1}, count: 10}}}}}}\n" for i in range(20)
    ) + "  p20: {equipment: {x: {states: [a, b], start: a}}}\ninstances: {ps: {part: p0, count: 10}}\n",
    "a sum of two thousand memories": HEAD + "logic:\n  g:\n    steps: {a: {start: true}}\n    memory:\n"
    + _numbered("      m#: {states: 0 .. 199, start: 0}\n", 2000)
    + "    moves: {x: {from: a, to: a, needs: {}, sets: {m0: " + " + ".join(f"m{i}" for i in range(1000)) + "}}}\n",
    "a number of ten thousand digits": HEAD + "parameters: {p: " + "9" * 9999 + " s}",
    "an exponent out of this world": HEAD + "parameters: {p: 1e999999999 s}",
    "a product of many numbers": HEAD + "parameters: {p: " + " * ".join(["1e30"] * 900) + " * 1 s}",
    "more instances than can be": HEAD + "parts: {p: {}}\ninstances: {ps: {part: p, count: 999999999}}",
}  # fmt: skip


@pytest.mark.parametrize("name", BUILT)
def test_a_file_that_would_explode_when_built_is_refused_in_time(name: str) -> None:
    start = time.process_time()
    spec, bag, _ = load_text(BUILT[name], "hostile.yaml")
    assert time.process_time() - start < FAR_TOO_LONG_S
    assert spec is None
    assert 1 <= len(bag.sorted()) <= 2 * MAX_MISTAKES
