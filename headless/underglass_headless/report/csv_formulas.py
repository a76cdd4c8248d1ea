# SPDX-License-Identifier: GPL-3.0-or-later
"""Texts in the cells of CSV files, so that no spreadsheet takes one for a formula.

A spreadsheet takes a cell that begins with = + - or @ for a formula. A name or remark like that is therefore written
with an apostrophe before it; so that the way back is always clear, one that begins with apostrophes and then such a
sign gets one more. `text_from_cell` takes it off again. Numbers are never touched.
"""

import re

# Wide forms too: spreadsheets set to Japanese or Chinese read them as formulas.
_FORMULA_SIGNS = r"=+\-@\t\r\n＝＋－＠"
_IS_RISKY = re.compile(f"'*[{_FORMULA_SIGNS}]")
_WAS_RISKY = re.compile(f"'+[{_FORMULA_SIGNS}]")
_NEEDS_QUOTES = re.compile('[",\r\n]')


def cell_from_text(text: str) -> str:
    """Return ``text`` as a CSV cell: harmless to a spreadsheet, and quoted where the rules of CSV ask for it."""
    if _IS_RISKY.match(text):
        text = f"'{text}"
    if _NEEDS_QUOTES.search(text):
        doubled = text.replace('"', '""')
        return f'"{doubled}"'
    return text


def text_from_cell(cell: str) -> str:
    """Return the text that `cell_from_text` made ``cell`` of, once a CSV reader has taken the quotes off."""
    return cell[1:] if _WAS_RISKY.match(cell) else cell
