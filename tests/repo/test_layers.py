"""Who may import whom. Every import counts: at the top, inside functions, under `TYPE_CHECKING`, by name in a table."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Mapping
from pathlib import Path

import networkx as nx
import pytest

LAYERS: Mapping[str, tuple[str, ...]] = {
    "diag": (),
    "logic": ("diag",),
    "spec": ("diag", "logic"),
    "core": ("diag", "logic", "spec"),
    "machine": ("diag", "logic", "spec"),
    "engines": ("diag", "logic", "core"),
    "analysis": ("diag", "logic", "spec", "core", "machine", "engines"),
    "report": ("diag", "logic", "spec", "core", "machine", "engines", "analysis"),
    "pipeline": ("diag", "logic", "spec", "core", "machine", "engines", "analysis", "report"),
    "cli": ("diag", "logic", "spec", "core", "machine", "engines", "analysis", "report", "pipeline"),
    "__main__": ("cli",),
}
"""Each layer and the layers it may import from, besides itself. The version in `interlock` itself is for all."""

Import = tuple[str, int, str]
"""Who imports, on which line, what: two module names, or a module and a name in it."""


def modules_of(root: Path) -> dict[str, Path]:
    """The modules below the folder `root`, which is the package `interlock`, by their full names."""
    found = {}
    for path in sorted(root.rglob("*.py")):
        parts = [root.name, *path.relative_to(root).with_suffix("").parts]
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def imports_of(modules: Mapping[str, Path]) -> list[Import]:
    """Every import of one module of the package by another, whatever it looks like."""
    found: list[Import] = []
    for name, path in modules.items():
        package = name if path.name == "__init__.py" else name.rpartition(".")[0]
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"), str(path))):
            line = getattr(node, "lineno", 0)
            found += [
                (name, line, target)
                for target in _targets(node, package)
                if target.split(".")[0] == "interlock" and _module(target, modules) != name
            ]
    return found


def _targets(node: ast.AST, package: str) -> Iterator[str]:
    """What a node of a syntax tree imports, as `module` or `module.name`."""
    if isinstance(node, ast.Import):
        yield from (alias.name for alias in node.names)
    elif isinstance(node, ast.ImportFrom):
        base = node.module or ""
        if node.level:
            above = package.split(".")[: len(package.split(".")) - node.level + 1]
            base = ".".join([*above, *([base] if base else [])])
        yield from (f"{base}.{alias.name}" for alias in node.names)
    elif isinstance(node, ast.Constant) and isinstance(node.value, str):
        written = re.fullmatch(r"(interlock(?:\.\w+)+)(?::\w+)?", node.value)
        if written:
            yield written[1]


def _module(target: str, modules: Mapping[str, Path]) -> str:
    """The module that `target` is, or that holds the name `target`."""
    return target if target in modules else target.rpartition(".")[0]


def _is_package(path: Path) -> bool:
    return path.name == "__init__.py"


def _in_text(path: Path, line: int, target: str) -> bool:
    """Whether the line holds the target as a text in quotes."""
    return f'"{target}"' in path.read_text(encoding="utf-8").splitlines()[line - 1]


def layer_of(name: str) -> str:
    """The layer of a module: the first word after `interlock`, empty for `interlock` itself."""
    return name.split(".")[1] if "." in name else ""


def breaches(root: Path) -> list[str]:
    """Every import that the table does not permit, a sentence each."""
    modules = modules_of(root)
    told = []
    for name, line, target in imports_of(modules):
        here, there = layer_of(name), layer_of(_module(target, modules))
        if here == "" or (there not in ("", here) and there not in LAYERS.get(here, ())):
            told.append(f"{name}:{line} imports {target}: `{here or 'interlock'}` may not import from `{there}`")
        if target.rpartition(".")[2].startswith("_") and target != "interlock.__version__":
            told.append(f"{name}:{line} imports {target}: that name is private to its module")
    return told


def loops(root: Path) -> list[list[str]]:
    """Groups of modules that import each other round and round. A text that names a package is no import: files are
    looked up in packages in this way."""
    modules = modules_of(root)
    graph: nx.DiGraph[str] = nx.DiGraph(
        [
            (name, _module(target, modules))
            for name, line, target in imports_of(modules)
            if not (target in modules and _is_package(modules[target]) and _in_text(modules[name], line, target))
        ]
    )
    return [sorted(group) for group in nx.strongly_connected_components(graph) if len(group) > 1]


def test_every_module_belongs_to_a_layer(repository: Path) -> None:
    layers = {layer_of(name) for name in modules_of(repository / "interlock")}
    assert layers - {""} <= set(LAYERS)


def test_modules_import_only_from_their_own_layer_and_from_those_before_it(repository: Path) -> None:
    assert not breaches(repository / "interlock")


def test_no_modules_import_each_other_in_a_loop(repository: Path) -> None:
    assert not loops(repository / "interlock")


def test_core_and_machine_are_kept_apart_and_engines_see_neither_spec_nor_machine() -> None:
    assert "machine" not in LAYERS["core"]
    assert "core" not in LAYERS["machine"]
    assert not {"spec", "machine"} & set(LAYERS["engines"])


def test_each_layer_may_import_only_from_layers_above_it_in_the_table() -> None:
    order = list(LAYERS)
    assert all(order.index(other) < order.index(layer) for layer, others in LAYERS.items() for other in others)


def test_the_guide_shows_this_very_table(repository: Path) -> None:
    rows = re.findall(r"^\| `(\w+)` \|[^|]*\| ([\w, ]+) \|$", (repository / "DEVELOPERS.md").read_text("utf-8"), re.M)
    shown = {layer: () if others == "nothing" else tuple(others.split(", ")) for layer, others in rows}
    assert shown == {layer: others for layer, others in LAYERS.items() if layer != "__main__"}


@pytest.mark.parametrize(
    "line",
    [
        "import interlock.spec.model",
        "from interlock.spec import model",
        "from interlock.spec.model import Spec",
        "from ..spec.model import Spec",
        "from .. import spec",
        "def f() -> None:\n    from interlock.spec.model import Spec",
        "if TYPE_CHECKING:\n    import interlock.spec.model",
        'importlib.import_module("interlock.spec.model")',
        'TABLE = {"spec": "interlock.spec.model:Spec"}',
    ],
)
def test_the_check_sees_a_forbidden_import_in_every_form(tmp_path: Path, line: str) -> None:
    root = _package(tmp_path, {"engines/one.py": line, "spec/model.py": "class Spec: ..."})
    assert [told.rpartition(": ")[2] for told in breaches(root)] == ["`engines` may not import from `spec`"]


def test_the_check_sees_a_private_name_that_is_imported(tmp_path: Path) -> None:
    root = _package(tmp_path, {"report/text.py": "from interlock.report.json import _row", "report/json.py": ""})
    assert len(breaches(root)) == 1


def test_the_check_sees_a_loop_through_a_function(tmp_path: Path) -> None:
    root = _package(
        tmp_path,
        {
            "core/one.py": "import interlock.core.two",
            "core/two.py": "def f() -> None:\n    from interlock.core import one",
            "core/three.py": "import interlock.core.two",
        },
    )
    assert loops(root) == [["interlock.core.one", "interlock.core.two"]]


def test_a_file_that_lies_in_the_package_may_be_looked_up_by_the_name_of_the_package(tmp_path: Path) -> None:
    files = {"cli/__init__.py": "from interlock.cli.new import run", "cli/new.py": 'run = files("interlock.cli")'}
    assert not loops(_package(tmp_path, files))
    files["cli/new.py"] = "from interlock.cli import run"
    assert loops(_package(tmp_path, files)) == [["interlock.cli", "interlock.cli.new"]]


def test_the_check_lets_permitted_imports_pass(tmp_path: Path) -> None:
    root = _package(
        tmp_path,
        {
            "engines/one.py": "from interlock import __version__\nfrom interlock.core import system\nimport json",
            "core/system.py": "from interlock.logic.expression import has\nfrom .question import Question",
            "core/question.py": "",
            "logic/expression.py": "",
        },
    )
    assert not breaches(root)
    assert not loops(root)
    assert len(imports_of(modules_of(root))) == 4


def _package(folder: Path, files: Mapping[str, str]) -> Path:
    """A package `interlock` in `folder` that holds the given files and nothing else."""
    root = folder / "interlock"
    for name, text in {"__init__.py": "", **files}.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        (path.parent / "__init__.py").touch()
        path.write_text(text, encoding="utf-8")
    return root
