# SPDX-License-Identifier: GPL-3.0-or-later
"""What comes back from a cluster is taken whole or refused in one line, whatever a worker sends."""

from pathlib import Path
from typing import Any

import pytest

from underglass.shot import UnderglassError
from underglass_headless.engines import dask_cluster
from underglass_headless.engines.dask_cluster import ClusterError, _Spread
from underglass_headless.engines.dask_worker import Answer
from underglass_headless.work.units_of_work import Unit
from underglass_headless.work.work_folder import Store
from work.made_up import FRAME, LOOK, READING, job, put


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


class HungUnit:
    """A unit that is out on a worker, which hangs at it or has done it."""

    def __init__(self, key: str, answer: Answer | None) -> None:
        self.key, self._answer = key, answer

    def cancelled(self) -> bool:
        return False

    def done(self) -> bool:
        return self._answer is not None

    def result(self) -> Answer:
        assert self._answer is not None
        return self._answer

    def cancel(self) -> None: ...

    release = cancel


class HangingCluster:
    """A cluster of two workers, of which whoever gets the unit ``bad`` hangs; ``has_nannies`` start workers again."""

    def __init__(self, folder: Path, bad: str, *, has_nannies: bool, others_looks: int = 0) -> None:
        self.folder, self.bad, self.has_nannies = folder, bad, has_nannies
        self.hanging: dict[str, str] = {}
        self.restarted: list[str] = []
        # Another client's task, for so many looks the one that a worker is at.
        self.others_looks = others_looks

    def nthreads(self) -> dict[str, int]:
        return {"tcp://a:1": 1, "tcp://b:1": 1}

    def submit(self, _: Any, __: Any, words: Any, neighbours: Any, **more: Any) -> HungUnit:
        unit = Unit.from_words(words)
        free = [name for name in more.get("workers", neighbours) if name not in self.hanging]
        if unit.name == self.bad:
            self.hanging[free[0]] = more["key"]
            return HungUnit(more["key"], None)
        assert free, "no unit waits behind one that hangs"
        made = put(self.folder / unit.name, unit)
        return HungUnit(more["key"], Answer(files={path.name: path.read_bytes() for path in made.parent.iterdir()}))

    def processing(self) -> dict[str, tuple[str, ...]]:
        self.others_looks -= 1
        others = ("another client's",) if self.others_looks >= 0 else ()
        return {worker: (*others, key) for worker, key in self.hanging.items()}

    def restart_workers(self, workers: Any, **_: Any) -> None:
        if not self.has_nannies:
            raise ValueError("no nanny")
        for worker in workers:
            self.restarted.append(worker)
            del self.hanging[worker]

    def cancel(self, _: Any) -> None: ...


@pytest.mark.parametrize("has_nannies", [True, False])
def test_a_worker_that_hangs_is_started_again_or_passed_over_and_its_unit_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, has_nannies: bool
) -> None:
    monkeypatch.setattr(dask_cluster, "LOOK_EVERY_S", 0.01)
    monkeypatch.setattr(dask_cluster, "silence_limit_s", lambda *_, **__: 0.0125)
    hanging = HangingCluster(tmp_path / "made", FRAME.name, has_nannies=has_nannies)
    store = Store(tmp_path / "work", job(tmp_path))
    with (
        store.open(),
        pytest.raises(ClusterError, match=r"of frame 12: a worker had it for .* all else is done"),
    ):
        _Spread(hanging, store.job, store, lambda event: None).all_of([FRAME, READING, LOOK])
    assert set(store.whole([FRAME, READING, LOOK])) == {READING, LOOK}
    assert len(hanging.restarted) == (2 if has_nannies else 0)


def test_a_unit_behind_another_clients_task_is_not_late_and_its_worker_is_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = [0.0]
    limit_s = dask_cluster.LATE_TIMES * dask_cluster.silence_limit_s(FRAME.samples, size=(320, 240), levels=2)
    assert limit_s >= 3600
    hanging = HangingCluster(tmp_path / "made", FRAME.name, has_nannies=True, others_looks=3)
    store = Store(tmp_path / "work", job(tmp_path))
    spread = _Spread(hanging, store.job, store, lambda event: None)
    monkeypatch.setattr(dask_cluster.time, "monotonic", lambda: now[0])
    spread._send(FRAME, hanging.nthreads())
    for _ in range(3):
        assert spread._late(now[0]) is None
        now[0] += limit_s + 1.0
    # now it is alone, and its time begins
    now[0] -= 1.0
    assert spread._late(now[0]) is None
    now[0] += limit_s + 1.0
    (future,) = spread.out
    assert spread._late(now[0]) is future
    # another client gives the worker something just before it would be started again
    hanging.others_looks = 1
    spread._let_go(future)
    assert hanging.restarted == []
    assert len(spread.stuck) == 1
