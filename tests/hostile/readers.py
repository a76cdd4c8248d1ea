# SPDX-License-Identifier: GPL-3.0-or-later
"""Every reader of files and messages that come from outside, with good inputs to begin from and ways to spoil them.

A reader takes a path to the spoilt input and reads all that the product would read of it.
"""

import io
import random
import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
from PIL import Image

from delivered.made_frames import Making, write_frames
from desk.briefs import brief_text, level
from hostile import mutations
from hostile.mutations import Mutation
from layered.paintings import noise, png, write_ora
from proof.readings import reading_of
from shot.conftest import DRAWINGS_CSV, SCHEDULE_CSV, SHOT_TOML
from shot_strategies import make_art
from small_shots import Glass, stack
from underglass.image.art_size import read_art
from underglass.image.frame_note import FrameNote, note_text, read_note
from underglass.image.pass_file import read_pass_file
from underglass.plan import make_plan
from underglass.shot import Place, UnderglassError
from underglass.shot.files import read_shot
from underglass_headless.desk.brief.brief_file import read_brief
from work import made_up


@dataclass(frozen=True)
class Reader:
    """``seeds`` makes good inputs in a folder that it is given, ``lay_out`` what has to lie beside the input.

    ``file`` is what the input is called; ``share`` how many inputs of the whole run it gets, in thousands.
    ``takes_good`` tells that good inputs are accepted; where the reader is given more than the input, they need not be.
    """

    name: str
    seeds: Callable[[Path], list[bytes]]
    spoil: Mutation
    read: Callable[[Path], object]
    file: str
    share: float
    lay_out: Callable[[Path], None] = lambda folder: None
    takes_good: bool = True


# -- a shot, a brief, their tables -------------------------------------------------------------------------------------


def _lay_shot(folder: Path) -> None:
    make_art(folder, "art/reeds.png", 27, 10)
    make_art(folder, "cels/heron_a.png", 18, 12)
    make_art(folder, "cels/heron_b.png", 18, 12)
    make_art(folder, "art/hills.png", 40, 30, alpha=False)
    for name, text in (("shot.toml", SHOT_TOML), ("schedule.csv", SCHEDULE_CSV), ("drawings.csv", DRAWINGS_CSV)):
        (folder / name).write_text(text, encoding="utf-8")


def _read_shot(path: Path) -> object:
    return read_shot(path.parent)


def _briefs(folder: Path) -> list[bytes]:
    levels = [level("reeds", 400), level("hills", 2000), level("sky", "infinity")]
    made = brief_text(levels=levels, across=[[1, 0], [49, 2.5]], stand={"camera_height": [300, 2000]})
    return [made.encode()]


# -- art ---------------------------------------------------------------------------------------------------------------


def _images(kind: str, modes: Sequence[str], **options: Any) -> list[bytes]:
    made = []
    for mode in modes:
        image = Image.fromarray(noise((13, 9), seed=3))
        file = io.BytesIO()
        (image.convert("L").convert(mode) if mode == "I;16" else image.convert(mode)).save(file, kind, **options)
        made.append(file.getvalue())
    return made


def _pngs(folder: Path) -> list[bytes]:
    return _images("PNG", ("RGBA", "RGB", "L", "P", "LA", "1", "I;16"))


def _tiffs(folder: Path) -> list[bytes]:
    plain = _images("TIFF", ("RGBA", "RGB", "L", "P"))
    return plain + _images("TIFF", ("RGBA", "CMYK"), compression="tiff_lzw") + _images("TIFF", ("RGB",), big_tiff=True)


def _header(path: Path) -> object:
    return read_art(path, said=Place(path))


def _pixels(path: Path) -> object:
    from underglass_headless.art.pillow_pixels import PillowPixels

    # As the product does: no picture is decoded whose header was not read.
    read_art(path, said=Place(path))
    return PillowPixels().read(path)


# -- layered art -------------------------------------------------------------------------------------------------------


def _oras(folder: Path) -> list[bytes]:
    layers = (
        '<layer name="reeds" src="data/a.png" x="3" y="-4" opacity="0.5" composite-op="svg:multiply"/>'
        '<stack name="trees" opacity="0.8"><layer name="oak" src="data/a.png" visibility="hidden"/></stack>'
        '<layer name="sky" src="data/a.png"/>'
    )
    return [write_ora(folder / "seed.ora", layers, {"data/a.png": png(noise((16, 12), seed=4))}).read_bytes()]


