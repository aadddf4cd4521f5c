"""The face in the terminal: parses, calls one act, says the answer. No arithmetic."""

from __future__ import annotations

import sys


def main() -> None:
    """Entry point of the installed command."""
    try:
        from wreckwright.cli.app import cli
    except KeyboardInterrupt:
        # Later interruptions are translated in `wreckwright.cli.guard`, which is not loaded yet.
        sys.exit(130)
    cli()
