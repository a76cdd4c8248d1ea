# SPDX-License-Identifier: GPL-3.0-or-later
"""What a run says while it runs and as it ends, for whoever hears it: a terminal, a plain log, a farm, another program.

Everything goes out a line at a time and at once. What a proof says is in the reports; this is how it is told.
"""

import json
import math
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from typing import Any, TextIO

from underglass.proof.proof_facts import BLOCK, PASS, Proof
from underglass.proof.proof_json import fault_record, proof_record
from underglass.proof.proof_summary import judged, summary_lines, worst_told
from underglass.proof.wording import counted, give_or_take, plain
from underglass.shot import UnderglassError

from ..work.units_of_work import Unit
from . import annotations
from .interruption import came
from .progress import Tell, shown_progress
from .still_heard import ended_unheard

EVENTS_FORMAT = 1
# How often a farm hears of progress, s: its log holds every line, and a scene is read in thousands of frames.
TELL_EVERY_S = 1.0
# What the parts of a proof have of its time, in percent from where to where: about, and never backwards.
_SHARES = {
    "reading the scene": (0.0, 5.0),
    "measuring every frame": (5.0, 45.0),
    "measuring test frames": (45.0, 70.0),
    "rendering pictures": (70.0, 99.0),
    "looking at the frames": (0.0, 99.0),
}


class Log(Enum):
    """How a run is told: ``plain`` lines and a bar on a terminal, or as Open Job Description has it."""

    PLAIN = "plain"
    OPENJD = "openjd"


@dataclass(frozen=True)
class Voice:
    """How a run speaks: as ``log`` has it, in JSON lines alone where ``as_json``, and through ``echo`` to people."""

    echo: Callable[[str], None]
    as_json: bool = False
    log: Log = Log.PLAIN


@contextmanager
def told_progress(voice: Voice) -> Iterator[Tell]:
    """Yield ``tell(what, done, of)`` that tells in the words of ``voice``.

    Where a farm or a program is told, the work ends once that is gone: nobody would know of it.
    """
    if voice.as_json:
        with ended_unheard():
            yield _json_progress
    elif voice.log is Log.OPENJD:
        with ended_unheard():
            yield _OpenJobLines().tell
    else:
        with shown_progress() as tell:
            yield tell


def unit_told(voice: Voice) -> Callable[[Unit, bool], None]:
    """Return what tells a program of every unit of work that is done, or was by an earlier run."""

    def told(unit: Unit, kept: bool) -> None:
        if voice.as_json:
            _write(
                _one_line({"event": "unit", "kind": unit.kind, "frames": list(unit.frames), "kept": kept}), sys.stdout
            )

    return told


@contextmanager
def told_failure(voice: Voice) -> Iterator[None]:
    """Say what goes wrong inside in the words of ``voice`` too; it is raised all the same.

    A reader that is gone ends the run as an interruption: without a verdict, it must not look like one.
    """
    try:
        yield
    except BrokenPipeError:
        # Python would complain once more at exit.
        sys.stdout = None  # type: ignore[assignment]
        raise KeyboardInterrupt from None
    except (UnderglassError, OSError) as error:
        _failed(voice, str(error))
        raise
    except KeyboardInterrupt:
        _failed(voice, "interrupted")
        raise
    except Exception as error:
        if came():
            _failed(voice, "interrupted")
            raise KeyboardInterrupt from error
        _failed(voice, f"a fault in Underglass itself: {type(error).__name__}: {error}")
        raise


def tell_end(proof: Proof, *, results: Path, voice: Voice) -> None:
    """Say how a proof ended: to people or a program, and in a line for a log where standard error is no terminal.

    The results are there by now: a reader who is gone changes nothing any more.
    """
    line = log_line(proof, results=results)
    if not voice.as_json:
        with _even_unheard():
            for text in summary_lines(proof, results=results):
                voice.echo(text)
    if annotations.is_here():
        # before the verdict, which is the last line of the log
        with _even_unheard():
            for annotation in annotations.annotations(proof):
                _write(annotation, sys.stderr)
    if not sys.stderr.isatty():
        with _even_unheard():
            _write(annotations.no_command(line) if annotations.is_here() else line, sys.stderr)
    if voice.log is Log.OPENJD:
        with _even_unheard():
            _write("openjd_progress: 100.0", sys.stdout)
            if proof.verdict != PASS:
                _write(f"openjd_fail: {line}", sys.stdout)
    if voice.as_json:
        with _even_unheard():
            for event in end_events(proof, results=results):
                _write(_one_line(event), sys.stdout)


