# SPDX-License-Identifier: GPL-3.0-or-later
"""The page of the position sheets: whole HTML that no name can break, on so many pages of paper; and the command."""

import os
import re
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import pytest

from desk.sheets.test_sheets import HOSTILE, hostile_plan
from underglass.plan import make_plan
from underglass.plan.headings import WORDS
from underglass.shot.files import read_shot
from underglass_headless import cli
from underglass_headless.cli import Status
from underglass_headless.desk.sheets import print_pdf
from underglass_headless.desk.sheets.cautions import CAUTIONS, DEFERENCE
from underglass_headless.desk.sheets.make_sheets import operator_sets
from underglass_headless.desk.sheets.sheet_drawings import ARROWS, place_in_frame
from underglass_headless.desk.sheets.sheets_page import sheets_page

ESTUARY = Path(__file__).resolve().parents[3] / "scenes" / "estuary"
VOID = {"meta", "br", "hr", "img", "input", "link"}


class Reader(HTMLParser):
    """Keeps the words of a page by the elements they stand in, and fails where elements do not close in order."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.words: list[tuple[str, str]] = []
        self.count: dict[str, int] = {}
        self.ids: list[str] = []
        self.uses: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        self.count[tag] = self.count.get(tag, 0) + 1
        self.ids += [said["id"]] if "id" in said else []
        if tag == "use":
            self.uses.add(said["href"])
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        assert self.open
        assert self.open.pop() == tag, self.getpos()

    def handle_data(self, data: str) -> None:
        if data.strip():
            self.words.append((self.open[-1] if self.open else "", data.strip()))


def read_page(text: str) -> Reader:
    reader = Reader()
    reader.feed(text)
    reader.close()
    assert reader.open == []
    return reader


def page_of(plan) -> str:
    return sheets_page(plan, sets=operator_sets(plan))


@pytest.fixture(scope="module")
def estuary():
    return make_plan(read_shot(ESTUARY))


@pytest.fixture(scope="module")
def page(estuary):
    return page_of(estuary)


def test_the_page_is_whole_and_has_a_section_for_each_operator_and_the_exposure_sheet(page, estuary):
    reader = read_page(page)
    assert reader.count["section"] == len(estuary.names) + 2
    assert len(set(reader.ids)) == len(reader.ids)
    assert reader.uses <= {f"#{name}" for name in reader.ids}


def test_every_set_is_headed_by_the_cautions(page, estuary):
    words = [text for _, text in read_page(page).words]
    for text in (*CAUTIONS.values(), DEFERENCE):
        assert words.count(text) == len(estuary.names) + 1


def test_every_heading_has_an_arrow():
    assert set(ARROWS) == {word for words in WORDS.values() for word in words}
    assert len(set(ARROWS.values())) == len(ARROWS)


def test_the_page_needs_no_other_file_and_no_script(page):
    assert not re.search(r"<script|<link|<img|https?://(?!www\.w3\.org)|url\(", page)


def test_no_name_breaks_the_page():
    reader = read_page(page_of(hostile_plan()))
    said = [text for where, text in reader.words if where == "bdi"]
    for name in HOSTILE:
        assert name.replace("\u202e", "□") in said
    assert "script" not in reader.count
    assert reader.count["title"] == 1
    assert reader.count["style"] == 1
    assert "\u202e" not in page_of(hostile_plan())


def test_the_cross_is_where_the_art_sits_and_stays_in_the_drawing():
    def cross(u: float, v: float) -> tuple[float, float]:
        drawing = place_in_frame(((0, 0), (0, 0), (0, 0), (0, 0), (u, v)), aspect=4 / 3)
        found = re.search(r'class="centre" cx="([0-9.-]+)" cy="([0-9.-]+)"', drawing)
        return float(found[1]), float(found[2])

    middle = cross(0, 0)
    right, up = cross(0.25, 0), cross(0, 0.25)
    assert (right[0] - middle[0], right[1] - middle[1]) == pytest.approx((25, 0))
    # up on the screen is less in a drawing, and the frame is three quarters as high as wide
    assert (up[0] - middle[0], up[1] - middle[1]) == pytest.approx((0, -18.75), abs=0.02)
    far = cross(9, -9)
    assert 0 < far[0] < 2 * middle[0]
    assert 0 < far[1] < 2 * middle[1]


# -- the command -------------------------------------------------------------------------------------------------------


def test_the_command_writes_the_page_and_a_table_for_each_operator(tmp_path, capsys):
    out = tmp_path / "sheets"
    assert cli.run(["sheets", str(ESTUARY), "-o", str(out)]) == Status.HOLDS
    assert capsys.readouterr().out == f"wrote {out / 'sheets.html'}\nwrote {out / 'readings'}\n"
    assert sorted(path.name for path in out.iterdir()) == ["readings", "sheets.html"]
    tables = {path.name for path in (out / "readings").iterdir()}
    assert {"camera.csv", "morning star.csv", "all readings.csv", "exposure sheet.csv"} <= tables
    assert len(tables) == 8 + 3


def test_tables_of_an_earlier_run_do_not_stay(tmp_path):
    stale = tmp_path / "readings" / "old level.csv"
    stale.parent.mkdir()
    stale.touch()
    assert cli.run(["sheets", str(ESTUARY), "-o", str(tmp_path)]) == Status.HOLDS
    assert not stale.exists()


def test_a_shot_that_is_not_there_writes_nothing(tmp_path):
    assert cli.run(["sheets", str(tmp_path / "nowhere.toml"), "-o", str(tmp_path / "out")]) == Status.BAD_INPUT
    assert not (tmp_path / "out").exists()


def test_without_a_browser_the_page_is_there_and_a_line_says_how(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(print_pdf.shutil, "which", lambda _name: None)
    assert cli.run(["sheets", str(ESTUARY), "-o", str(tmp_path), "--pdf"]) == Status.BAD_INPUT
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert f"open {tmp_path / 'sheets.html'} in any browser and print it to PDF" in told
    assert (tmp_path / "sheets.html").exists()
    assert not (tmp_path / "sheets.pdf").exists()


def test_a_browser_that_prints_nothing_is_told(tmp_path, capsys, monkeypatch):
    broken = tmp_path / "chromium"
    broken.write_text("#!/bin/sh\nexit 1\n")
    broken.chmod(0o755)
    monkeypatch.setattr(print_pdf, "find_browser", lambda: str(broken))
    assert cli.run(["sheets", str(ESTUARY), "-o", str(tmp_path / "out"), "--pdf"]) == Status.BAD_INPUT
    assert "printed nothing" in capsys.readouterr().err
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["readings", "sheets.html"]


# What is shot: nine sets, of which three are one page (they never move) and the others four (24 frames beside the
# line-up, then 40, 40 and 40); and three pages of the exposure sheet, with 48 or so frames each.
ESTUARY_PAGES = 3 * 1 + 6 * 4 + 3


@pytest.mark.slow
@pytest.mark.parametrize(("paper", "width", "height"), [("a4", 210.0, 297.0), ("letter", 215.9, 279.4)])
def test_the_estuary_fills_so_many_pages_of_each_paper(tmp_path, paper, width, height):
    if print_pdf.find_browser() is None:
        pytest.skip("no Chromium to print with")
    assert cli.run(["sheets", str(ESTUARY), "-o", str(tmp_path), "--pdf", "--paper", paper]) == Status.HOLDS
    assert sorted(path.name for path in tmp_path.iterdir()) == ["readings", "sheets.html", "sheets.pdf"]
    printed = (tmp_path / "sheets.pdf").read_bytes()
    pages = re.findall(rb"/Type /Page\b.*?/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]", printed, re.DOTALL)
    sizes = {(round(float(w) * 25.4 / 72), round(float(h) * 25.4 / 72)) for w, h in pages}
    assert sizes == {(round(width), round(height))}
    assert len(pages) in range(ESTUARY_PAGES, ESTUARY_PAGES + 2)


def test_a_browser_starts_without_its_sandbox_for_root_alone(tmp_path, monkeypatch):
    seen = []

    def run(command, **_options):
        seen.append(command)
        (tmp_path / "print.pdf").write_bytes(b"%PDF")

    monkeypatch.setattr(print_pdf, "find_browser", lambda: "chromium")
    monkeypatch.setattr(subprocess, "run", run)
    for user in (0, 1000):
        monkeypatch.setattr(os, "geteuid", lambda user=user: user)
        assert print_pdf.print_page("<head></head>", making=tmp_path, paper="a4", asked=tmp_path) == b"%PDF"
    assert ["--no-sandbox" in command for command in seen] == [True, False]
    assert "size: A4" in (tmp_path / "print.html").read_text()
