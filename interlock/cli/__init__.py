"""The command line: arguments, files, progress, printing, exit codes; one module for each family of commands.

In: what the user typed. Out: results on standard output, diagnostics and progress on standard error, an exit code.
"""

from __future__ import annotations

import os
import sys

INTERRUPTED = 130


def main() -> None:
    """Run the command in `sys.argv` and end the process with its exit code."""
    try:
        from interlock.cli.app import run
        from interlock.cli.ending import ending
        from interlock.cli.streams import close

        code = ending(lambda: run(sys.argv[1:]))
        close()
    except KeyboardInterrupt:
        sys.stderr.write("\ninterrupted\n")
        code = INTERRUPTED
    if code == INTERRUPTED:
        os._exit(code)  # else an interpreter that was interrupted while it ran generated code dies of the signal
    sys.exit(code)
