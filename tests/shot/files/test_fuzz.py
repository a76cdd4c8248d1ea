# SPDX-License-Identifier: GPL-3.0-or-later
"""Whatever is in the files, the reader gives a shot or says in one line what is wrong: nothing else is ever raised."""

import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from underglass.shot import ShotError
from underglass.shot.files import read_shot

KEYWORDS = ["shot", "schedule", "drawings"]
FILES = {"shot": "shot.toml", "schedule": "schedule.csv", "drawings": "drawings.csv"}
# Pieces that tend to break readers: brackets, quotes, signs, blanks of every kind, huge and odd numbers.
PIECES = st.sampled_from(
    [
        *"[]{}\"'#=,.;:\\\n\r\t\0 -+\x85\u2028\ufeffé١²",
        *["[[", "]]", '"""', "..", "\\ud800", "{drawing}", "camera", "reeds", "level", "true", "1979-05-27"],
        *["nan", "inf", "-inf", "1e999", "9" * 400, "0x" + "f" * 400],
    ]
)
FUZZ = settings(
    max_examples=300,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def read_or_refuse(folder: Path) -> None:
    try:
        shot = read_shot(folder)
    except ShotError as error:
        told = error
    else:
        assert shot.levels
        return
    assert "\n" not in str(told)
    assert told.problem
    assert told.remedy


@FUZZ
@given(data=st.data())
@pytest.mark.parametrize("keyword", KEYWORDS)
def test_a_file_of_any_bytes_is_read_or_refused(lay_out, keyword, data):
    folder = lay_out()
    (folder / FILES[keyword]).write_bytes(data.draw(st.binary(max_size=200)))
    read_or_refuse(folder)


@st.composite
def mutated(draw: st.DrawFn, text: str) -> bytes:
    """Draw a good text with up to four pieces put in, taken out, moved or repeated."""
    data = text.encode()
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(data)))
        end = min(len(data), at + draw(st.integers(0, 12)))
        piece = draw(st.one_of(PIECES.map(str.encode), st.binary(max_size=3), st.just(data[at:end] * 2)))
        data = data[:at] + piece + data[end:]
    return data


@FUZZ
@given(data=st.data())
@pytest.mark.parametrize("keyword", KEYWORDS)
def test_a_good_file_with_pieces_changed_is_read_or_refused(lay_out, texts, keyword, data):
    folder = lay_out()
    (folder / FILES[keyword]).write_bytes(data.draw(mutated(texts[keyword])))
    read_or_refuse(folder)


@FUZZ
@given(data=st.data())
@pytest.mark.parametrize("keyword", KEYWORDS)
def test_a_good_file_with_a_line_or_a_value_replaced_is_read_or_refused(lay_out, texts, keyword, data):
    folder = lay_out()
    lines = texts[keyword].split("\n")
    at = data.draw(st.integers(0, len(lines) - 1))
    separator = "=" if keyword == "shot" else ","
    cells = lines[at].split(separator)
    cells[data.draw(st.integers(0, len(cells) - 1))] = data.draw(st.lists(PIECES, max_size=3).map("".join))
    lines[at] = separator.join(cells)
    (folder / FILES[keyword]).write_bytes("\n".join(lines).encode("utf-8", "surrogatepass"))
    read_or_refuse(folder)


@FUZZ
@given(data=st.data())
def test_art_of_any_bytes_is_read_or_refused(lay_out, data):
    folder = lay_out()
    path = folder / "art/reeds.png"
    good = path.read_bytes()
    heads = [b"\x89PNG\r\n\x1a\n", good[:33], b"II*\0", b"MM\0+\0\x08\0\0", b"\x76\x2f\x31\x01\x02\0\0\0channels\0"]
    path.write_bytes(data.draw(st.sampled_from(heads)) + data.draw(st.binary(max_size=120)))
    suffix = data.draw(st.sampled_from([".png", ".tif", ".exr"]))
    path.replace(path.with_suffix(suffix))
    shot = folder / "shot.toml"
    shot.write_text(shot.read_text().replace("art/reeds.png", f"art/reeds{suffix}"))
    read_or_refuse(folder)


@given(name=st.text(st.characters(codec="utf-8"), min_size=1, max_size=20))
def test_a_path_of_any_characters_is_read_or_refused(name):
    with tempfile.TemporaryDirectory() as folder:
        with pytest.raises(ShotError) as caught:
            read_shot(Path(folder) / name.strip("/.") / "shot.toml")
        assert "\n" not in str(caught.value)
