# SPDX-License-Identifier: GPL-3.0-or-later
"""The pages in Markdown lead to each other: every link and anchor is there, and each page is found from the first.

Also what the first page promises of itself: one screen a reader, every command, and a way for each.
"""

import os
import re
from pathlib import Path, PurePosixPath

import click
import pytest

from pages.markdown import anchors, links, sentences
from underglass_headless.cli import cli

ROOT = Path(__file__).resolve().parents[2]
FIRST = "README.md"
FOLDERS = ("blender_addon", "headless", "scenes", "tests")
PAGES = (FIRST, "DEVELOPERS.md", *(f"{folder}/{FIRST}" for folder in FOLDERS))

MOST_BYTES = 8192
# What names an address of the web in a test: a name with dots whose end is one of those that our sources have.
ADDRESS = re.compile(r"\b(?:[\w-]+\.)+(?:com|us|org|biz|wiki|info|ws|services|co\.uk)\b")


def read(page: str) -> str:
    return (ROOT / page).read_text(encoding="utf-8")


def missing(page: str, text: str) -> list[str]:
    """Return the links of ``text``, which stands at ``page``, that lead to no file or anchor of the project."""
    return [target for target in links(text) if not target.startswith("https://") and not there(page, text, target)]


def there(page: str, text: str, target: str) -> bool:
    place, _, anchor = target.partition("#")
    file = (ROOT / page).parent / place if place else ROOT / page
    if not (file.resolve().is_relative_to(ROOT) and file.exists()):
        return False
    return not anchor or anchor in anchors(file.read_text(encoding="utf-8") if place else text)


@pytest.mark.parametrize("page", PAGES)
def test_every_link_of_a_page_leads_somewhere(page):
    assert links(read(page))
    assert missing(page, read(page)) == []


def test_a_link_to_nothing_is_found():
    good = "# Here\n[a](#here) [b](README.md#cautions) `[c](no.md)`\n"
    bad = "[d](#there) [e](gone.md) [f](README.md#gone) [g](../x.md)\n"
    assert missing("DEVELOPERS.md", good + bad) == ["#there", "gone.md", "README.md#gone", "../x.md"]


def test_no_page_in_markdown_is_forgotten():
    found = set()
    for folder, below, names in os.walk(ROOT):
        # environments and caches are hidden folders, and full of other people's pages
        below[:] = [name for name in below if not name.startswith(".")]
        found |= {(Path(folder) / name).relative_to(ROOT).as_posix() for name in names if name.endswith(".md")}
    assert found == set(PAGES)


@pytest.mark.parametrize("page", PAGES[1:])
def test_the_first_page_leads_to_each_of_the_others_and_each_leads_back(page):
    assert page in {target.partition("#")[0] for target in links(read(FIRST))}
    up = PurePosixPath("../" * page.count("/")) / FIRST
    assert str(up) in links(read(page))


def test_the_first_page_is_one_screen_a_reader():
    assert len(read(FIRST).encode()) <= MOST_BYTES
    # the job is told in one paragraph before the picture, and each reader has a row with a link
    before, _, after = read(FIRST).partition("![")
    assert 4 <= len(sentences(before)) <= 10
    rows = {row.split(" | ")[0]: row for row in after.splitlines() if row.startswith("| a **")}
    assert [re.search(r"\*\*(.*)\*\*", name)[1] for name in rows] == [
        "stand operator",
        "previs artist",
        "farm wrangler",
    ]
    assert all(links(row) for row in rows.values())


def test_the_first_page_has_every_command_in_a_line():
    table = read(FIRST).partition("## Commands")[2].partition("\n## ")[0]
    assert {line.split()[1].strip("`") for line in table.splitlines() if line.startswith("| `")} == set(cli.commands)


@pytest.mark.parametrize("name", sorted(cli.commands))
def test_the_page_of_the_command_line_tells_of_every_option(name):
    page = read(f"headless/{FIRST}") + read(FIRST)
    options = [word for option in cli.commands[name].params if isinstance(option, click.Option) for word in option.opts]
    untold = [word for word in options if not re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", page)]
    # where a command writes to is -o DIR everywhere
    assert [word for word in untold if word != "--output"] == []


def test_every_outside_source_on_the_web_stands_in_the_list():
    listed = set(ADDRESS.findall(read(f"tests/{FIRST}")))
    files = [*(ROOT / "tests" / "outside").glob("test_published_*.py")]
    named = {address for file in files for address in ADDRESS.findall(file.read_text(encoding="utf-8"))}
    assert len(named) > 20
    assert named - listed == set()
