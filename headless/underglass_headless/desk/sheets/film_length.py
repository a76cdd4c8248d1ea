# SPDX-License-Identifier: GPL-3.0-or-later
"""Film: how long a run of frames is in feet and frames, how long it runs, and its timecode.

Frames are counted from 0 here; the number that a shot gives its first frame is no matter of the film.
"""

from dataclasses import dataclass

from underglass.shot.model import Gate


@dataclass(frozen=True)
class Gauge:
    """A film stock: its name, how many frames go to a foot of it, and the widest picture that it holds (m)."""

    name: str
    frames_per_foot: int
    widest: float


# Frames a foot: Filmfuß (de.zxc.wiki), for 35 mm also an encyclopedia extract of the 35 mm film technical
# specifications, which attributes them to SMPTE. No picture is wider than its stock; that of double 8 is a quarter of
# its 16 mm strip, and lies between those of the two narrow ones: 4.8 mm and 5.8 mm, from memory.
GAUGES = (
    Gauge("8 mm", 80, 0.0053),
    Gauge("Super 8", 72, 0.008),
    Gauge("16 mm", 40, 0.016),
    Gauge("35 mm", 16, 0.035),
)
_STANDARD = GAUGES[-1]
# Counts a second that have timecode, and how far a rate may be from them: 30000/1001 is 29.97 to people.
_NOMINAL = (24, 25, 30, 48, 50, 60)
_SLACK = 2e-5
_PULLED = 1000 / 1001


def gauge_of(gate: Gate | None) -> Gauge:
    """Return the narrowest stock that holds the picture of ``gate``; 35 mm where there is none, or a wider one."""
    if gate is None:
        return _STANDARD
    return next((gauge for gauge in GAUGES if gate.width <= gauge.widest), _STANDARD)


def feet_and_frames(count: int, *, gauge: Gauge) -> tuple[int, int]:
    """Return a length of ``count`` frames as whole feet and the frames beyond them."""
    return divmod(count, gauge.frames_per_foot)


def footage(count: int, *, gauge: Gauge) -> str:
    """Return a length of ``count`` frames as the film counter of a camera shows it: 4+08."""
    feet, frames = feet_and_frames(count, gauge=gauge)
    return f"{feet}+{frames:02}"


def running_time(count: int, *, fps: float) -> float:
    """Return how long ``count`` frames run, in seconds."""
    return count / fps


def feet_a_minute(fps: float, *, gauge: Gauge) -> float:
    """Return how much film runs through the camera in a minute, in feet."""
    return 60 * fps / gauge.frames_per_foot


def counts_a_second(fps: float) -> int:
    """Return how many frames timecode counts to a second at ``fps``: 30 for 29.97; 0 where it has no count."""
    for nominal in _NOMINAL:
        if any(abs(fps - rate) <= _SLACK * nominal for rate in (nominal, nominal * _PULLED)):
            return nominal
    return 0


def drops(fps: float) -> bool:
    """Return whether timecode at ``fps`` may leave numbers out: at 29.97 and 59.94 alone."""
    nominal = counts_a_second(fps)
    return nominal in (30, 60) and abs(fps - nominal) > _SLACK * nominal


def timecode(frame: int, *, fps: float, drop: bool = False) -> str:
    """Return the timecode of the frame with the index ``frame``: 00:00:59:29, with ``drop`` 00:01:00;02.

    Drop-frame leaves out the first numbers of each minute, two at 29.97 and four at 59.94, but for every tenth
    (SMPTE ST 12-1). Raises ValueError where timecode has no count for ``fps``, or nothing to drop.
    """
    nominal = _nominal(fps, drop)
    if drop:
        left_out = nominal // 15
        tens, rest = divmod(frame, _in_ten_minutes(nominal))
        # the first minute of ten is whole
        later = max(0, rest - left_out) // (60 * nominal - left_out)
        frame += left_out * (9 * tens + later)
    seconds, count = divmod(frame, nominal)
    minutes, second = divmod(seconds, 60)
    hour, minute = divmod(minutes, 60)
    return f"{hour:02}:{minute:02}:{second:02}{';' if drop else ':'}{count:02}"


def frame_of(code: str, *, fps: float) -> int:
    """Return the index of the frame that bears the timecode ``code``; a semicolon before its count means drop-frame.

    Raises ValueError for a code that is none, or that is left out.
    """
    drop = ";" in code
    nominal = _nominal(fps, drop)
    hour, minute, second, count = (int(part) for part in code.replace(";", ":").split(":"))
    frame = ((hour * 60 + minute) * 60 + second) * nominal + count
    if drop:
        minutes = hour * 60 + minute
        frame -= nominal // 15 * (minutes - minutes // 10)
    if timecode(frame, fps=fps, drop=drop) != code:
        raise ValueError(f"{code} is no timecode of {fps:g} frames a second")
    return frame


def _nominal(fps: float, drop: bool) -> int:
    nominal = counts_a_second(fps)
    if not nominal or (drop and not drops(fps)):
        raise ValueError(f"{fps:g} frames a second have no {'drop-frame ' if drop else ''}timecode")
    return nominal


def _in_ten_minutes(nominal: int) -> int:
    return 600 * nominal - 9 * (nominal // 15)
