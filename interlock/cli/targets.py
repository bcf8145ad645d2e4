"""Where results go: `--format`, `--output FORMAT=FILE`, and what is refused before any work is done.

In: the options as typed. Out: a list of targets, at most one of them standard output.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from interlock.cli.arguments import meant
from interlock.cli.faults import Refusal
from interlock.cli.streams import refuse_unwritable, show, write_whole


@dataclass(frozen=True, slots=True)
class Target:
    """A format and the file it goes to; None is standard output."""

    format: str
    path: Path | None

    def write(self, text: str | bytes) -> None:
        """Write the text there, whole or not at all."""
        if self.path is None:
            show(text)
        else:
            write_whole(self.path, text)


def targets(format: str | None, outputs: Sequence[str], known: Sequence[str], spec: str) -> tuple[Target, ...]:
    """All targets: those of `--output` in their order, and standard output. Refusal for what cannot be."""
    found: list[Target] = []
    for typed in outputs:
        name, equals, file = typed.partition("=")
        if not equals or not file:
            raise Refusal(f"`--output {typed}` names no file", f"write `--output {name or known[0]}=FILE`")
        found.append(Target(format_named(name, known, "--output"), None if file == "-" else Path(file)))
    shown = [target for target in found if target.path is None]
    if format is not None:
        shown.append(Target(format_named(format, known, "--format"), None))
        found.append(shown[-1])
    elif not shown:
        found.append(Target(known[0], None))
    if len(shown) > 1:
        raise Refusal("two results cannot both go to standard output", "send one of them to a file")
    refuse_files([target.path for target in found if target.path is not None], spec)
    return tuple(found)


def refuse_files(paths: Sequence[Path], spec: str) -> None:
    """Refuse files that cannot be written, that are named twice, or that are the spec itself."""
    seen: set[Path] = set()
    for path in paths:
        refuse_unwritable(path)
        if spec != "-" and path.exists() and Path(spec).exists() and path.samefile(spec):
            raise Refusal(f"`{path}` is the spec itself; a result would overwrite it", "name another file")
        if path.resolve() in seen and (path.is_file() or not path.exists()):
            raise Refusal(f"two results cannot both go to `{path}`", "give each its own file")
        seen.add(path.resolve())


def refuse_beneath(paths: Sequence[Path], beneath: Sequence[Path]) -> None:
    """Refuse files that a draft is based on; they are known only once it was read."""
    for path in paths:
        if path.exists() and any(one.exists() and path.samefile(one) for one in beneath):
            raise Refusal(
                f"`{path}` is a file that the draft is based on; a result would overwrite it", "name another file"
            )


def format_named(name: str, known: Sequence[str], option: str) -> str:
    """The format of that name, as one of those known."""
    if name in known:
        return name
    raise Refusal(
        f"`{option}`: there is no format `{name}`", meant(name, known) or f"the formats are {', '.join(known)}"
    )