def _psds(folder: Path) -> list[bytes]:
    import psd_tools

    made = []
    for mode in ("RGB", "L", "CMYK"):
        document = psd_tools.PSDImage.new(mode, (24, 18))
        sky = Image.fromarray(noise((24, 18), seed=1)).convert(mode)
        document.create_pixel_layer(sky, name="sky")
        group = document.create_group(name="trees")
        group.create_pixel_layer(sky.resize((8, 6)), name="oak", left=-3, top=2, opacity=100)
        file = io.BytesIO()
        document.save(file)
        made.append(file.getvalue())
    return made


def _layered(path: Path) -> object:
    from underglass.layered import import_art
    from underglass_headless.art.new_command import read_any
    from underglass_headless.art.pillow_pixels import PillowPixels

    target = path.parent / "made"
    try:
        return import_art(read_any(path), folder=target, pixels=PillowPixels(), groups="flatten", units="in")
    finally:
        shutil.rmtree(target, ignore_errors=True)
        outside = [other.name for other in path.parent.iterdir() if other != path]
        assert not outside, f"something was left beside the shot: {outside}"


# -- frames ------------------------------------------------------------------------------------------------------------

FRAME_PX = (48, 36)
_MAKINGS = (
    Making(compression="ZIPS"),
    Making(compression="ZIP", half=True),
    Making(compression="NONE"),
    Making(compression="PIZ"),
    Making(compression="PXR24"),
    Making(compression="DWAA"),
    Making(tiled=True),
    Making(parts=True),
    Making(window=(3, 2, 5, 1)),
)


def _plan(folder: Path) -> Any:
    glasses = [Glass("reeds", 1000.0), Glass("sky", 100.0, width=560.0)]
    return make_plan(read_shot(stack(folder, glasses, frame_px=FRAME_PX)))


def _frames(folder: Path, makings: Sequence[Making]) -> list[bytes]:
    plan = _plan(folder / "shot")
    files = [write_frames(plan, folder / str(n), frames=[2], making=making)[0] for n, making in enumerate(makings)]
    return [path.read_bytes() for path in files]


def _look(path: Path) -> object:
    from underglass_headless.delivered.asked_of_file import Asked
    from underglass_headless.delivered.read_frame import look_at

    looked = look_at(path, Asked(frame=2, frame_px=FRAME_PX, margins_px={0: 1.0, 1: 1.0}, with_picture=True))
    if looked.file.damage:
        raise UnderglassError(looked.file.damage)
    if (refusal := looked.file.refusal) is not None:
        # What the judging stumbled over is told as a fault of the file, and is one of ours.
        assert refusal.kind != "unexpected", refusal.one
        raise UnderglassError(refusal.one)
    return looked


def _notes(folder: Path) -> list[bytes]:
    return [note_text(FrameNote.of(shot="0123456789abcdef", title="Möwe", scene="Scene", camera="Camera")).encode()]


def _note(path: Path) -> object:
    return read_note(path.read_bytes().decode("utf-8", "replace"))


# -- a farm's results --------------------------------------------------------------------------------------------------


def _results(folder: Path) -> list[bytes]:
    return [made_up.put(folder / "unit", made_up.FRAME).read_bytes()]


def _result(path: Path) -> object:
    from underglass_headless.work.unit_results import parse_result

    return parse_result(path.read_bytes(), made_up.FRAME)


def _answer(path: Path) -> object:
    """Take in what a worker of a cluster sent: the input as its JSON, and beside it what its bytes decide."""
    from underglass_headless.engines.dask_cluster import _Spread
    from underglass_headless.engines.dask_worker import Answer
    from underglass_headless.work.work_folder import Store

    data = path.read_bytes()
    rng = random.Random(data)
    unit = made_up.FRAME
    files: Any = {unit.result_file: data}
    if rng.random() < 0.3:
        name: Any = rng.choice((*mutations.ODD_NAMES, f"{unit.name}-0123456789ab.png", 7, None))
        files[name] = rng.choice((data, "x", None))
    kind: Any = rng.choice(("", "", "", "ShotError", "Boom", None, 3))
    words: Any = rng.choice(("", "line\nline", "\x1b[2J", None))
    answer = rng.choice((Answer(kind, words, files), Answer("", "", files), Answer("", "", files), data, None))
    store = Store(path.parent / "work", made_up.job(path.parent))
    spread = _Spread(None, store.job, store, lambda event: None)
    try:
        return spread._whole(unit, answer)
    finally:
        assert {other.name for other in path.parent.iterdir()} <= {path.name, "work"}, "a reply was written elsewhere"


