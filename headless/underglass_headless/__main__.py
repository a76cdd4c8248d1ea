# SPDX-License-Identifier: GPL-3.0-or-later
"""The start of ``underglass``; ``python -m underglass_headless`` is the same."""

from .telling.interruption import ended_at_once


def main() -> None:
    """Load the command line and run it."""
    with ended_at_once():
        from .cli import main as command_line
    command_line()


if __name__ == "__main__":
    main()
