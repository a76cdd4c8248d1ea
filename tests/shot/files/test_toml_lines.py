# SPDX-License-Identifier: GPL-3.0-or-later
"""The line of each key of a TOML document."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shot_strategies import shots
from underglass.shot.files import shot_toml
from underglass.shot.files.toml_lines import key_lines
from underglass.shot.files.toml_text import value_text

DOCUMENT = '''\
# a comment with [brackets] and key = value
title = "a # b = [c]"   # more
"quoted key" = 'literal # ['
dotted . "x.y" = 1
long = """
[not.a.table]
a = 1 \\"""
"""
literal = \'\'\'
b = 2
\'\'\'
list = [
  1, # one
  "]",
  [2, 3],
]
inline = { a = 1, b = { c = "}" }, d = [ { e = 1 } ] }

[camera]
height = 48
[camera.gate]
width = 22

[[level]]
name = "reeds"
[level.art]
file = "x"
[[level]]
name = "hills"
[[level.wedge]]
step = 1
[[level.wedge]]
step = 2
'''
LINES = {
    "title": 2,
    "quoted key": 3,
    "dotted.x.y": 4,
    "long": 5,
    "literal": 9,
    "list": 12,
    "list[1]": 14,
    "list[2][1]": 15,
    "inline.b.c": 17,
    "inline.d[0].e": 17,
    "camera": 19,
    "camera.height": 20,
    "camera.gate": 21,
    "camera.gate.width": 22,
    "level": 24,
    "level[0]": 24,
    "level[0].name": 25,
    "level[0].art.file": 27,
    "level[1]": 28,
    "level[1].name": 29,
    "level[1].wedge[0].step": 31,
    "level[1].wedge[1].step": 33,
}


@pytest.mark.parametrize(("key", "line"), LINES.items())
def test_every_key_is_found_on_its_line(key, line):
    assert key_lines(DOCUMENT)[key] == line


def keys_of(value: object, path: str = "") -> set[str]:
    """Return the paths of everything in a document as tomllib reads it."""
    if isinstance(value, dict):
        items = [(f"{path}.{key}" if path else key, item) for key, item in value.items()]
    elif isinstance(value, list):
        items = [(f"{path}[{index}]", item) for index, item in enumerate(value)]
    else:
        items = []
    return {name for name, _ in items}.union(*(keys_of(item, name) for name, item in items))


def test_no_key_of_the_document_is_missed_and_none_is_invented():
    assert set(key_lines(DOCUMENT)) == keys_of(tomllib.loads(DOCUMENT))


@given(shots(most_levels=4))
def test_no_key_of_any_shot_is_missed(shot):
    text = shot_toml(shot)
    assert set(key_lines(text)) == keys_of(tomllib.loads(text))


def test_a_key_of_endless_parts_costs_no_more_than_its_text():
    text = f"{'.'.join(['a'] * 5_000)} = 1\nb = 2\n"
    lines = key_lines(text)
    assert lines["b"] == 2
    assert sum(map(len, lines)) < 1_000


TEXT = st.text(st.characters(codec="utf-8"), max_size=8)
VALUES = st.recursive(
    st.one_of(TEXT, st.integers(-(10**9), 10**9), st.floats(allow_nan=False, allow_infinity=False)),
    lambda inner: st.lists(inner, max_size=3),
)


@given(st.dictionaries(TEXT, VALUES, max_size=6))
def test_any_values_written_as_toml_read_back_on_the_lines_they_were_written_on(values):
    text = "".join(f"{value_text(key)} = {value_text(value)}\n" for key, value in values.items())
    assert tomllib.loads(text) == values
    lines = key_lines(text)
    assert [lines[key] for key in values if key.isalpha()] == [
        number for number, key in enumerate(values, start=1) if key.isalpha()
    ]


@given(VALUES)
def test_arrays_over_several_lines_are_stepped_over(value):
    text = f"a = [\n# ]\n{value_text(value)},\n]\nb = 1\n"
    assert key_lines(text)["b"] == text.count("\n")


def test_a_table_that_only_its_own_tables_tell_of_stands_where_the_first_of_them_does():
    text = 'a = 1\n[findings.off-art]\nseverity = "note"\n[findings.thin]\nseverity = "block"\n'
    lines = key_lines(text)
    assert (lines["findings"], lines["findings.off-art"], lines["findings.thin"]) == (2, 2, 4)
    assert set(lines) == keys_of(tomllib.loads(text))
