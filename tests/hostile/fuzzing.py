# SPDX-License-Identifier: GPL-3.0-or-later
"""Fuzzing in processes: a reader's inputs in some of its own, what came of them added up, and the table of it."""

import contextlib
import json
import os
import selectors
import subprocess
import sys
import time
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from hostile.readers import Reader

ROOT = Path(__file__).parents[2]
# A process that is silent for so long hangs in code that no signal reaches.
SILENCE_S = 15.0
SLICE = 5000


@dataclass
class Tally:
    """What came of the inputs of one reader; ``faults`` tells of each that broke a promise, with its number."""

    reader: str
    inputs: int = 0
    refused: int = 0
    accepted: int = 0
    seconds: float = 0.0
    bytes: int = 0
    faults: list[str] = field(default_factory=list)

    def add(self, told: dict[str, Any]) -> None:
        """Count one input."""
        self.inputs += 1
        self.seconds = max(self.seconds, told["seconds"])
        self.bytes = max(self.bytes, told["bytes"])
        if told["kind"] == "refused":
            self.refused += 1
        elif told["kind"] == "accepted":
            self.accepted += 1
        else:
            self.faults.append(f"{self.reader}, input {told['number']}: {told['kind']}\n{told['words']}")


def fuzz(reader: Reader, *, count: int, seed: int, folder: Path, first: int = 0) -> Tally:
    """Give ``reader`` ``count`` spoilt inputs; of a process that dies another goes on."""
    tally = Tally(reader.name)
    number, end = first, first + count
    while number < end:
        number = _slice(reader, tally, seed, number, min(end, number + SLICE), folder)
        if len(tally.faults) > 200:
            break
    return tally


def _slice(reader: Reader, tally: Tally, seed: int, first: int, end: int, folder: Path) -> int:
    """Try some inputs in one process; return the number of the input to go on with."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = os.pathsep.join(str(ROOT / name) for name in ("blender_addon", "headless", "tests"))
    process = subprocess.Popen(
        [sys.executable, "-m", "hostile.trying", reader.name, str(seed), str(first), str(end), str(folder)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE if os.name == "nt" else (folder / "stderr").open("wb"),
        env=os.environ | {"PYTHONPATH": paths, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"},
    )
    begun = first - 1
    try:
        for line in _lines(process):
            told = json.loads(line)
            if "begins" in told:
                begun = told["begins"]
            else:
                tally.add(told)
                first = told["number"] + 1
    finally:
        with contextlib.suppress(OSError):
            process.kill()
        status = process.wait()
    if first == end:
        return end
    said = (folder / "stderr").read_text(errors="replace")[-1500:]
    if begun < first:
        raise AssertionError(f"{reader.name}: no input was tried: status {status}\n{said}")
    kind = "hang" if status == -9 else f"ended by status {status}"
    tally.add({"kind": kind, "words": said, "seconds": 0.0, "bytes": 0, "number": begun})
    return begun + 1


def _lines(process: "subprocess.Popen[bytes]") -> Iterable[str]:
    """Yield lines as they come; one that is silent for too long is ended."""
    assert process.stdout is not None
    with selectors.DefaultSelector() as selector:
        selector.register(process.stdout, selectors.EVENT_READ)
        rest = b""
        patience = time.monotonic() + 60.0
        while True:
            if not selector.select(max(0.0, patience - time.monotonic())):
                process.kill()
                return
            data = os.read(process.stdout.fileno(), 1 << 16)
            if not data:
                return
            *lines, rest = (rest + data).split(b"\n")
            yield from (line.decode() for line in lines)
            patience = time.monotonic() + SILENCE_S


def table(tallies: Iterable[Tally]) -> str:
    """Return the tallies as a table in Markdown, with their sum."""
    rows = sorted(tallies, key=lambda tally: tally.reader.lower())
    lines = [
        "| reader | inputs | refused | accepted | worst time, s | worst memory, MB | faults |",
        "| --- | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    for row in rows:
        numbers = f"{row.inputs:,} | {row.refused:,} | {row.accepted:,} | {row.seconds:.2f} | {row.bytes / 1e6:.0f}"
        lines.append(f"| {row.reader} | {numbers} | {len(row.faults)} |")
    inputs, refused, accepted = (sum(getattr(row, name) for row in rows) for name in ("inputs", "refused", "accepted"))
    worst, most = max(row.seconds for row in rows), max(row.bytes for row in rows) / 1e6
    faults = sum(len(row.faults) for row in rows)
    lines.append(f"| all | {inputs:,} | {refused:,} | {accepted:,} | {worst:.2f} | {most:.0f} | {faults} |")
    return "\n".join(lines)
