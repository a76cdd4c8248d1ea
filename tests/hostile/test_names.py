# SPDX-License-Identifier: GPL-3.0-or-later
"""Names of levels, titles and layers that are made to break out of a page, a table, a drawing, a file name, a terminal.

Each goes through every command that writes; what it writes is taken apart by another reader, and must have the same
build as with plain names. Formulas: OWASP, "CSV Injection": cells that begin with = + - @, tab or carriage return.
"""

import csv
import io
import json
import re
import unicodedata
from collections import Counter
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest

from layered.paintings import noise, png, write_ora
from report import synthetic
from small_shots import PERSPECTIVE, one_colour
from underglass.proof.proof_json import proof_json
from underglass.proof.proof_summary import summary_lines
from underglass.shot.files import read_shot
from underglass.shot.files.toml_text import value_text
from underglass_headless import cli
from underglass_headless.report.csv_formulas import cell_from_text, text_from_cell
from underglass_headless.report.csv_tables import measurement_table
from underglass_headless.report.junit import junit_xml
from underglass_headless.report.proof_page import proof_page

NAMES = {
    "formula": '=HYPERLINK("http://x","y")',
    "plus": "+1",
    "minus": "-1",
    "at": "@SUM(A1)",
    "wide equals": "＝1+1",
    "apostrophe": "'=1",
    "script": "<script>alert(1)</script>",
    "attribute": "\"'&'>",
    "cdata": "]]>",
    "comment": "--><b>",
    "template": "{{ shot }}{% raw %}",
    "climb": "../../x",
    "folder": "a/b",
    "backslash": "a\\b",
    "shell": "$(touch x)",
    "next command": ";rm -rf x",
    "backquotes": "`touch x`",
    "option": "--output",
    "device": "CON",
    "device with suffix": "nul.png",
    "dots": "reeds...",
    "only dots": "..",
    "percent": "%s%n%25",
    "math text": "$\\frac{1}{2}$",
    "bidi": "reeds\u202egnp.exe",
    "isolate": "\u2066reeds",
    "emoji": "🦆👨\u200d👩\u200d👧",
    "accents": "e" + "\u0301" * 25,
    "line of markup": "[red]x[/red]",
}
REFUSED = {
    "nul": "a\0b",
    "escape": "\x1b[2J",
    "C1": "\x9b31m",
    "line": "a\nb",
    "return": "\rx",
    "tab": "\t=1",
    "paragraph": "a\u2029b",
    "long": "x" * 300,
    "blank at its end": "reeds ",
    "nothing": "",
}
# These are tried whenever the tests run, the others with the suite ``soak``: each paper takes a second or two to draw.
OFTEN = ("formula", "attribute", "bidi")
RISKY = tuple("=+-@\t\r＝＋－＠")
_SVG = "{http://www.w3.org/2000/svg}"


def some(*names: dict[str, str]) -> list[object]:
    """Return parameters for all ``names``, those marked soak that are not tried often."""
    every = {key: value for some in names for key, value in some.items()}
    return [pytest.param(value, id=key, marks=() if key in OFTEN else pytest.mark.soak) for key, value in every.items()]


