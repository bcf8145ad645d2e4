"""Every kind of mistake in a spec: a file that has just that mistake, and the message that is printed for it.

`KIND.yaml` is an ordinary small spec with one slip in it, or a draft of the one in `beneath/`; `KIND.txt` is what a
person then reads.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from interlock.diag.kinds_spec import KINDS
from interlock.diag.render import render
from interlock.spec import load_text
from interlock.spec.files import beside

HERE = Path(__file__).parent
NAMES = sorted(path.stem for path in HERE.glob("*.yaml"))


@pytest.mark.parametrize("name", NAMES)
def test_a_mistake_is_told_in_just_these_words(name: str) -> None:
    file = f"{name}.yaml"
    spec, bag, sources = load_text((HERE / file).read_bytes(), file, beside(str(HERE)))
    assert spec is None
    assert [one.kind for one in bag.sorted()] == [name]
    assert render(bag.sorted(), sources) == (HERE / f"{name}.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", NAMES)
def test_every_mistake_but_those_of_size_comes_with_a_cure(name: str) -> None:
    _, bag, _ = load_text((HERE / f"{name}.yaml").read_bytes(), f"{name}.yaml", beside(str(HERE)))
    assert all(one.helps and not one.headline.endswith(".") for one in bag.sorted())


def test_each_registered_kind_has_a_file_and_each_file_a_kind() -> None:
    assert sorted(kind.name for kind in KINDS) == NAMES
    assert sorted(path.stem for path in HERE.glob("*.txt")) == NAMES


def test_each_kind_that_reading_can_tell_is_registered(repository: Path) -> None:
    """Kinds are the only texts in these modules that are words joined by hyphens."""
    used: set[str] = set()
    for module in [*(repository / "interlock/spec").glob("*.py"), repository / "interlock/logic/parse.py"]:
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                used.update(re.findall(r"\A[a-z]+(?:-[a-z0-9]+)+\Z", node.value))
    assert used - {"utf-8"} == {kind.name for kind in KINDS}


def test_examples_in_the_registry_differ_and_meanings_are_sentences() -> None:
    for kind in KINDS:
        assert kind.bad != kind.good
        assert kind.meaning.endswith(".")