def tell_share(*, done: int, kept: int, work: Path, voice: Voice) -> None:
    """Say that a share of the work is done: ``done`` units now, ``kept`` by an earlier run."""
    if voice.as_json:
        _write(_one_line({"event": "share", "done": done, "kept": kept, "work": str(work)}), sys.stdout)
        return
    told = f"{counted(done, 'unit')} of work done" + (f", {kept} were there" if kept else "")
    voice.echo(f"{told}: {work}")
    if voice.log is Log.OPENJD:
        _write("openjd_progress: 100.0", sys.stdout)


def log_line(proof: Proof, *, results: Path) -> str:
    """Return how a proof ended, in one line: verdict, title, the most serious fault or the worst error, where."""
    shot = proof.plan.shot
    wrong = [fault for fault in proof.faults if fault.severity == BLOCK]
    worst = worst_told(proof.measurements, tolerance=proof.tolerance_px)
    measured, there = len(proof.rendered_frames), len(proof.plan.frames)
    of = "" if measured == there else f"{measured} of "
    facts = [counted(len(shot.levels), "level"), f"{of}{counted(there, 'frame')} measured"]
    first = ""
    if wrong:
        more = f", and {counted(len(wrong) - 1, 'more fault')}" if len(wrong) > 1 else ""
        first = f"{plain(wrong[0].message)}{more}; "
    elif worst is not None:
        where = f"{plain(worst.level)} on frame {worst.frame}"
        facts.append(f"worst {give_or_take(*judged(worst))} ({where})")
    facts.append(f"{proof.tolerance_px:g} px allowed")
    facts.append(f"{proof.seconds.get('all', 0.0):.0f} s")
    verdict = "PASS" if proof.verdict == PASS else "FAIL"
    record = plain(str(results / "proof.json"))
    return f'underglass: {verdict} "{plain(shot.title)}": {first}{", ".join(facts)}; {record}'


def end_events(proof: Proof, *, results: Path) -> Iterator[dict[str, Any]]:
    """Yield the events of the end: every fault, and last the whole record of the proof."""
    for fault in proof.faults:
        yield {"event": "fault", **fault_record(fault)}
    yield {"event": "proof", "verdict": proof.verdict, "results": str(results), "proof": proof_record(proof)}


def _json_progress(what: str, done: int, of: int) -> None:
    _write(_one_line({"event": "progress", "what": what, "done": done, "of": of}), sys.stdout)


def _one_line(event: dict[str, Any]) -> str:
    """Return an event as a line of JSON; in ASCII, so that nothing in it steers a terminal."""
    return json.dumps({"format": EVENTS_FORMAT, **event}, allow_nan=False)


class _OpenJobLines:
    """Progress as Open Job Description reads it from standard output ("How Jobs Are Run", stdout messages)."""

    def __init__(self, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._percent = -1.0
        # What was told last of each part of the work, and when, s.
        self._told: dict[str, tuple[int, float]] = {}

    def tell(self, what: str, done: int, of: int) -> None:
        """Tell how far a part is, once a second at most, and its first and last in any case; never backwards."""
        now = self._clock()
        before, told_at = self._told.get(what, (-1, -math.inf))
        if done <= before or (now - told_at < TELL_EVERY_S and done < of):
            return
        self._told[what] = done, now
        first, last = _SHARES.get(what, (0.0, 0.0))
        percent = first + (last - first) * done / max(of, 1)
        if percent > self._percent:
            self._percent = percent
            _write(f"openjd_progress: {percent:.1f}", sys.stdout)
        _write(f"openjd_status: {plain(what)}: {done} of {of}", sys.stdout)


def _failed(voice: Voice, text: str) -> None:
    line = plain(" ".join(text.split()))
    with _even_unheard():
        if voice.as_json:
            _write(_one_line({"event": "failed", "message": line}), sys.stdout)
        elif voice.log is Log.OPENJD:
            _write(f"openjd_fail: {line}", sys.stdout)
        if annotations.is_here():
            _write(annotations.annotation("error", "underglass", line), sys.stderr)


@contextmanager
def _even_unheard() -> Iterator[None]:
    """Leave unsaid what nobody reads any more, or what a full disk has no room for."""
    try:
        yield
    except OSError:
        sys.stdout = None  # type: ignore[assignment]


def _write(line: str, stream: TextIO | None) -> None:
    if stream is None:
        return
    # A lone half of a character in a file's name is none that a stream could spell.
    stream.write(line.encode("utf-8", "backslashreplace").decode("utf-8") + "\n")
    stream.flush()
