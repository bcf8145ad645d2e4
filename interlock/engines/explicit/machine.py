"""What the machine has: how much memory stores may take.

What is free on the machine, and less where the process is held to less: by a control group (a container is one; both
versions are read), or by a limit on its address space.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

SHARE = 0.6
"""The share of the memory that is free now which stores may take."""

WITHOUT_KNOWLEDGE = 2 << 30

PROC, GROUPS = Path("/proc"), Path("/sys/fs/cgroup")

FILES = {
    "memory": ("memory.limit_in_bytes", "memory.usage_in_bytes", "total_inactive_file"),
    "": ("memory.max", "memory.current", "inactive_file"),
}
"""By controller (none: version 2): the files of the limit and of what is used, and the line of `memory.stat` that tells
how much of that the system would give up."""


def available_bytes() -> int:
    """Memory that is free now for this process; where the system does not tell, two GiB are assumed."""
    free = _numbers(PROC / "meminfo").get("MemAvailable:")
    here = WITHOUT_KNOWLEDGE if free is None else free << 10
    return max(0, min(here, *_in_groups(), _in_address_space()))


def room_for_stores(held: int) -> int:
    """Bytes that a new store may take beside one of `held` bytes that it will replace."""
    return int(available_bytes() * SHARE) if held else available_bytes()


def _in_groups() -> Iterator[int]:
    """What each control group leaves that the process is in."""
    for line in _text(PROC / "self" / "cgroup").splitlines():
        _, controllers, path = line.split(":", 2)
        if "memory" in controllers.split(","):
            yield from _along(GROUPS / "memory", path, "memory")
        elif not controllers:
            yield from _along(GROUPS, path, "")


def _along(root: Path, path: str, controller: str) -> Iterator[int]:
    """What the group of a path and all groups around it leave. Inside a container the path may be one of the outside:
    then only the root is there."""
    at = root / path.lstrip("/")
    for folder in (at, *at.parents):
        left = _left(folder, *FILES[controller])
        if left is not None:
            yield left
        if folder == root:
            return


def _left(folder: Path, limit: str, used: str, reclaimable: str) -> int | None:
    """What a control group leaves; None where it has no limit."""
    most, now = _text(folder / limit).strip(), _text(folder / used).strip()
    if not most.isdigit() or not now.isdigit():
        return None
    return int(most) - int(now) + _numbers(folder / "memory.stat").get(reclaimable, 0)


def _in_address_space() -> int:
    """What a limit on the address space leaves."""
    if sys.platform == "win32":
        return sys.maxsize
    import resource

    soft, _ = resource.getrlimit(resource.RLIMIT_AS)
    pages = _text(PROC / "self" / "statm").split()
    if soft == resource.RLIM_INFINITY or not pages:
        return sys.maxsize
    return soft - int(pages[0]) * resource.getpagesize()


def _numbers(path: Path) -> dict[str, int]:
    """The first number of each line, by its first word."""
    found = {}
    for line in _text(path).splitlines():
        words = line.split()
        if len(words) > 1 and words[1].isdigit():
            found[words[0]] = int(words[1])
    return found


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="ascii", errors="replace")
    except OSError:
        return ""
