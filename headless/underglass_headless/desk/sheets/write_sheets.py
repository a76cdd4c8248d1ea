# SPDX-License-Identifier: GPL-3.0-or-later
"""Writing a set of sheets: the page, a folder of CSV files, and a PDF where a browser can make one."""

from pathlib import Path

from underglass.plan import make_plan
from underglass.shot.files import read_shot

from ...results import publish, work_folder, write_bytes, write_text
from .make_sheets import operator_sets
from .print_pdf import print_page
from .sheet_tables import csv_files
from .sheets_page import sheets_page

PAGE = "sheets.html"
PDF = "sheets.pdf"
READINGS = "readings"


def write_sheets(shot: Path, *, folder: Path, pdf: bool = False, paper: str = "a4") -> list[Path]:
    """Write the sheets of the shot in ``shot`` into ``folder`` and return what was written.

    The page and the readings appear together; the PDF after them. Raises ShotError, ResultError.
    """
    plan = make_plan(read_shot(shot))
    sets = operator_sets(plan)
    page = sheets_page(plan, sets=sets)
    with work_folder(folder) as making:
        made = making / READINGS
        made.mkdir()
        for name, text in csv_files(plan, sets=sets).items():
            write_text(made / name, text)
        publish({folder / PAGE: page}, made=made, placed=folder / READINGS, making=making)
        written = [folder / PAGE, folder / READINGS]
        if pdf:
            write_bytes(folder / PDF, print_page(page, making=making, paper=paper, asked=folder / PAGE))
            written.append(folder / PDF)
    return written
