# SPDX-License-Identifier: GPL-3.0-or-later
"""The table of codes for headless/README.md, and the list of them for the schema of proof.json.

Run by itself it writes both anew: ``python tests/report/codes_page.py``, with the project installed.
"""

import re
import textwrap
from pathlib import Path

from underglass_headless.report.fault_codes import AXES, CODES, JUNIT_ALONE, SHAPES, Code

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "headless" / "README.md"
SCHEMA = ROOT / "headless" / "underglass_headless" / "report" / "proof.schema.json"

HEAD = ("code", "what it means", "what to do", "found by")
SHAPES_HEAD = ("the code ends with", "what it means", "what to do")
_ENUM = re.compile(r'(?<="enum": \[\n)[^\]]*(?=\n {10}\]\n {8}\},\n {8}"severity")')


def codes_table() -> str:
    """Return the table of all codes; those of an axis are one row, and what their ends mean is told beside it."""
    of_axes = {code for axis in AXES for code in axis.codes}
    rows = {name: _row(code) for name, code in {**CODES, **JUNIT_ALONE}.items() if name not in of_axes}
    for axis in AXES:
        names = " ".join(f"`{code}`" for code in axis.codes)
        means = f"{axis.what} is wrong. The end of the code tells how ([below](#what-the-end-of-a-code-tells))."
        rows[axis.name] = (names, means, f"Correct {axis.where}.", ", ".join(axis.found_by))
    return _table(HEAD, [rows[name] for name in sorted(rows)])


def shapes_table() -> str:
    """Return the table of what the end of an axis's code means."""
    return _table(
        SHAPES_HEAD,
        [
            (f"`-{shape}`", words.meaning.format(what="The reading"), words.remedy.format(where="the reading"))
            for shape, words in SHAPES.items()
        ],
    )


def enum_lines() -> str:
    """Return the codes as they stand in the schema, sorted and wrapped."""
    listed = ", ".join(f'"{code}"' for code in sorted(CODES))
    return textwrap.fill(listed, 120, initial_indent=" " * 12, subsequent_indent=" " * 12, break_on_hyphens=False)


def page_with(text: str) -> str:
    """Return a page with its two tables written anew."""
    for head, table in ((HEAD, codes_table()), (SHAPES_HEAD, shapes_table())):
        text, count = re.subn(rf"^{re.escape(_line(head))}\n(\|.*\n)*", lambda _, new=table: new, text, flags=re.M)
        assert count == 1, f"one table begins with {_line(head)}"
    return text


def schema_with(text: str) -> str:
    """Return the text of the schema with its codes written anew."""
    text, count = _ENUM.subn(lambda _: enum_lines(), text)
    assert count == 1
    return text


def _row(code: Code) -> tuple[str, ...]:
    return f"`{code.code}`", code.meaning, code.remedy, ", ".join(code.found_by)


def _table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    lines = [_line(head), _line(("---",) * len(head)), *(_line(row) for row in rows)]
    return "".join(f"{line}\n" for line in lines)


def _line(cells: tuple[str, ...]) -> str:
    assert not any("|" in cell for cell in cells)
    return f"| {' | '.join(cells)} |"


if __name__ == "__main__":
    PAGE.write_text(page_with(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
    SCHEMA.write_text(schema_with(SCHEMA.read_text(encoding="utf-8")), encoding="utf-8")
