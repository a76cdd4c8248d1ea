# SPDX-License-Identifier: GPL-3.0-or-later
"""One file that cannot be judged is a fault of that file: all others are judged, and the run goes on."""

import errno
import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np
import OpenEXR
import pytest

from delivered.other_programs import as_luminance, contents, deepen, header_alone, in_parts
from delivered.test_file_faults import blocks, file_of
from underglass.proof.proof_facts import PASS, Proof
from underglass_headless import cli
from underglass_headless.delivered import read_frame
from underglass_headless.exr import read_exr
from underglass_headless.report.schemas import proof_schema


def deep(path: Path) -> None:
    deepen(path)


def deep_tiles(path: Path) -> None:
    deepen(path, OpenEXR.deeptile)


def a_folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


def a_link_to_nothing(path: Path) -> None:
    path.unlink()
    path.symlink_to("gone.exr")


def a_link_to_itself(path: Path) -> None:
    path.unlink()
    path.symlink_to(path)


def a_pipe(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


def with_a_line_end(path: Path) -> None:
    path.rename(path.with_name("beauty.\n0007.exr"))


def with_a_line_end_at_its_end(path: Path) -> None:
    path.rename(path.with_name("beauty.0007.exr\n"))


def with_an_escape(path: Path) -> None:
    path.rename(path.with_name("beauty.\x1b0007.exr"))


REFUSED = {
    "deep": (deep, "frame 7 has deep pixels, which cannot be judged; deliver it flat"),
    "deep tiles": (deep_tiles, "frame 7 has deep pixels, which cannot be judged; deliver it flat"),
    "luminance": (
        as_luminance,
        "frame 7 holds luminance and chroma, which cannot be judged; deliver it as red, green and blue",
    ),
    "folder": (a_folder, "frame 7 is a folder; deliver it as an EXR file"),
    "link": (a_link_to_nothing, "frame 7 is a link to a file that is not there; deliver the file itself"),
    "loop": (a_link_to_itself, "frame 7 cannot be opened (Too many levels of symbolic links); make it readable"),
    "pipe": (a_pipe, "frame 7 is a device, not a file; deliver it as an EXR file"),
    "line end": (with_a_line_end, "frame 7 has control characters in its file name, beauty.□0007.exr; rename it"),
    "last line end": (
        with_a_line_end_at_its_end,
        "frame 7 has control characters in its file name, beauty.0007.exr□; rename it",
    ),
    "escape": (with_an_escape, "frame 7 has control characters in its file name, beauty.□0007.exr; rename it"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_one_file_that_cannot_be_judged_is_refused_and_all_others_are_judged(
    name: str, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    do, words = REFUSED[name]
    do(file_of(delivery, 7))
    proof = proof_of(delivery)
    assert blocks(proof) == [("frame-refused", (7, 7))]
    assert proof.faults[0].message == words
    assert set(proof.rendered_frames) == set(range(1, 13)) - {7}
    assert all(m.verdict == PASS for m in proof.measurements)


OTHER_KINDS = {
    "a PNG picture": b"\x89PNG\r\n\x1a\n" + bytes(300),
    "a JPEG picture": b"\xff\xd8\xff\xe0\x00\x10JFIF\x00" + bytes(300),
    "a TIFF picture": b"II*\x00\x08\x00\x00\x00" + bytes(300),
    "a DPX picture": b"SDPX" + bytes(2048),
    "a film or a picture in an MP4 or QuickTime container": b"\x00\x00\x00\x20ftypqt  " + bytes(300),
    "a web page": b"\n<!DOCTYPE html>\n<html><body>404 not found</body></html>",
    "a text": "Überweisung fehlt\n".encode() * 200,
    "a ZIP archive": b"PK\x03\x04" + bytes(300),
}


@pytest.mark.parametrize("kind", OTHER_KINDS)
def test_a_file_of_another_kind_under_the_name_is_told_for_what_it_is(
    kind: str, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    file_of(delivery, 7).write_bytes(OTHER_KINDS[kind])
    proof = proof_of(delivery)
    assert blocks(proof) == [("frame-refused", (7, 7))]
    assert proof.faults[0].message == (
        f"frame 7 is no EXR file: by its contents it is {kind}; deliver the EXR frame itself"
    )


@pytest.mark.parametrize("data", [b"", bytes(2000), b"\x76\x2f\x31\x01", b"\xf0\x0f\x01" * 99])
def test_a_file_that_may_have_been_an_exr_is_damaged_and_no_other_kind(
    data: bytes, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    file_of(delivery, 7).write_bytes(data)
    assert blocks(proof_of(delivery)) == [("frame-cut-short", (7, 7))]


def test_several_files_of_one_form_are_one_fault(delivery: Path, proof_of: Callable[..., Proof]) -> None:
    for frame in (7, 8, 9):
        deepen(file_of(delivery, frame))
        path = file_of(delivery, frame - 4)
        path.rename(path.with_name(f"beauty.\r{frame - 4:04d}.exr"))
    proof = proof_of(delivery)
    assert [(fault.frames, fault.message) for fault in proof.faults] == [
        ((3, 5), "frames 3-5 have control characters in their file names, such as beauty.□0003.exr; rename them"),
        ((7, 9), "frames 7-9 have deep pixels, which cannot be judged; deliver them flat"),
    ]


@pytest.mark.parametrize(
    "window",
    [
        (0, 0, 46340, 46340),
        (0, 0, 2**31 - 2, 0),
        (0, 0, 0, 2**31 - 2),
        (-(2**31), 0, 2**31 - 1, 0),
        (0, 0, 65535, 32767),
        (5, 5, 4, 4),
    ],
)
def test_a_data_window_of_any_size_is_the_fault_of_its_file(
    window: tuple[int, int, int, int], delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    header_alone(file_of(delivery, 7), window)
    proof = proof_of(delivery)
    (code, frames), *others = blocks(proof)
    assert code in {"frame-refused", "frame-cut-short"}
    assert (frames, others) == ((7, 7), [])
    assert set(proof.rendered_frames) == set(range(1, 13)) - {7}


def test_a_frame_that_takes_more_than_half_of_the_memory_is_refused_before_it_is_read(
    delivery: Path, proof_of: Callable[..., Proof], monkeypatch: pytest.MonkeyPatch
) -> None:
    window = (0, 0, 9999, 9999)
    header_alone(file_of(delivery, 7), window)
    # Four channels of 10,000 × 10,000 px take 1.6 GB; the other frames 3 MB.
    monkeypatch.setattr(read_exr, "_memory", lambda: 3.1e9)
    proof = proof_of(delivery)
    assert blocks(proof) == [("frame-refused", (7, 7))]
    assert proof.faults[0].message == (
        "frame 7 has 4 channels of 10000 × 10000 px, more than this machine can hold; deliver it smaller"
    )


@pytest.mark.parametrize("error", [MemoryError(), ValueError("odd"), RuntimeError("the\nlibrary"), IndexError()])
def test_whatever_a_reader_throws_at_one_file_is_that_files_fault(
    error: Exception, delivery: Path, proof_of: Callable[..., Proof], monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = read_exr._all_of

    def fails(parts: list[OpenEXR.Part]) -> read_exr.ExrFile:
        if parts[0].header["Frame"] == "0007":
            raise error
        return whole(parts)

    monkeypatch.setattr(read_exr, "_all_of", fails)
    proof = proof_of(delivery)
    (code, frames), *others = blocks(proof)
    assert code == ("frame-refused" if isinstance(error, MemoryError) else "frame-cut-short")
    assert (frames, others) == ((7, 7), [])
    assert set(proof.rendered_frames) == set(range(1, 13)) - {7}


def test_what_goes_wrong_in_judging_one_files_pixels_is_that_files_fault(
    delivery: Path, proof_of: Callable[..., Proof], monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = read_frame.passes_in
    turn = iter(range(100))

    def fails(*arguments: object) -> object:
        if next(turn) == 4:
            raise ZeroDivisionError("in the pixels")
        return whole(*arguments)

    monkeypatch.setattr(read_frame, "passes_in", fails)
    proof = proof_of(delivery, threads=1)
    assert blocks(proof) == [("frame-refused", (5, 5))]
    assert proof.faults[0].message == ("frame 5 cannot be judged (ZeroDivisionError in the pixels); render it again")


def test_a_file_that_may_not_be_read_is_refused(
    delivery: Path, proof_of: Callable[..., Proof], monkeypatch: pytest.MonkeyPatch
) -> None:
    file_of(delivery, 7).chmod(0)
    if os.geteuid() == 0:
        # The superuser may read every file: what others meet is raised for it.
        whole = Path.open

        def refuse(path: Path, *arguments: object, **more: object) -> object:
            if path == file_of(delivery, 7):
                raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
            return whole(path, *arguments, **more)

        monkeypatch.setattr(Path, "open", refuse)
    proof = proof_of(delivery)
    assert blocks(proof) == [("frame-refused", (7, 7))]
    assert proof.faults[0].message == "frame 7 cannot be opened (Permission denied); make it readable"


def test_a_deep_part_beside_flat_passes_is_left_alone(delivery: Path, proof_of: Callable[..., Proof]) -> None:
    for path in sorted(delivery.iterdir()):
        in_parts(path, lambda name: (name.rpartition(".")[0], name.rpartition(".")[2]))
        with OpenEXR.File(str(path), separate_channels=True) as file:
            parts = [
                OpenEXR.Part(
                    {key: value for key, value in part.header.items() if key not in ("channels", "name")},
                    {name: channel.pixels for name, channel in part.channels.items()},
                    part.name(),
                )
                for part in file.parts
            ]
        depths = np.empty((180, 240), dtype=object)
        for y, x in np.ndindex(180, 240):
            depths[y, x] = np.zeros(1, dtype=np.float32)
        kind = {"compression": OpenEXR.ZIPS_COMPRESSION, "type": OpenEXR.deepscanline}
        OpenEXR.File([*parts, OpenEXR.Part(kind, {"Z": depths}, "deep")]).write(str(path))
        if path.name == "beauty.0002.exr":
            break
    proof = proof_of(delivery, frames=(1, 2))
    assert (proof.verdict, proof.faults) == (PASS, ())


def test_a_delivery_of_refused_files_alone_is_proved_by_none(delivery: Path, proof_of: Callable[..., Proof]) -> None:
    for path in delivery.iterdir():
        deepen(path)
    proof = proof_of(delivery)
    assert blocks(proof) == [("frame-refused", (1, 12))]
    assert proof.rendered_frames == ()


def test_channels_of_fewer_samples_alone_are_refused_as_such(delivery: Path, proof_of: Callable[..., Proof]) -> None:
    every_second = {letter: OpenEXR.Channel(np.zeros((180, 240), dtype=np.float16), 2, 2) for letter in "RGB"}
    header = {"type": OpenEXR.scanlineimage, "compression": OpenEXR.ZIP_COMPRESSION}
    OpenEXR.File(header, every_second).write(str(file_of(delivery, 7)))
    proof = proof_of(delivery)
    assert blocks(proof) == [("frame-refused", (7, 7))]
    assert "has fewer samples than pixels in every channel" in proof.faults[0].message


def test_luminance_and_chroma_beside_proof_passes_do_no_harm(delivery: Path, proof_of: Callable[..., Proof]) -> None:
    said, channels = contents(file_of(delivery, 7))
    kept = {name: pixels for name, pixels in channels.items() if "proof" in name}
    grey = np.ones((180, 240), dtype=np.float16)
    chroma = {name: OpenEXR.Channel(np.zeros_like(grey), 2, 2) for name in ("RY", "BY")}
    OpenEXR.File(said, {**kept, "Y": grey, **chroma}).write(str(file_of(delivery, 7)))
    proof = proof_of(delivery)
    assert (proof.verdict, proof.faults) == (PASS, ())


def test_notes_of_frames_beyond_and_files_refused_are_in_every_report(
    shot: Path, delivery: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import jsonschema

    for frame in (-3, 0, 99, 123456789):
        shutil.copy(file_of(delivery, 1), delivery / f"beauty.{frame}.exr")
    deepen(file_of(delivery, 1))
    out = tmp_path / "proof"
    assert cli.run(["prove", str(shot), "--frames-from", str(delivery), "--out", str(out)]) == 1
    beyond = "frames -3,0,99,123456789 are there too, beyond what the shot has; not read"
    said = capsys.readouterr().out
    record = json.loads((out / "proof.json").read_text(encoding="utf-8"))
    jsonschema.validate(record, proof_schema())
    assert [fault["code"] for fault in record["faults"]] == ["frame-refused", "frame-beyond"]
    for text in (said, (out / "index.html").read_text(encoding="utf-8"), (out / "junit.xml").read_text("utf-8")):
        assert beyond in " ".join(text.split())
        assert "frame 1 has deep pixels" in " ".join(text.split())
