"""What the README tells people to type is what is run before every change is taken, and prints what the README shows.

In a block marked `console`, a line `$ COMMAND` is followed by the exact output of that command; a line `...` stands for
any number of lines. In a block marked `sh` a line that makes a virtual environment is a command for a bare machine.
"""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).resolve().parents[2]
GUIDES = ("README.md", "DEVELOPERS.md")


def blocks(text: str, language: str) -> list[list[str]]:
    """The lines of each fenced block of the text that is marked with the language."""
    return [found.splitlines() for found in re.findall(rf"^```{language}\n(.*?)^```$", text, re.DOTALL | re.MULTILINE)]


def set_up_commands(text: str) -> list[str]:
    """The commands of a README that work on a bare machine: each makes its own virtual environment."""
    return [line for block in blocks(text, "sh") for line in block if line.startswith("python3 -m venv ")]


def shown_commands(text: str) -> list[tuple[str, list[str]]]:
    """The commands shown with their output, and that output."""
    shown: list[tuple[str, list[str]]] = []
    for block in blocks(text, "console"):
        for line in block:
            if line.startswith("$ "):
                shown.append((line[2:], []))
            elif shown:
                shown[-1][1].append(line)
    return shown


def matches(expected: list[str], output: str) -> bool:
    """Whether the output is what is expected, where a line `...` stands for any number of lines."""
    pattern = "".join(r"(?:.*\n)*?" if line == "..." else re.escape(line) + r"\n" for line in expected)
    lines = "".join(line.rstrip() + "\n" for line in output.rstrip().splitlines())
    return re.fullmatch(pattern, lines) is not None


def examples() -> list[tuple[str, str, list[str]]]:
    return [
        (guide, command, output)
        for guide in GUIDES
        if (REPOSITORY / guide).exists()
        for command, output in shown_commands((REPOSITORY / guide).read_text(encoding="utf-8"))
    ]


def test_the_readme_has_two_commands_for_a_bare_machine_one_for_the_job_and_one_for_the_tests() -> None:
    commands = set_up_commands((REPOSITORY / "README.md").read_text(encoding="utf-8"))
    assert [("interlock check" in line, "pytest" in line) for line in commands] == [(True, False), (False, True)]


def test_the_check_before_every_change_runs_the_very_commands_of_the_readme() -> None:
    script = [line.strip() for line in (REPOSITORY / ".ci/run").read_text(encoding="utf-8").splitlines()]
    commands = set_up_commands((REPOSITORY / "README.md").read_text(encoding="utf-8"))
    assert commands
    assert [line for line in script if line.startswith("python3 -m venv .venv")] == commands


def test_the_commands_of_the_readme_name_files_and_extras_that_exist() -> None:
    project = tomllib.loads((REPOSITORY / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    job, tests = set_up_commands((REPOSITORY / "README.md").read_text(encoding="utf-8"))
    assert (REPOSITORY / shlex.split(job)[-1]).is_file()
    assert set(re.findall(r"\[(\w+)\]", job + tests)) <= set(project["optional-dependencies"])
    assert "interlock" in project["scripts"]


def test_the_readme_shows_real_output() -> None:
    assert [command for guide, command, _ in examples() if guide == "README.md" and "interlock check" in command]


@pytest.mark.parametrize(("guide", "command", "expected"), examples())
def test_a_shown_command_prints_what_is_shown(guide: str, command: str, expected: list[str]) -> None:
    words = shlex.split(command)
    assert words[0] in ("interlock", ".venv/bin/interlock"), (
        f"{guide}: only commands of interlock are shown with output"
    )
    done = subprocess.run(
        [sys.executable, "-m", "interlock", *words[1:]],
        cwd=REPOSITORY,
        env={**os.environ, "NO_COLOR": "1", "COLUMNS": "80"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        check=False,
    )
    assert matches(expected, done.stdout), done.stdout


def test_commands_and_their_output_are_found_in_a_guide() -> None:
    text = "x\n```sh\npython3 -m venv a && b\nls\n```\n"
    text += "```console\n$ interlock check a\nholds\n...\nend\n$ interlock\n```\n"
    assert set_up_commands(text) == ["python3 -m venv a && b"]
    assert shown_commands(text) == [("interlock check a", ["holds", "...", "end"]), ("interlock", [])]


@pytest.mark.parametrize(
    ("output", "same"),
    [
        ("holds\nend\n", True),
        ("holds\n1\n2\nend\n", True),
        ("holds  \nend", True),
        ("fails\nend\n", False),
        ("holds\nend\nmore\n", False),
    ],
)
def test_dots_stand_for_any_lines_and_nothing_else_may_differ(output: str, same: bool) -> None:
    assert matches(["holds", "...", "end"], output) is same