def _readings(folder: Path) -> list[bytes]:
    reading_of(_plan(folder / "shot")).save(folder / "reading.npz")
    return [(folder / "reading.npz").read_bytes()]


def _reading(path: Path) -> object:
    """Read what a unit read of a scene, and judge by it as the product would."""
    from underglass_headless.proving.prove_shot import judge

    if path.parent not in _PLANS:
        _PLANS[path.parent] = _plan(path.parent / "shot")
    results: Any = {made_up.READING: SimpleNamespace(files={path.name: 0}, rendered=True, measured={})}
    store: Any = SimpleNamespace(folder=path.parent)
    job: Any = SimpleNamespace(shot=path.parent / "shot" / "shot.toml", scene=None)
    return judge(
        _PLANS[path.parent], job=job, frames=(2,), results=results, store=store, tolerance_px=0.05, picture_reasons={}
    )


_PLANS: dict[Path, Any] = {}


def npz_changed(rng: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    """Return a reading with other words, or with an array of another shape, kind or content, or damaged."""
    if rng.random() < 0.2:
        return mutations.zip_changed(rng, data, others)
    with np.load(io.BytesIO(data)) as file:
        arrays: dict[str, Any] = dict(file)
    if rng.random() < 0.5:
        words = mutations.json_changed(rng, str(arrays["words"]).encode(), others)
        arrays["words"] = np.array(words.decode("utf-8", "replace"))
    else:
        name = rng.choice(list(arrays))
        odd = _odd_array(rng, arrays.pop(name))
        if odd is not None:
            arrays[name] = odd
    made = io.BytesIO()
    np.savez(made, **arrays)
    return made.getvalue()


def _odd_array(rng: random.Random, array: Any) -> Any:
    match rng.randrange(7):
        case 0:
            return None
        case 1:
            return array[:1] if array.ndim else np.zeros(3)
        case 2:
            return np.zeros((2, 2))
        case 3:
            return np.full(array.shape, np.nan) if array.dtype.kind == "f" else np.full(array.shape, 2**62)
        case 4:
            return array.astype("U8")
        case 5:
            return np.full(array.shape, 1e300) if array.dtype.kind == "f" else -np.ones(array.shape, dtype=np.int64)
        case _:
            return array.astype(np.complex64) if array.dtype.kind in "fib" else np.array("x")


# -- all of them -------------------------------------------------------------------------------------------------------

_TEXT, _PNG, _EXR = mutations.text_changed, mutations.png_changed, mutations.exr_changed

READERS = (
    Reader("shot.toml", lambda _: [SHOT_TOML.encode()], _TEXT, _read_shot, "shot.toml", 14, _lay_shot),
    Reader("schedule.csv", lambda _: [SCHEDULE_CSV.encode()], _TEXT, _read_shot, "schedule.csv", 9, _lay_shot),
    Reader("drawings.csv", lambda _: [DRAWINGS_CSV.encode()], _TEXT, _read_shot, "drawings.csv", 7, _lay_shot),
    Reader("brief.toml", _briefs, _TEXT, lambda path: read_brief(path.parent), "brief.toml", 7),
    Reader("PNG, header", _pngs, _PNG, _header, "a.png", 12),
    Reader("PNG, pixels", _pngs, _PNG, _pixels, "a.png", 6),
    Reader("TIFF, header", _tiffs, mutations.bytes_changed, _header, "a.tif", 6),
    Reader("TIFF, pixels", _tiffs, mutations.bytes_changed, _pixels, "a.tif", 4),
    Reader("EXR, header", lambda folder: _frames(folder, _MAKINGS[:-1]), _EXR, _header, "a.exr", 8),
    Reader("OpenRaster", _oras, mutations.ora_changed, _layered, "a.ora", 6),
    Reader("PSD", _psds, mutations.psd_changed, _layered, "a.psd", 6),
    Reader("EXR, proof passes", lambda folder: _frames(folder, _MAKINGS[:3]), _EXR, read_pass_file, "a.exr", 10),
    Reader("EXR, delivered frame", lambda folder: _frames(folder, _MAKINGS), _EXR, _look, "a.exr", 6),
    Reader("note in a frame", _notes, _TEXT, _note, "note.txt", 3),
    Reader("result of a unit", _results, mutations.json_changed, _result, "unit.json", 6),
    Reader("cluster reply", _results, mutations.json_changed, _answer, "unit.json", 3, takes_good=False),
    Reader("reading of a scene", _readings, npz_changed, _reading, "reading.npz", 4),
)
