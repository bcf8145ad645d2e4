"""What the machine has: how much memory stores may take."""

from __future__ import annotations

from pathlib import Path

SHARE = 0.6
"""The share of the memory that is free now which stores may take."""

WITHOUT_KNOWLEDGE = 2 << 30


def available_bytes() -> int:
    """Memory that is free now; where the system does not tell, two GiB are assumed."""
    try:
        lines = Path("/proc/meminfo").read_text(encoding="ascii").splitlines()
    except OSError:
        return WITHOUT_KNOWLEDGE
    for line in lines:
        if line.startswith("MemAvailable:"):
            return int(line.split()[1]) << 10
    return WITHOUT_KNOWLEDGE


def room_for_stores(held: int) -> int:
    """Bytes that a new store may take beside one of `held` bytes that it will replace."""
    return int(available_bytes() * SHARE) if held else available_bytes()
