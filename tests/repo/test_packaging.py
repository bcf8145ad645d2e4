"""What is installed: every library that is imported is declared, and the package has the name and version it says."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path
from typing import Any

import interlock


def project(repository: Path) -> dict[str, Any]:
    loaded: dict[str, Any] = tomllib.loads((repository / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return loaded


def declared(requirements: list[str]) -> set[str]:
    """The names of the distributions, as the index compares them."""
    names = [re.split(r"[<>=!~; \[]", requirement)[0] for requirement in requirements]
    return {re.sub(r"[-_.]+", "-", name).lower() for name in names}


def imported(folder: Path) -> set[str]:
    """The distributions of all libraries that the Python files below a folder import, anywhere in them."""
    found: set[str] = set()
    for path in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"), str(path))):
            if isinstance(node, ast.Import):
                found |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                found.add(node.module.split(".")[0])
    strangers = found - set(sys.stdlib_module_names) - {"interlock", "tests"}
    distributions = packages_distributions()
    return {re.sub(r"[-_.]+", "-", distributions[name][0]).lower() for name in strangers}


RUN = {"graphviz-pure"}
"""Distributions that are not imported but run as programs."""


def test_the_program_imports_or_runs_just_what_it_declares(repository: Path) -> None:
    assert imported(repository / "interlock") | RUN == declared(project(repository)["dependencies"])
    texts = [path.read_text(encoding="utf-8") for path in (repository / "interlock").rglob("*.py")]
    assert all(any(f'"{name}"' in text for text in texts) for name in RUN)


def test_every_library_that_the_tests_import_is_declared(repository: Path) -> None:
    described = project(repository)
    known = declared(described["dependencies"]) | declared(described["optional-dependencies"]["dev"])
    assert imported(repository / "tests") <= known


def test_every_dependency_says_from_which_version_on_it_serves(repository: Path) -> None:
    assert all(">=" in requirement for requirement in project(repository)["dependencies"])


def test_the_package_is_not_called_like_the_unrelated_one_on_the_index(repository: Path) -> None:
    described = project(repository)
    assert described["name"] == "interlock-charging"
    assert described["scripts"] == {"interlock": "interlock.cli:main"}
    assert re.fullmatch(r"\d+\.\d+\.\d+", interlock.__version__)


def test_the_changes_of_this_version_are_told(repository: Path) -> None:
    assert f"### {interlock.__version__}\n" in (repository / "DEVELOPERS.md").read_text(encoding="utf-8")
