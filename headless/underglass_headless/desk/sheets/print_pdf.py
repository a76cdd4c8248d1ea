# SPDX-License-Identifier: GPL-3.0-or-later
"""Printing the page to a PDF, by a browser that is there: Chromium, or one of its kin."""

import os
import shutil
import subprocess
from pathlib import Path

from underglass.shot import UnderglassError

from ...results import write_text

# Names of commands, the plainest first.
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "microsoft-edge")
PAPERS = {"a4": "A4", "letter": "letter"}
# Forty frames fill a page of each, lines of a sheet being as high as that leaves.
_LINE_MM = {"a4": 6.15, "letter": 5.75}
_MOST_SECONDS = 180


class PrintError(UnderglassError):
    """No PDF was made: one line with the reason and another way."""


def find_browser() -> str | None:
    """Return the path of a browser that prints without a window, None where there is none."""
    return next((path for name in BROWSERS if (path := shutil.which(name))), None)


def print_page(page: str, *, making: Path, paper: str, asked: Path) -> bytes:
    """Return the HTML text ``page`` as a PDF on ``paper``, a key of PAPERS.

    ``making`` is a folder for files in between; ``asked`` is what is named where it fails, with a PrintError.
    """
    browser = find_browser()
    by_hand = f"open {asked} in any browser and print it to PDF"
    if browser is None:
        raise PrintError(f"no PDF was made: no Chromium was found on this machine; install it, or {by_hand}")
    size = (
        f"<style>@page {{ size: {PAPERS[paper]} }} @page lying {{ size: {PAPERS[paper]} landscape }}"
        f" .upright .sheet tbody tr {{ height: {_LINE_MM[paper]}mm }}</style></head>"
    )
    source, target = making / "print.html", making / "print.pdf"
    write_text(source, page.replace("</head>", size, 1))
    command = [
        *(browser, "--headless", "--disable-gpu", "--no-pdf-header-footer", f"--user-data-dir={making / 'browser'}"),
        # the browser's own sandbox does not start for root, as whom CI machines run
        *(["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []),
        *(f"--print-to-pdf={target.resolve()}", source.resolve().as_uri()),
    ]
    try:
        subprocess.run(command, capture_output=True, timeout=_MOST_SECONDS, check=False)
        return target.read_bytes()
    except (OSError, subprocess.TimeoutExpired) as error:
        reason = "took too long" if isinstance(error, subprocess.TimeoutExpired) else "printed nothing"
        raise PrintError(f"no PDF was made: {browser} {reason}; {by_hand}") from None
