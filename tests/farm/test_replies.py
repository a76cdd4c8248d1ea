"""What comes back from a cluster is taken whole or refused in one line, whatever a worker sends."""

from pathlib import Path
from typing import Any

import pytest

from farm.made_up import FRAME, job, put
from underglass.shot import UnderglassError
from underglass_headless.farm.cluster import _Spread
from underglass_headless.farm.cluster_worker import Answer
from underglass_headless.farm.store import Store


@pytest.fixture
def spread(tmp_path: Path) -> _Spread:
    """Return what takes in answers for a job of its own."""
    store = Store(tmp_path / "work", job(tmp_path))
    return _Spread(None, store.job, store, lambda event: None)


def test_a_whole_answer_is_taken(spread: _Spread, tmp_path: Path) -> None:
    made = put(tmp_path / "made", FRAME)
    assert spread._whole(FRAME, Answer(files={made.name: made.read_bytes()})).unit == FRAME


@pytest.mark.parametrize(
    "answer",
    [
        None,
        b"\x80\x04",
        Answer("ShotError", "\x1b[2J\nthe shot"),
        Answer("ShotError", ""),
        Answer("\x1b[2J", ""),
        Answer(files={FRAME.result_file: b"[" * 100_000}),
        Answer(files={"../../x.json": b"{}"}),
    ],
)
def test_any_other_is_refused_in_a_line_that_a_terminal_can_show(spread: _Spread, tmp_path: Path, answer: Any) -> None:
    with pytest.raises(UnderglassError) as caught:
        spread._whole(FRAME, answer)
    assert str(caught.value).isprintable()
    assert str(caught.value)
    assert not list(tmp_path.rglob("x.json"))
