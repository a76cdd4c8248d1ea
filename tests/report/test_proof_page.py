# SPDX-License-Identifier: GPL-3.0-or-later
"""The page: whole HTML that no name can break, in the order that a reader asks."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest

from report import synthetic
from underglass_headless.report import proof_page as page
from underglass_headless.report.proof_page import proof_page

VOID = {"meta", "img", "br", "link", "input", "hr"}
PROOFS = {
    "pass": synthetic.passing(),
    "fail": synthetic.failing(),
    "hostile names": synthetic.failing(synthetic.HOSTILE),
    "nothing rendered": replace(synthetic.passing(), measurements=(), rendered_frames=(), pictures={}, seconds={}),
}


class Reader(HTMLParser):
    """Reads a page strictly: every element is closed in order; texts, tags and attributes are kept."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: list[str] = []
        self.texts: list[str] = []
        self.attributes: list[tuple[str, str, str | None]] = []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, name, value) for name, value in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        assert self.open.pop() == tag, f"</{tag}> closes another element"

    def handle_data(self, data):
        if self.open and self.open[-1] not in ("style",):
            self.texts.append(data)


def read(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    reader.close()
    assert reader.open == []
    return reader


@pytest.mark.parametrize("proof", PROOFS.values(), ids=PROOFS.keys())
def test_the_page_is_whole_and_stands_alone(proof):
    html = proof_page(proof)
    reader = read(html)
    assert html.startswith("<!doctype html>")
    assert not {"script", "link", "iframe", "object", "base"} & set(reader.tags)
    assert not [name for _, name, _ in reader.attributes if name.startswith("on")]
    sources = [value for _, name, value in reader.attributes if name in ("src", "href") and not value.startswith("#")]
    assert all(not re.match("[a-z]+:|/", source) for source in sources)
    assert "url(http" not in html
    assert "@import" not in html


def test_names_are_text_and_nothing_else():
    html = proof_page(PROOFS["hostile names"])
    assert "<script" not in html
    words = " ".join(read(html).texts)
    for name in synthetic.HOSTILE[:4]:
        assert name in words


def test_a_title_is_text_too():
    proof = synthetic.passing()
    title = '</title><img src=x onerror="alert(1)"> & “quoted”'
    shot = replace(proof.plan.shot, title=title)
    reader = read(proof_page(replace(proof, plan=replace(proof.plan, shot=shot))))
    assert title in reader.texts
    assert reader.tags.count("img") == len(synthetic.TEST_FRAMES)


def test_the_reader_s_questions_are_answered_in_order():
    words = " ".join(" ".join(read(proof_page(synthetic.failing())).texts).split())
    order = [
        "Fails: reeds is 0.25 in too high from frame 20 to 48: up to 4.31 px on screen, and 1 more fault.",
        "What is wrong",
        "boat is hidden on frames 41 to 48",
        "The frames that were rendered",
        "Level by level",
        "Width of the art on screen",
        "Measured − planned",
        "The stand from the side",
        "Every measurement",
        "How it was measured",
        "coverage factor k = 2",
        "5.0.1",
    ]
    places = [words.index(part) for part in order]
    assert places == sorted(places)


def test_a_pass_names_no_fault():
    html = proof_page(synthetic.passing())
    assert "Passes: all 5 levels are where planned" in html
    assert "What is wrong" not in html
    assert 'class="bad"' not in html


def test_every_picture_is_linked_beside_the_page_with_words_in_its_place():
    proof = synthetic.failing()
    reader = read(proof_page(proof))
    images = [value for tag, name, value in reader.attributes if tag == "img" and name == "src"]
    words = [value for tag, name, value in reader.attributes if tag == "img" and name == "alt"]
    assert images == [f"frames/frame-{frame:04d}.png" for frame in synthetic.TEST_FRAMES]
    assert words[0] == "Frame 1 of Estuary at first light as rendered; every level as planned"
    assert words[-1] == "Frame 48 of Estuary at first light as rendered; off or missing: reeds and boat"


def test_a_picture_s_name_cannot_become_an_address():
    proof = replace(synthetic.passing(), pictures={1: Path("javascript:alert(1)"), 9: Path('a b"><script>.png')})
    reader = read(proof_page(proof))
    images = [value for tag, name, value in reader.attributes if tag == "img" and name == "src"]
    assert images == ["javascript%3Aalert%281%29", "a%20b%22%3E%3Cscript%3E.png"]


def test_a_long_table_is_folded_and_a_short_one_is_not():
    proof = synthetic.failing()
    assert "details" in read(proof_page(proof)).tags
    assert "details" not in read(proof_page(replace(proof, measurements=proof.measurements[:10]))).tags


def test_of_very_many_measurements_the_worst_are_listed(monkeypatch):
    monkeypatch.setattr(page, "MOST_ROWS", 6)
    proof = synthetic.failing()
    html = proof_page(proof)
    assert f"{len(proof.measurements) - 6} more are in" in html
    rows = re.findall(r'<td class="n">(\d+)</td><th scope="row"><bdi title="([^"]+)"', html)
    assert rows == [("25", "reeds"), ("33", "reeds"), ("41", "reeds"), ("41", "boat"), ("48", "reeds"), ("48", "boat")]


def test_of_very_many_pictures_an_even_choice_is_shown(monkeypatch):
    monkeypatch.setattr(page, "MOST_PICTURES", 3)
    html = proof_page(synthetic.passing())
    assert html.count("<img ") == 3
    assert "4 more frames lie beside this page" in html


def test_drawings_are_inside_the_page_and_follow_its_colours():
    html = proof_page(synthetic.passing())
    drawings = [part for part in re.findall("<svg.*?</svg>", html, flags=re.DOTALL) if "xmlns" in part]
    assert len(drawings) == 4
    for svg in drawings:
        ET.fromstring(svg)
        assert "var(--level-0)" in svg
    assert "prefers-color-scheme: dark" in html
    assert "@media print" in html
