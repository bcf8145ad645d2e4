"""The command line: arguments, files, progress, printing, exit codes; one module for each family of commands.

In: what the user typed. Out: results on standard output, diagnostics and progress on standard error, an exit code.
"""

from __future__ import annotations

import sys
from typing import NoReturn


def main() -> NoReturn:
    """Run the command in `sys.argv` and end the process with its exit code."""
    from interlock.cli.ending import ending
    from interlock.cli.faults import Codes

    code: int = Codes.INTERRUPTED
    try:
        from interlock.cli.app import run

        code = ending(lambda: run(sys.argv[1:]))
    except KeyboardInterrupt:
        sys.stderr.write("\ninterrupted\n")
    from interlock.cli.streams import close

    close()
    sys.exit(code)
