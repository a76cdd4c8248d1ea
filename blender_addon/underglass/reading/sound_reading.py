# SPDX-License-Identifier: GPL-3.0-or-later
"""What a file of a scene reading holds, taken out of it with nothing believed: it may come from another machine.

Everything wrong is a ValueError that says what; no more memory is taken than the file has bytes.
"""

import io
import json
import math
import zipfile
import zlib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]

# Settings of the render that a judge asks for, by kind.
_NUMBERS = (
    *("frame_start", "frame_end", "frame_step", "fps", "width", "height", "percentage", "pixel_aspect"),
    *("time_stretch", "clear_surfaces", "exposure", "gamma", "film_exposure", "layers_rendered"),
)
_SWITCHES = (
    *("border", "world_volume", "motion_blur", "stereo", "layer_rendered", "compositor", "edited_in_sequencer"),
)
_TEXTS = ("engine", "view_transform")
_CHANGE_TEXTS = ("subject", "kind", "key", "words", "here", "built")
_MOST_NUMBER = 1e9
# What an archive that is none, or is damaged, makes Python's reader raise.
_BROKEN = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, RecursionError, OverflowError)


def arrays_in(path: Path) -> dict[str, Array]:
    """Return the arrays of an .npz file that numpy wrote without packing it; raises ValueError and OSError."""
    try:
        with zipfile.ZipFile(path) as archive:
            return {info.filename.removesuffix(".npy"): _array(archive, info) for info in archive.infolist()}
    except _BROKEN as error:
        raise ValueError(" ".join(str(error).split()) or type(error).__name__) from error


def _array(archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> Array:
    # Packed bytes can be a thousand times as many, and ours are not packed.
    if info.compress_type != zipfile.ZIP_STORED or info.flag_bits & 1:
        raise ValueError(f"{info.filename!r} is packed")
    npy: Any = np.lib.format
    data = io.BytesIO(archive.read(info))
    if npy.read_magic(data) != (1, 0):
        raise ValueError(f"{info.filename!r} is no array")
    shape, _, kind = npy.read_array_header_1_0(data)
    if kind.hasobject or math.prod(shape) * kind.itemsize != len(data.getbuffer()) - data.tell():
        raise ValueError(f"{info.filename!r} is not as large as it says")
    data.seek(0)
    array: Array = npy.read_array(data, allow_pickle=False)
    return array


def taken(arrays: Mapping[str, Array], name: str, shape: tuple[int, ...], kind: str) -> Array:
    """Return an array that has to be of this shape and kind, as numpy calls it; raises ValueError."""
    array = arrays.get(name)
    if array is None or array.shape != shape or array.dtype != np.dtype(kind):
        raise ValueError(f"{name} is not an array {shape} of {kind}")
    return array


def words_in(arrays: Mapping[str, Array]) -> dict[str, Any]:
    """Return the words of a reading, each of the kind that it has to be; raises ValueError."""
    text = arrays.get("words")
    if text is None or text.shape != () or text.dtype.kind != "U":
        raise ValueError("it has no words")
    try:
        words: dict[str, Any] = json.loads(str(text))
    except RecursionError as error:
        raise ValueError("its words are nested too deep") from error
    _require(isinstance(words, dict), "words")
    _require(isinstance(words.get("blender"), str), "blender")
    _require_texts(words, "others", "things")
    levels: Any = words.get("levels")
    paints: Any = words.get("paints")
    _require(isinstance(levels, list), "levels")
    for level in levels:
        _require_level(level)
    _require(isinstance(paints, dict) and all(_are_texts(lines) for lines in paints.values()), "paints")
    _require_settings(words.get("settings"))
    _require_camera(words.get("camera_facts"))
    origin: Any = words.get("origin")
    _require(isinstance(origin, dict) and _is_number(origin.get("expressions")), "origin")
    _require_texts(origin, "libraries", "scripts", "acting", "built_from")
    _require_changes(words.get("changes"))
    return words


def _require_changes(changes: Any) -> None:
    _require(isinstance(changes, list), "changes")
    for change in changes:
        _require(isinstance(change, dict) and set(change) == {*_CHANGE_TEXTS, "shown", "frame"}, "change")
        _require(all(_is_text(change[key]) for key in _CHANGE_TEXTS), "change")
        _require(_is_number(change["shown"]) and _is_whole(change["frame"]), "change")


def _require(sound: bool, what: str) -> None:
    if not sound:
        raise ValueError(f"its {what} is not what it has to be")


def _require_level(level: Any) -> None:
    _require(isinstance(level, dict), "level")
    _require(all(isinstance(level.get(key), str) for key in ("level", "object_name")), "level's name")
    _require(isinstance(level.get("in_render"), bool), "level's in_render")
    _require_texts(level, "pulls", "curves", "missing_art", "paint")
    # What pulls a level is named by the first of its words.
    _require(all(pull.split() for pull in level["pulls"]), "level's pulls")
    _require("drawings" in level, "level's drawings")
    drawings = level["drawings"]
    _require(drawings is None or (isinstance(drawings, list) and all(map(_is_whole, drawings))), "level's drawings")


def _require_settings(settings: Any) -> None:
    _require(isinstance(settings, dict), "settings")
    for keys, is_sound in ((_NUMBERS, _is_number), (_SWITCHES, _is_switch), (_TEXTS, _is_text)):
        for key in keys:
            _require(is_sound(settings.get(key)), key)


def _require_camera(facts: Any) -> None:
    _require(isinstance(facts, dict) and _is_text(facts.get("name")), "camera")
    if facts["name"]:
        _require(_is_switch(facts.get("ours")) and _is_text(facts.get("type")), "camera")
        _require(_is_switch(facts.get("depth_of_field")), "camera's depth of field")
        _require_texts(facts, "pulls", "curves")
        _require(all(pull.split() for pull in facts["pulls"]), "camera's pulls")
        cuts: Any = facts.get("cuts")
        _require(isinstance(cuts, list) and all(map(_is_cut, cuts)), "camera's cuts")
        markers: Any = facts.get("markers", [])
        _require(isinstance(markers, list) and all(map(_is_whole, markers)), "camera's markers")


def _is_cut(run: Any) -> bool:
    return isinstance(run, list) and len(run) == 3 and _is_text(run[0]) and _is_whole(run[1]) and _is_whole(run[2])


def _require_texts(words: Mapping[str, Any], *keys: str) -> None:
    for key in keys:
        _require(_are_texts(words.get(key)), key)


def _are_texts(value: Any) -> bool:
    return isinstance(value, list) and _all(value, str)


def _all(values: Iterable[Any], kind: type) -> bool:
    return all(isinstance(value, kind) for value in values)


def _is_text(value: Any) -> bool:
    return isinstance(value, str)


def _is_switch(value: Any) -> bool:
    return isinstance(value, bool)


def _is_whole(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and abs(value) <= _MOST_NUMBER


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= _MOST_NUMBER
