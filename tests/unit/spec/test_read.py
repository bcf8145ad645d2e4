"""Reading YAML: the tree, the place of every piece, and that both parsers of the library give the same."""

from __future__ import annotations

from pathlib import Path

import pytest

from interlock.diag.diagnostic import Bag
from interlock.spec.nodes import Listing, Mapping, Node, Scalar
from interlock.spec.read import read

SHIPPED = sorted(
    str(path.relative_to(Path(__file__).resolve().parents[3]))
    for folder in ("specs", "tests/corpus")
    for path in (Path(__file__).resolve().parents[3] / folder).rglob("*.yaml")
)


def tree(text: str) -> Mapping:
    bag = Bag()
    root, _ = read(text, "f", bag)
    assert isinstance(root, Mapping), bag.sorted()
    return root


def find(root: Node, *keys: str) -> Node:
    for key in keys:
        assert isinstance(root, Mapping)
        root = next(value for name, value in root.entries if name.text == key)
    return root


def cut(text: str, node: Scalar, start: int, end: int) -> str:
    """The text of the file at the place of a part of a scalar that lies on one line."""
    span = node.written.part(start, end)
    assert span.line == span.end_line
    return text.split("\n")[span.line - 1][span.column - 1 : span.end_column - 1]


@pytest.mark.parametrize("file", SHIPPED)
def test_the_compiled_parser_and_the_one_in_python_give_the_same_nodes(repository: Path, file: str) -> None:
    source = (repository / file).read_bytes()
    compiled, pure = Bag(), Bag()
    assert read(source, file, compiled) == read(source, file, pure, pure=True)
    assert compiled.empty
    assert pure.empty


def test_the_compiled_parser_is_there() -> None:
    import yaml

    assert yaml.__with_libyaml__


def test_every_scalar_stays_text() -> None:
    root = tree("on: yes\nnumber: 010\ntime: 1:30\nnothing: ~\nempty:\n")
    values = {key.text: value.text for key, value in root.entries if isinstance(value, Scalar)}
    assert values == {"on": "yes", "number": "010", "time": "1:30", "nothing": "~", "empty": ""}


@pytest.mark.parametrize(
    "text",
    [
        "a: one two three",
        "a: 'one two three'",
        'a: "one two three"',
        "x: 1\na: {b: c, d: one two three}".replace("d:", "a:"),
        "a: >\n  one\n  two\n  three\n",
        "a: >-\n  one two\n  three\n",
        "a: |\n  one\n  two three\n",
        "a: one\n  two\n  three\n",
        "a: 'one\n  two\n  three'\n",
        "ü: 1\na: one two three # two",
    ],
)
def test_a_word_inside_a_text_is_found_at_its_place_however_the_text_is_written(text: str) -> None:
    bag = Bag()
    root, _ = read(text, "f", bag)
    assert root is not None
    pending: list[Node] = [root]
    scalars = []
    while pending:
        node = pending.pop()
        if isinstance(node, Mapping):
            pending += [value for _, value in node.entries]
        elif isinstance(node, Scalar) and "two" in node.text:
            scalars.append(node)
    (node,) = scalars
    start = node.text.index("two")
    assert cut(text, node, start, start + 3) == "two"


def test_columns_count_characters_and_not_bytes() -> None:
    root = tree("größe: {übung: wörter sind da}")
    node = find(root, "größe", "übung")
    assert isinstance(node, Scalar)
    assert node.span.column == 16
    assert cut("größe: {übung: wörter sind da}", node, 7, 11) == "sind"


def test_a_text_with_escapes_is_marked_as_a_whole() -> None:
    text = 'a: "one\\ttwo"'
    node = find(tree(text), "a")
    assert isinstance(node, Scalar)
    assert node.text == "one\ttwo"
    assert node.written.part(4, 7) == node.span
    assert cut(text, node, 4, 7) == '"one\\ttwo"'


def test_a_doubled_apostrophe_does_not_shift_places() -> None:
    node = find(tree("a: 'it''s two'"), "a")
    assert isinstance(node, Scalar)
    assert node.text == "it's two"
    assert node.written.part(5, 8) == node.span


def test_a_key_that_comes_twice_is_kept_twice() -> None:
    assert [key.text for key, _ in tree("a: 1\na: 2\n").entries] == ["a", "a"]


def test_windows_line_ends_and_a_byte_order_mark_are_no_matter() -> None:
    one, other = Bag(), Bag()
    plain, _ = read("a: b\nc: [d, e]\n", "f", one)
    windows, _ = read(b"\xef\xbb\xbfa: b\r\nc: [d, e]\r\n", "f", other)
    assert plain == windows
    assert isinstance(find(tree("c: [d, e]"), "c"), Listing)


def test_a_byte_that_is_no_text_is_told_at_its_place() -> None:
    bag = Bag()
    assert read("a: ü\nb: ".encode() + b"\xff", "f", bag) == (None, "")
    (mistake,) = bag.sorted()
    assert mistake.at is not None
    assert (mistake.at.span.line, mistake.at.span.column) == (2, 4)
