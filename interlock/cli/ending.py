"""How a command ends: work that may stop in many ways becomes an exit code and a message on standard error.

A user's mistake is never answered with a traceback, and a fault of the program never looks like a verdict.
"""

from __future__ import annotations

import os
import traceback
from collections.abc import Callable
from pathlib import Path
from textwrap import wrap

from interlock import __version__
from interlock.cli.faults import Codes, Refusal, Reported
from interlock.cli.streams import complain
from interlock.diag.cells import harmless


class Reading:
    """Which spec is being worked on, to be named if the program fails. One for the process."""

    digest: str | None = None


def ending(work: Callable[[], int]) -> int:
    """Do the work and give its exit code, or that of the way it ended."""
    try:
        return work()
    except KeyboardInterrupt:
        complain("\ninterrupted; no file was left half written\n")
        return Codes.INTERRUPTED
    except Reported:
        return Codes.WRONG
    except Refusal as refusal:
        complain(_told(refusal.headline, refusal.cures))
        return Codes.WRONG
    except MemoryError:
        cure = "give `--limit N` with a smaller number of situations"
        complain(_told("memory ran out, so nothing was decided", (cure,)))
        return Codes.UNDECIDED
    except Exception as fault:
        complain(internal(fault))
        if os.environ.get("INTERLOCK_TRACEBACK"):
            complain("".join(traceback.format_exception(fault)))
        return Codes.FAULT


def internal(fault: BaseException) -> str:
    """What is said about a fault of the program: what to report, and where it happened."""
    said = " ".join(str(fault).split())
    lines = [
        "error[internal-error]: a fault of the program itself, not of the spec; nothing it said is to be relied on",
        f"  {type(fault).__name__}: {said}" if said else f"  {type(fault).__name__}",
    ]
    frames = traceback.extract_tb(fault.__traceback__)
    ours = [frame for frame in frames if "interlock" in Path(frame.filename).parts]
    if ours:
        parts = Path(ours[-1].filename).parts
        where = "/".join(parts[len(parts) - 1 - parts[::-1].index("interlock") :])
        lines.append(f"  at {where}:{ours[-1].lineno}, in {ours[-1].name}")
    lines.append(f"  interlock {__version__}, spec digest {Reading.digest or 'not known'}")
    lines.append("  to cure: report it with these lines and the spec; INTERLOCK_TRACEBACK=1 shows more")
    return "\n".join(lines) + "\n"


def _told(headline: str, cures: tuple[str, ...]) -> str:
    """An error that has no place in a spec, in the look of those that have one. Paths are never broken over lines."""
    lines = _wrapped(f"error: {headline}", "", " " * 4)
    for cure in cures:
        lines += _wrapped(cure, "  to cure: ", " " * 11)
    return "\n".join(lines) + "\n"


def _wrapped(text: str, first: str, rest: str) -> list[str]:
    return wrap(
        harmless(text),
        80,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )
