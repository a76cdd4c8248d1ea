# SPDX-License-Identifier: GPL-3.0-or-later
"""The note that a rendered frame carries in its file: of which shot and art it is, and for which scene and camera.

One line of text, which Blender puts into the metadata of every frame of a scene that was built, and into the picture
where somebody has metadata burnt in: ``Underglass: shot 3fa9c01d2e4b5a67, "Estuary", scene Scene, camera camera.``
Parts are ``key value``; the title has no key. A value that is more than words of ASCII is quoted as JSON quotes it.
It is written when the scene is built: of what is done to the scene or the art afterwards it says nothing.
"""

import hashlib
import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

_BEGINS = "Underglass: "
# How notes were written before: all of it as JSON, which nobody wants to see in a picture.
_BEGAN = "underglass "
_KEYS = ("shot", "title", "scene", "camera")
_WORDS = re.compile(r"[0-9A-Za-z]+(?: [0-9A-Za-z]+)*")
_KEY = re.compile(r"[a-z]+ ")
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")
# Blender keeps a note in 768 bytes, of which the last is none of it; a letter has at most four.
MOST_BYTES = 767
_MOST_TITLE, _MOST_NAME = 60, 48
# So many hexadecimal digits tell of all art, and so many of one level's.
_ART_DIGITS, _LEVEL_DIGITS = 16, 4


@dataclass(frozen=True)
class FrameNote:
    """``shot`` is the fingerprint of the shot's files; long titles and names are cut.

    ``art`` is a digest of all art, empty where the note does not tell; ``levels`` has one of each level's art, nearest
    the lens first, of as many as there was room for.
    """

    shot: str
    title: str
    scene: str
    camera: str
    art: str = ""
    levels: tuple[str, ...] = ()

    @classmethod
    def of(cls, *, shot: str, title: str, scene: str, camera: str, art: Sequence[str] = ()) -> "FrameNote":
        """Return a note that is cut to the length that there is room for; ``art`` as `art_digests` has it."""
        note = cls(shot, spelled(title)[:_MOST_TITLE], shortened(scene), shortened(camera), _of_all(art))
        marks = tuple(digest[:_LEVEL_DIGITS] for digest in art)
        room = MOST_BYTES - len(note_text(replace(note, levels=("",))).encode())
        return replace(note, levels=marks[: max(0, room // _LEVEL_DIGITS)])

    def is_of_other_art(self, art: Sequence[str]) -> bool:
        """Return whether the note says that the scene was built with other art than ``art``, as `art_digests` has it.

        False where either does not tell.
        """
        return bool(self.art and art) and self.art != _of_all(art)

    def other_levels(self, art: Sequence[str]) -> list[int]:
        """Return the numbers of the levels whose art is another, as far as the note tells."""
        pairs = zip(self.levels, art, strict=False)
        return [number for number, (mark, digest) in enumerate(pairs) if mark != digest[:_LEVEL_DIGITS]]


def _of_all(art: Sequence[str]) -> str:
    return hashlib.sha256("\n".join(art).encode()).hexdigest()[:_ART_DIGITS] if art else ""


def shortened(name: str) -> str:
    """Return the name of a scene or a camera as a note holds it."""
    return spelled(name)[:_MOST_NAME]


def spelled(text: str) -> str:
    """Return ``text`` on one line, without control characters and without what UTF-8 cannot spell."""
    return " ".join(_CONTROL.sub(" ", text.encode("utf-8", "replace").decode("utf-8")).split())


def note_text(note: FrameNote) -> str:
    """Return the note as one line of text."""
    parts = [f"shot {_value(note.shot)}", _quoted(note.title)]
    parts += [f"scene {_value(note.scene)}", f"camera {_value(note.camera)}"]
    if note.art:
        parts.append(f"art {_value(note.art)}")
    if note.levels:
        parts.append(f"levels {_value(''.join(note.levels))}")
    return f"{_BEGINS}{', '.join(parts)}."


def read_note(text: str) -> FrameNote | None:
    """Return the note that ``text`` holds; None for another program's, or one that was cut off.

    Parts that are not known here, which later versions may add, are left out.
    """
    try:
        facts = dict(_facts(text))
    except (ValueError, RecursionError):
        return None
    if any(not isinstance(facts.get(key), str) for key in _KEYS):
        return None
    # Notes of earlier builds say nothing of art.
    art, levels = (said if isinstance(said := facts.get(key, ""), str) else "" for key in ("art", "levels"))
    marks = tuple(levels[at : at + _LEVEL_DIGITS] for at in range(0, len(levels), _LEVEL_DIGITS))
    return FrameNote(facts["shot"], facts["title"], facts["scene"], facts["camera"], art, marks)


def _facts(text: str) -> Iterator[tuple[str, str]]:
    """Yield what a note says, by its keys; raises ValueError for what is none."""
    if text.startswith(_BEGAN):
        told = json.loads(text.removeprefix(_BEGAN))
        yield from told.items() if isinstance(told, dict) else ()
        return
    if not text.startswith(_BEGINS):
        raise ValueError("it is another program's")
    at, said = len(_BEGINS), set()
    while True:
        key = _KEY.match(text, at)
        name, at = (key[0].rstrip(), key.end()) if key else ("title", at)
        if name in said or (not key and not text.startswith('"', at)):
            raise ValueError("it says a thing twice, or what is no part of a note")
        value, at = _value_at(text, at)
        said.add(name)
        yield name, value
        if text[at:] == ".":
            return
        if not text.startswith(", ", at):
            raise ValueError("it was cut off")
        at += 2


def _value_at(text: str, at: int) -> tuple[str, int]:
    """Return the value that begins there, and where it ends."""
    if text.startswith('"', at):
        return json.JSONDecoder().raw_decode(text, at)
    if (words := _WORDS.match(text, at)) is None:
        raise ValueError("it has no value")
    return words[0], words.end()


def _value(text: str) -> str:
    return text if _WORDS.fullmatch(text) else _quoted(text)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
