# SPDX-License-Identifier: GPL-3.0-or-later
"""Every Python file of ours says in its first line under which licence it is, where the SPDX tools look for it."""

from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
HEADER = "# SPDX-License-Identifier: GPL-3.0-or-later"


def has_header(text: str) -> bool:
    """Return whether the header is the first line of a file, or the one after its ``#!``."""
    lines = text.splitlines()
    return HEADER in (lines[1:2] if text.startswith("#!") else lines[:1])


def test_every_python_file_has_the_header():
    files = [
        file
        for folder in ("blender_addon", "headless", "scenes", "tests")
        for file in (ROOT / folder).rglob("*.py")
        # environments and caches are hidden folders, and full of other people's files
        if not any(part.startswith(".") for part in file.relative_to(ROOT).parts)
    ]
    assert len(files) > 500
    without = [str(file.relative_to(ROOT)) for file in files if not has_header(file.read_text(encoding="utf-8"))]
    assert without == [], f"write {HEADER} as the first line"


@pytest.mark.parametrize(
    ("text", "has"),
    [
        (f"{HEADER}\n", True),
        (f"#!/usr/bin/env python3\n{HEADER}\n", True),
        (f'"""What it is."""\n{HEADER}\n', False),
        (f"{HEADER}-only\n", False),
        ("", False),
    ],
)
def test_a_file_without_the_header_is_found(text, has):
    assert has_header(text) is has
