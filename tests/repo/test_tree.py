"""The shape of the repository: sizes, docstrings, names, and what may lie at the top."""

from __future__ import annotations

import ast
import fnmatch
import re
from pathlib import Path

import pytest

MOST_LINES = 600
"""About 300 lines are meant; beyond this a module holds more than one thing."""

TOP = {
    ".ci",
    ".git",
    ".github",
    ".gitignore",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "diagrams",
    "interlock",
    "pyproject.toml",
    "specs",
    "tests",
}

NOT_A_THING = {"common", "helper", "helpers", "lib", "misc", "tool", "tools", "util", "utils"}


def python_files(repository: Path) -> list[Path]:
    return [*sorted(repository.glob("interlock/**/*.py")), *sorted(repository.glob("tests/**/*.py"))]


def test_no_module_is_longer_than_it_can_be_read(repository: Path) -> None:
    sizes = {str(path): len(path.read_text(encoding="utf-8").splitlines()) for path in python_files(repository)}
    assert len(sizes) > 10
    assert not {path: size for path, size in sizes.items() if size > MOST_LINES}


def test_every_module_says_what_it_is_for(repository: Path) -> None:
    silent = [
        path
        for path in python_files(repository)
        if not ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"), str(path)))
    ]
    assert not silent


def test_every_module_and_folder_is_named_after_a_thing(repository: Path) -> None:
    names = {part for path in python_files(repository) for part in path.relative_to(repository).with_suffix("").parts}
    assert not names & NOT_A_THING


def test_nothing_lies_at_the_top_that_does_not_belong_there(repository: Path) -> None:
    ignored = [line.strip("/") for line in (repository / ".gitignore").read_text(encoding="utf-8").split()]
    strangers = {
        path.name
        for path in repository.iterdir()
        if path.name not in TOP and not any(fnmatch.fnmatch(path.name, pattern) for pattern in ignored)
    }
    assert not strangers


def test_tests_are_no_packages_so_that_two_files_may_have_one_name(repository: Path) -> None:
    assert not list(repository.glob("tests/**/__init__.py"))


def test_every_folder_of_the_package_says_what_goes_in_and_what_comes_out(repository: Path) -> None:
    folders = {path.parent for path in repository.glob("interlock/**/*.py")}
    assert not [folder for folder in sorted(folders) if not (folder / "__init__.py").exists()]


def test_the_licence_is_the_whole_text_and_the_package_names_it(repository: Path) -> None:
    text = (repository / "LICENSE").read_text(encoding="utf-8")
    assert "Apache License" in text
    assert "END OF TERMS AND CONDITIONS" in text
    assert 'license = "Apache-2.0"' in (repository / "pyproject.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("guide", ["DEVELOPERS.md", "tests/README.md"])
def test_every_file_that_a_guide_names_exists(repository: Path, guide: str) -> None:
    text = (repository / guide).read_text(encoding="utf-8")
    text = re.sub(r"```.*?```", "", text, flags=re.DOTALL)
    named = {name for name in re.findall(r"`([\w.-]+(?:/[\w.<>*-]*)+|\w+\.(?:py|md|toml))`", text) if "<" not in name}
    assert named
    places = [repository, repository / "interlock", repository / "tests"]
    missing = [name for name in sorted(named) if not any(list(place.glob(name.rstrip("/"))) for place in places)]
    assert not missing
