# SPDX-License-Identifier: GPL-3.0-or-later
"""Plain words where people read: pages in Markdown and the help of every command have short sentences and usual words.

Only what a test can know is asked: how long a sentence is, and words of ours that nobody uses in speech.
"""

import re
from pathlib import Path

import click
import pytest

from pages.markdown import sentences, sentences_of, words_of
from pages.messages import said_in, texts_of, texts_of_template
from underglass_headless.cli import cli

ROOT = Path(__file__).resolve().parents[2]
PAGES = (
    "README.md",
    "DEVELOPERS.md",
    *(f"{folder}/README.md" for folder in ("blender_addon", "headless", "scenes", "tests")),
)

# Longer ones have to be read twice.
MOST_WORDS = 30

# What we wrote, and what people say. The words are looked for as a pattern, whatever their case.
SAID_OTHERWISE = {
    r"adds? up": "errors do not accumulate",
    r"aforesaid": "this",
    r"anew": "again",
    r"at once, every": "on twos it jumps",
    r"(?<!all )but for": "except for",
    r"comes? of it": "the result",
    r"duality gap|proven to 0e": "proved best",
    r"gravest": "most serious",
    r"for what (?:\d+|X) do": "instead of",
    r"had better": "should",
    r"held no longer": "no longer holds",
    r"henceforth|hereby|thereby|thereof|whereby|wherein|whereof": "a sentence of its own",
    r"in (?:the|its) place of": "instead of",
    r"its fellow": "the other",
    r"lest": "so that … not",
    r"lesser": "smaller",
    r"likewise": "also",
    r"mend(?:ed|ing|s)?": "repair, fix",
    r"name each apart": "give each its own name",
    r"naught|nought": "nothing",
    r"nobody asked for": "that the shot does not have",
    r"none but": "only",
    r"nothing adds|of the art's or more": "a sentence of its own",
    r"is on its way": "is running",
    r"(?:once )?nobody reads": "when … is no longer being read",
    r"otherwise than": "not as",
    r"ought to": "should",
    r"shall": "will, must",
    r"spoilt": "damaged",
    r"something to hold on to": "enough detail",
    r"stray(?:s|ed|ing)?": "is off",
    r"swept|sweeps away": "removed, removes",
    r"taken otherwise|take (?:\w+ ){1,3}otherwise": "change",
    r"thrice": "three times",
    r"told by|to tell by": "measured by, known by",
    r"whilst|amidst": "while, among",
}
UNUSUAL = re.compile(rf"\b(?:{'|'.join(SAID_OTHERWISE)})\b", re.IGNORECASE)


def too_long(said: list[str]) -> list[str]:
    return [sentence for sentence in said if len(words_of(sentence)) > MOST_WORDS]


def unusual(said: list[str]) -> list[str]:
    # what stands in code is a name
    prose = [re.sub("`[^`]*`", "`", sentence) for sentence in said]
    return [f"{found[0]}: {sentence}" for sentence in prose for found in UNUSUAL.finditer(sentence)]


def help_of(command: click.Command) -> list[str]:
    """Return the sentences of a command's help, its own and those of its arguments and options; no examples."""
    paragraphs = [part for part in (command.help or "").split("\n\n") if not part.startswith("\b")]
    options = [option.help or "" for option in command.params if isinstance(option, click.Option)]
    return [sentence for part in (*paragraphs, *options) for sentence in sentences_of(" ".join(part.split()))]


HELP = {"underglass": cli, **cli.commands}


@pytest.mark.parametrize("page", PAGES)
def test_a_page_has_short_sentences_and_usual_words(page):
    said = sentences((ROOT / page).read_text(encoding="utf-8"))
    assert len(said) > 20
    assert too_long(said) == []
    assert unusual(said) == []


@pytest.mark.parametrize("name", HELP)
def test_the_help_has_short_sentences_and_usual_words(name):
    said = help_of(HELP[name])
    assert said
    assert too_long(said) == []
    assert unusual(said) == []


# Rooms whose messages are held to it: all of the add-on, and of the package of the command line all but the judging of
# delivered frames.
HEADLESS = ROOT / "headless" / "underglass_headless"
ADDON = ROOT / "blender_addon" / "underglass"
ROOMS = sorted(
    place
    for package in (HEADLESS, ADDON)
    for place in package.iterdir()
    if place.is_dir() and place.name not in {"delivered", "__pycache__"}
)


@pytest.mark.parametrize("room", ROOMS, ids=lambda room: f"{room.parent.name}/{room.name}")
def test_the_messages_and_pages_of_a_room_have_short_sentences_and_usual_words(room):
    said = [sentence for _, text in said_in(room) for sentence in sentences_of(text)]
    assert said
    assert too_long(said) == []
    assert unusual(said) == []


def test_what_code_says_is_read_without_docstrings_and_with_its_values():
    code = (
        'def f(x):\n    """Nothing adds up."""\n    raise E(f"{x} is made anew: {x:.2f} of it", "key", "<svg a b>")\n'
    )
    assert list(texts_of(code)) == ["X is made anew: X of it"]
    page = "<p class='a b'>Read <b>{{ name }}</b> anew.{% if x %}</p><p>Then</p>{% endif %}<style>a b c</style>"
    assert list(texts_of_template(page)) == ["Read X anew.", "Then"]


def test_each_command_says_in_a_short_line_what_it_does():
    for name, command in cli.commands.items():
        # what the list of commands shows of it is not cut off
        assert not command.get_short_help_str(limit=45).endswith("..."), name


@pytest.mark.parametrize(
    "said",
    [
        "Each reading is rounded for itself: nothing adds up.",
        "A node is started anew.",
        "A level that shows too little to be told by is missed where it is not there.",
        "A task ends once nobody reads what it says.",
        "Take about 208 frames for what 93 do, or move less.",
        "It crosses 1.33% of the frame's width at once, every 2 frames.",
        "Its size is held no longer.",
        "A proof is on its way.",
    ],
)
def test_words_that_nobody_uses_are_found(said):
    assert unusual([said])


def test_a_long_sentence_is_found_and_what_is_code_or_a_table_is_left_out():
    long = " ".join(["word"] * 31)
    assert too_long(sentences(f"Short. W{long[1:-5]}.\n")) == []
    assert too_long(sentences(f"Short. W{long[1:]}.\n")) == [f"W{long[1:]}."]
    assert too_long(sentences(f"- W{long[1:]}\n- short\n")) == [f"W{long[1:]}"]
    assert too_long(sentences(f"| {long} |\n\n```sh\n{long}\n```\n# {long}\n`{long}` is code.\n")) == []
