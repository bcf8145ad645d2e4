"""Specs with random slips in them: read or told, never an exception, and every place that is told lies in the file."""

from __future__ import annotations

import re
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.diag.diagnostic import Diagnostic
from interlock.diag.render import render
from interlock.spec import load_text

TOP = Path(__file__).resolve().parents[3]
SEEDS = [
    path.read_text(encoding="utf-8")
    for path in sorted(
        [*TOP.glob("specs/*.yaml"), *TOP.glob("tests/corpus/*.yaml"), *TOP.glob("tests/mistakes/u*.yaml")]
    )
]
TOKEN = re.compile(r"\w+|\s+|[^\w\s]")
STRANGERS = [
    *("", " ", "\n", "\n  ", ":", ": ", ",", "{", "}", "[", "]", "'", '"', "#", "- ", "*", "&a ", "!", "|", ">", ".."),
    *("0", "-1", "1e9", "500 ms", "never", "nothing", "true", "is", "not", "and", "in {a, b}", "was(", "command"),
    *("all shoes", "\u00e9", "\t", "x" * 200),
]


@st.composite
def mutated(draw: st.DrawFn) -> str:
    """A shipped spec with one to four slips: a piece left out, doubled, moved, or put in place of another."""
    tokens = TOKEN.findall(draw(st.sampled_from(SEEDS)))
    for _ in range(draw(st.integers(1, 4))):
        i = draw(st.integers(0, len(tokens) - 1))
        j = draw(st.integers(0, len(tokens) - 1))
        how = draw(st.sampled_from(["drop", "double", "copy", "swap", "strange", "strange", "cut"]))
        if how == "drop":
            tokens[i] = ""
        elif how == "double":
            tokens[i] *= 2
        elif how == "copy":
            tokens[i] = tokens[j]
        elif how == "swap":
            tokens[i], tokens[j] = tokens[j], tokens[i]
        elif how == "strange":
            tokens[i] = draw(st.sampled_from(STRANGERS))
        else:
            del tokens[min(i, j) : min(i, j) + draw(st.integers(1, 40))]
            tokens = tokens or [""]
    return "".join(tokens)


def in_file(text: str, one: Diagnostic) -> bool:
    lines = text.split("\n")
    for mark in (*((one.at,) if one.at else ()), *one.also):
        span = mark.span
        if not 1 <= span.line <= span.end_line <= len(lines) + 1:
            return False
        content = lines[span.line - 1] if span.line <= len(lines) else ""
        if not 1 <= span.column <= len(content) + 1:
            return False
        if span.line == span.end_line and not span.column < span.end_column <= len(content) + 2:
            return False
    return True


@given(mutated())
@settings(max_examples=400)
def test_a_spec_with_slips_is_read_or_told_and_every_place_lies_in_the_file(text: str) -> None:
    spec, bag, sources = load_text(text, "f.yaml")
    found = bag.sorted()
    assert (spec is None) == bool(found)
    assert all(in_file(text, one) for one in found), found
    assert all(one.headline and not one.headline.endswith(".") for one in found)
    printed = render(found, sources)
    assert printed.count("error[") == len(found)


@given(mutated())
@settings(max_examples=40)
def test_the_same_file_is_told_in_the_same_words_every_time(text: str) -> None:
    first, again = load_text(text, "f.yaml"), load_text(text, "f.yaml")
    assert first[0] == again[0]
    assert first[1].sorted() == again[1].sorted()
