# SPDX-License-Identifier: GPL-3.0-or-later
"""The lines of a proof as the panel writes them: each once, and which of them say what is wrong. Free of Blender."""

_VERDICT, _FAULT = "fails:", "  fault:"


def is_fault(line: str) -> bool:
    """Return whether a line of a proof says what is wrong; notes and what was measured do not."""
    return line.startswith((_VERDICT, _FAULT))


def said_once(lines: tuple[str, ...]) -> tuple[str, ...]:
    """Return the ``lines`` of a proof without those that its verdict, the first of them, says already."""
    if not lines:
        return ()
    verdict = lines[0]
    return verdict, *(
        line
        for line in lines[1:]
        if not (line.startswith(_FAULT) and line.removeprefix(_FAULT).strip().rstrip(".") in verdict)
    )
