"""Words in, one call of bench, words out: the command line, one file a command."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command line and leave with its exit status."""
    from labeler.cli.group import run

    sys.exit(run(sys.argv[1:]))
