# SPDX-License-Identifier: GPL-3.0-or-later
"""A process that gives one reader spoilt inputs, one after another, under a limit of time and memory.

``python -m hostile.trying READER SEED FIRST END FOLDER``: each input is made from its number, so that one can be had
again. What came of it is told in lines of JSON; the last input lies in FOLDER if the process dies over it.
"""

import contextlib
import gc
import json
import os
import random
import resource
import signal
import sys
import time
import traceback
import warnings
from pathlib import Path
from typing import Any

from hostile.readers import READERS, Reader
from memory import peak
from underglass.shot import UnderglassError

MOST_SECONDS = 5.0
MOST_BYTES = 2 * 2**30
# Written by readers that were asked for more memory than there is, whatever library asked.
_MEMORY_WORDS = ("bad_alloc", "MemoryError", "Unable to allocate", "out of memory", "Cannot allocate")


class TooLongError(BaseException):
    """An input took too long; no reader's own `except Exception` stops it."""


def main(name: str, seed: str, first: str, end: str, place: str) -> None:
    """Try the inputs from number ``first`` to before ``end``."""
    # Libraries in C print what they like; what they print is no word of ours.
    words = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)
    reader = next(reader for reader in READERS if reader.name == name)
    folder = Path(place)
    seeds = made_seeds(reader, folder)
    around = folder / "around"
    if not around.exists():
        around.mkdir()
        reader.lay_out(around)
    path = around / reader.file
    # What there is before counts to what a process needs for itself.
    for data in seeds:
        with contextlib.nullcontext() if reader.takes_good else contextlib.suppress(UnderglassError):
            reader.read(put(path, data))
    base = peak()
    resource.setrlimit(resource.RLIMIT_AS, (virtual() + MOST_BYTES,) * 2)
    signal.signal(signal.SIGALRM, _too_long)
    warnings.simplefilter("ignore")
    for number in range(int(first), int(end)):
        data = spoilt(reader, seeds, seed=seed, number=number)
        print(json.dumps({"begins": number}), file=words, flush=True)
        told = outcome(reader, put(path, data))
        if told["kind"] not in {"refused", "accepted"}:
            (folder / f"{told['kind']}-{number}").write_bytes(data)
        told |= {"number": number, "bytes": max(0, peak() - base)}
        print(json.dumps(told), file=words, flush=True)
        if number % 500 == 0:
            gc.collect()


def made_seeds(reader: Reader, folder: Path) -> list[bytes]:
    """Return the good inputs of a reader, made once in ``folder``."""
    kept = folder / "seeds"
    if not kept.exists():
        making = folder / "making"
        making.mkdir(parents=True)
        made = reader.seeds(making)
        kept.mkdir()
        for number, data in enumerate(made):
            (kept / f"{number:03d}").write_bytes(data)
    return [path.read_bytes() for path in sorted(kept.iterdir())]


def spoilt(reader: Reader, seeds: list[bytes], *, seed: str, number: int) -> bytes:
    """Return input ``number`` of a reader."""
    rng = random.Random(f"{seed} {reader.name} {number}")
    return reader.spoil(rng, rng.choice(seeds), seeds)


def put(path: Path, data: bytes) -> Path:
    """Write an input where the reader looks for it."""
    path.write_bytes(data)
    return path


def outcome(reader: Reader, path: Path) -> dict[str, Any]:
    """Read one input and return what came of it, in how many seconds."""
    began = time.perf_counter()
    kind, words = "accepted", ""
    signal.setitimer(signal.ITIMER_REAL, MOST_SECONDS)
    try:
        reader.read(path)
    except UnderglassError as error:
        kind, words = "refused", str(error)
        if len(words.splitlines()) != 1 or any(ord(letter) < 32 for letter in words):
            kind = "error of many lines"
        if ran_out_of_memory(error):
            kind = "memory"
    except TooLongError:
        kind, words = "hang", traceback.format_exc()[-2000:]
    except MemoryError:
        kind, words = "memory", traceback.format_exc()[-2000:]
    except BaseException:
        kind, words = "traceback", traceback.format_exc()[-2000:]
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
    return {"kind": kind, "words": words, "seconds": time.perf_counter() - began}


def ran_out_of_memory(error: BaseException | None) -> bool:
    """Return whether a refusal only hides that the memory did not suffice."""
    while error is not None:
        if isinstance(error, MemoryError) or any(words in str(error) for words in _MEMORY_WORDS):
            return True
        error = error.__cause__ or error.__context__
    return False


def virtual() -> int:
    """Return the addresses that this process has taken, bytes."""
    return int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()


def _too_long(*_: object) -> None:
    raise TooLongError


if __name__ == "__main__":
    main(*sys.argv[1:])
