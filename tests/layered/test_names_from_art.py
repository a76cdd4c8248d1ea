# SPDX-License-Identifier: GPL-3.0-or-later
"""Names of levels and art files made of whatever a painter called a layer."""

import unicodedata
from pathlib import PurePosixPath, PureWindowsPath

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from underglass.layered.names_from_art import file_names, layer_name, level_names
from underglass.shot.files.levels import MOST_NAME_BYTES, RESERVED_NAMES
from underglass.shot.words import has_control_characters

LAYER_NAMES = st.lists(
    st.text(max_size=80) | st.sampled_from(["camera", "Frame", "con", "NUL.txt", "x" * 300, "мост", "a/b", "", "\0"]),
    max_size=12,
)


@pytest.mark.parametrize(
    "name", ["reeds", "far hills", "Небо на рассвете", "trees / oak", 'the "tall" barn', "fog, 2nd"]
)
def test_a_good_name_stays_as_it_is(name):
    assert level_names([name]) == (name,)


@pytest.mark.parametrize(
    ("given_name", "level"),
    [
        ("  reeds ", "reeds"),
        ("two\nlines\there", "two lines here"),
        ("", "layer"),
        ("\u200b\u202e", "layer"),
        ("camera", "camera level"),
        ("Infinity", "Infinity level"),
        ("frame", "frame level"),
        ("н" * 300, "н" * 31),
        ("e\u0301tude", "étude"),
    ],
)
def test_a_name_that_no_level_can_bear_becomes_its_nearest(given_name, level):
    assert level_names([given_name]) == (level,)


def test_layers_of_one_name_are_counted():
    assert level_names(["fog", "fog", "fog 2", "fog"]) == ("fog", "fog 2", "fog 2 2", "fog 3")


def test_a_count_fits_into_a_long_name():
    first, second = level_names(["x" * 300] * 2)
    assert len(first) == MOST_NAME_BYTES == len(second)
    assert second.endswith("x 2")


def test_art_files_that_differ_in_case_alone_are_told_apart():
    assert file_names(["Fog", "fog"], suffixes=[".png", ".tif"]) == ("Fog.png", "fog 2.tif")


@pytest.mark.parametrize(
    ("given_name", "stem"),
    [
        ("trees / oak", "trees_oak"),
        ("..\\..\\passwd", "passwd"),
        ("/etc/passwd", "etc_passwd"),
        ("heron_{drawing}", "heron_drawing"),
        (".hidden", "hidden"),
        ("NUL", "NUL_"),
        ("com1.old", "com1_.old"),
        ("?", "layer"),
        ("Небо", "Небо"),
    ],
)
def test_an_art_file_gets_a_name_that_every_system_takes(given_name, stem):
    assert file_names([given_name], suffixes=[".png"]) == (f"{stem}.png",)


@given(LAYER_NAMES)
@example(["a", "a 2", "a"])
@example(["a" * 300, "a" * 62 + " 2", "a" * 300, "a" * 300])
def test_level_names_are_legal_and_all_different(names):
    made = level_names(names)
    assert len(made) == len(names)
    assert len(set(made)) == len(made)
    for name in made:
        assert name
        assert name == name.strip()
        assert len(name.encode()) <= MOST_NAME_BYTES
        assert name not in RESERVED_NAMES
        assert not has_control_characters(name)


# newer Pythons have it in os.path, for Windows alone
@pytest.mark.filterwarnings("ignore:.*is_reserved:DeprecationWarning")
@given(LAYER_NAMES)
@example(["K", "\u212a", "k"])
@example(["NUL.0", "Aux .x"])
def test_art_file_names_are_safe_and_all_different_on_every_system(names):
    made = file_names(names, suffixes=[".png"] * len(names))
    assert len({unicodedata.normalize("NFKC", name).casefold() for name in made}) == len(names)
    for name in made:
        assert PurePosixPath(name).name == name == PureWindowsPath(name).name
        assert not PureWindowsPath(name).is_reserved()
        assert len(name.encode()) <= 255
        assert not set(name) & set('\\/:*?"<>|{}')
        assert not has_control_characters(name)
        assert name[0] not in ". "


@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("01 near branches.png", "near branches"),
        ("02_reeds.v2.tif", "reeds.v2"),
        ("3.sky.exr", "sky"),
        ("10.png", "10"),
        ("1984.png", "1984"),
        ("fog.png", "fog"),
    ],
)
def test_the_number_of_a_file_says_its_order_and_not_its_name(file, name):
    assert layer_name(file) == name