class Build(HTMLParser):
    """Counts the elements and attributes of a page, and gathers its words."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.parts: Counter[str] = Counter()
        self.words: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.parts.update([tag, *(f"{tag} {name}" for name, _ in attrs)])

    def handle_data(self, data):
        self.words.append(data)


def lay_out(folder: Path, name: str, *, title: str = "") -> Path:
    """Lay out a shot of two levels, the nearest called ``name``, which moves; return its shot.toml."""
    one_colour(folder / "art/grey.png", (128, 128, 128, 255))
    levels = "".join(
        f'[[level]]\nname = {_toml(who)}\nart = "art/grey.png"\nart_width = {width}\nheight = {height}\n'
        for who, width, height in ((name, 40.0, 1000.0), ("sky", 900.0, 100.0))
    )
    (folder / "shot.toml").write_text(
        f'format = 1\ntitle = {_toml(title or name)}\nunits = "mm"\nfps = 24\nframes = [1, 3]\n'
        f'schedule = "schedule.csv"\n[camera]\n{PERSPECTIVE}frame_px = [64, 48]\nheight = 1300.0\n{levels}',
        encoding="utf-8",
    )
    (folder / "schedule.csv").write_text(
        f"part,axis,first,last,from,to,law,slow_out,slow_in\n{_csv(name)},east,1,3,0,2,steady,,\n", encoding="utf-8"
    )
    return folder / "shot.toml"


def _toml(text: str) -> str:
    # C1 control characters may stand in TOML as they are, and so may all that is visible.
    return value_text(text)


def _csv(text: str) -> str:
    file = io.StringIO()
    csv.writer(file, lineterminator="").writerow([text])
    return file.getvalue()


def run(words: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str, str]:
    """Run a command; whatever it says must do a terminal no harm."""
    status = cli.run(words)
    out, err = capsys.readouterr()
    for text in (out, err):
        assert not unseen(text), f"{words[0]} says {text!r}"
    return status, out, err


def unseen(text: str) -> list[str]:
    """Return the characters of ``text`` that steer a terminal, or turn its reading round."""
    joiners = "\u200c\u200d"
    return [c for c in text if unicodedata.category(c) in {"Cc", "Cf", "Zl", "Zp", "Cs"} and c not in f"\n{joiners}"]


def made_in(folder: Path) -> Iterator[tuple[str, str]]:
    for path in sorted(folder.rglob("*")):
        if path.suffix in {".html", ".svg", ".csv"}:
            yield path.relative_to(folder).as_posix(), path.read_text(encoding="utf-8")


def rows_of(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text), strict=True))


def is_number(cell: str) -> bool:
    return re.fullmatch(r"[+-]?[0-9.]+(e[+-]?[0-9]+)?", cell) is not None


@pytest.fixture
def world(tmp_path: Path) -> Path:
    """Return a folder of its own, beside which nothing may appear."""
    (tmp_path / "world").mkdir()
    return tmp_path / "world"


def nothing_beside(world: Path) -> None:
    assert [path.name for path in world.parent.iterdir()] == ["world"]
    for path in world.rglob("*"):
        assert path.name == path.name.rstrip(". "), path
        assert not re.search(r'[\\:*?"<>|\x00-\x1f]', path.name), path
        assert len(path.name.encode()) <= 255
        assert not re.match(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\.|$)", path.name), path


@pytest.mark.parametrize("name", some(NAMES))
def test_a_name_goes_through_every_paper_and_breaks_none(name, world, capsys):
    shot, plain_shot = lay_out(world / "shot", name), lay_out(world / "plain", "reeds", title="reeds")
    assert read_shot(shot).levels[0].name == name
    pages = {}
    for kind, place in (("odd", shot), ("plain", plain_shot)):
        out = world / f"{kind} papers"
        for words in (["check", str(place)], ["sheets", str(place), "-o", str(out / "sheets")]):
            assert run(words, capsys)[0] in {0, 1}
        assert run(["guide", str(place), "-o", str(out / "guide")], capsys)[0] == 0
        assert run(["table", str(place), "-o", str(out / "table.csv")], capsys)[0] == 0
        pages[kind] = list(made_in(out))
    # the name of a level stands in the names of some files, so these are compared by their order
    assert len(pages["odd"]) == len(pages["plain"]) >= 8
    by_kind = {kind: sorted(pages[kind], key=lambda page: (page[0].rpartition(".")[2], page[0])) for kind in pages}
    builds = {kind: Counter(Path(path).suffix for path, _ in pages[kind]) for kind in pages}
    assert builds["odd"] == builds["plain"]
    pages_alike(by_kind["odd"], by_kind["plain"])
    read = [row for path, text in pages["odd"] if path.endswith(".csv") for row in rows_of(text)]
    assert name in {text_from_cell(cell) for row in read for cell in row}
    for row in read:
        for cell in row:
            assert not cell.startswith(RISKY) or is_number(cell), f"a spreadsheet would reckon with {cell!r}"
    status, out, _ = run(["check", str(shot), "--json"], capsys)
    assert status in {0, 1}
    json.loads(out)
    nothing_beside(world)


def pages_alike(odd: list[tuple[str, str]], plain: list[tuple[str, str]]) -> None:
    """Check that pages and drawings have the same elements with one name as with the other."""
    for suffix in (".html", ".svg"):
        ours, theirs = ([text for path, text in pages if path.endswith(suffix)] for pages in (odd, plain))
        parts = [sum((_parts(text, suffix) for text in texts), Counter()) for texts in (ours, theirs)]
        for wild in ("script", "b", "iframe", "link"):
            assert parts[0][wild] == parts[1][wild]
        assert set(parts[0]) == set(parts[1])


def _parts(text: str, suffix: str) -> "Counter[str]":
    if suffix == ".html":
        return Build(text).parts
    root = ElementTree.fromstring(text)
    return Counter(element.tag.removeprefix(_SVG) for element in root.iter())


@pytest.mark.parametrize("name", REFUSED.values(), ids=REFUSED)
@pytest.mark.parametrize("command", ["check", "table"])
def test_a_name_that_no_paper_can_bear_is_refused_in_a_line(name, command, world, capsys):
    shot = lay_out(world / "shot", name, title="reeds")
    status, out, err = run([command, str(shot)], capsys)
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert "name" in err


def test_a_path_of_escapes_does_not_reach_the_terminal(world, capsys):
    status, _, err = run(["check", str(world / "\x1b[2J\x07\u202e.toml")], capsys)
    assert (status, err.count("\n")) == (2, 1)
    status, _, err = run(["prove", "--frames", "\x1b[2J", "x"], capsys)
    assert (status, err.count("\n")) == (2, 1)


@pytest.mark.parametrize("name", some(NAMES, REFUSED, {"half": "half\udce9"}))
def test_a_name_in_a_proof_breaks_no_report(name):
    names = (name, *synthetic.NAMES[1:])
    for made, plainly in (
        (synthetic.passing(names), synthetic.passing()),
        (synthetic.failing(names), synthetic.failing()),
    ):
        build, wanted = Build(proof_page(made)), Build(proof_page(plainly))
        assert set(build.parts) - set(wanted.parts) <= {"bdi title"}
        assert build.parts["script"] == wanted.parts["script"]
        record = json.loads(proof_json(made))
        assert name in json.dumps(record, ensure_ascii=False) or json.dumps(name)[1:-1] in json.dumps(record)
        xml, plain_xml = (ElementTree.fromstring(junit_xml(proof).encode()) for proof in (made, plainly))
        assert {one.tag for one in xml.iter()} == {one.tag for one in plain_xml.iter()}
        rows = rows_of(measurement_table(made))
        assert {len(row) for row in rows} == {len(rows[0])}
        assert text_from_cell(rows[1][1]).replace("\r\n", "\n") == name.replace("\r\n", "\n")
        for row in rows[1:]:
            assert not row[1].startswith(RISKY)
        for line in summary_lines(made, results=Path("out")):
            assert not unseen(line)


@pytest.mark.parametrize("text", [*NAMES.values(), "", "reeds", "'", "''=x", "'x", "a,b", 'say "b"', "=1,2"])
def test_a_cell_that_was_made_harmless_comes_back_as_it_was(text):
    ((cell, _),) = rows_of(f"{cell_from_text(text)},x\n")
    assert text_from_cell(cell) == text
    assert not cell.startswith(RISKY)


def test_a_negative_number_stays_a_number(world, capsys):
    shot = lay_out(world / "shot", "-1")
    text = (world / "shot" / "shot.toml").read_text().replace("art_width = 40.0", "art_width = 40.0\neast = -7.5")
    shot.write_text(text)
    (world / "shot" / "schedule.csv").write_text("part,axis,first,last,from,to,law\n-1,east,1,3,-7.5,-9,steady\n")
    _, out, _ = run(["table", str(shot)], capsys)
    header, first = rows_of(out)[:2]
    row = dict(zip(header, first, strict=True))
    assert row["level"] == "'-1"
    assert float(row["x"]) < 0


@pytest.mark.parametrize("name", [*NAMES.values(), *REFUSED.values()], ids=[*NAMES, *REFUSED])
def test_a_layer_of_any_name_becomes_a_level_with_a_file_of_its_own(name, world, capsys):
    layers = "".join(f'<layer name={_xml(who)} src="data/a.png"/>' for who in (name, name, "sky"))
    path = write_ora(world / "x.ora", layers, {"data/a.png": png(noise((16, 12), seed=4))})
    status, _, err = run(["new", str(path), "-o", str(world / "made")], capsys)
    if status == 2:
        # XML itself has no way to spell some of these
        assert set(name) & set("\0\x1b\x9b")
        assert err.count("\n") == 1
        return
    assert status == 0
    shot = read_shot(world / "made")
    assert len({level.name for level in shot.levels}) == len({level.art for level in shot.levels}) == 3
    for level in shot.levels:
        assert not unseen(level.name)
        assert (world / "made" / level.art).resolve().is_relative_to((world / "made" / "art").resolve())
        # between double quotes a shell would still run these; a dash in front would read as an option
        assert not re.search(r"[$`\\\n]|^-", Path(level.art).name)
    nothing_beside(world)


def _xml(text: str) -> str:
    from xml.sax.saxutils import quoteattr

    return quoteattr(text)
