# SPDX-License-Identifier: GPL-3.0-or-later
"""What a process may use of its machine, read from files as the kernel writes them, of either version."""

from collections.abc import Mapping
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass_headless.engines.core_shares import core_shares
from underglass_headless.machine import cores_and_memory

EIGHT = frozenset(range(8))


@pytest.fixture(autouse=True)
def eight_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("os.sched_getaffinity", lambda _: set(EIGHT), raising=False)


def machine(root: Path, files: Mapping[str, str]) -> Path:
    """Lay out a machine's files below ``root`` and return it."""
    for name, text in files.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    return root


V2 = {"proc/self/cgroup": "0::/farm.slice/task 7\n"}
V1 = {"proc/self/cgroup": "12:cpu,cpuacct:/docker/abc\n9:memory:/docker/abc\n0::/\n"}


@pytest.mark.parametrize(
    ("files", "count"),
    [
        ({}, 8),
        (V2, 8),
        # the kernel's "Control Group v2": "$MAX $PERIOD", "max" for no limit
        (V2 | {"sys/fs/cgroup/farm.slice/task 7/cpu.max": "200000 100000\n"}, 2),
        (V2 | {"sys/fs/cgroup/farm.slice/task 7/cpu.max": "250000 100000\n"}, 3),
        (V2 | {"sys/fs/cgroup/farm.slice/task 7/cpu.max": "10000 100000\n"}, 1),
        (V2 | {"sys/fs/cgroup/farm.slice/task 7/cpu.max": "max 100000\n"}, 8),
        (V2 | {"sys/fs/cgroup/farm.slice/task 7/cpu.max": "6400000 100000\n"}, 8),
        # a limit of a group above counts for all below it
        (
            V2
            | {
                "sys/fs/cgroup/farm.slice/task 7/cpu.max": "max 100000\n",
                "sys/fs/cgroup/farm.slice/cpu.max": "400000 100000",
            },
            4,
        ),
        # inside a container only the top is to be seen, whatever the way says
        ({"proc/self/cgroup": "0::/\n", "sys/fs/cgroup/cpu.max": "150000 50000\n"}, 3),
        ({"proc/self/cgroup": "0::/../../other\n", "sys/fs/cgroup/cpu.max": "150000 50000\n"}, 3),
        (V2 | {"sys/fs/cgroup/farm.slice/task 7/cpu.max": "none\n"}, 8),
        # "CFS Bandwidth Control": -1 for no limit
        (
            V1
            | {
                "sys/fs/cgroup/cpu/docker/abc/cpu.cfs_quota_us": "300000\n",
                "sys/fs/cgroup/cpu/docker/abc/cpu.cfs_period_us": "100000\n",
            },
            3,
        ),
        (
            V1
            | {
                "sys/fs/cgroup/cpu/docker/abc/cpu.cfs_quota_us": "-1\n",
                "sys/fs/cgroup/cpu/docker/abc/cpu.cfs_period_us": "100000\n",
            },
            8,
        ),
        (
            V1
            | {
                "sys/fs/cgroup/cpu/cpu.cfs_quota_us": "50000\n",
                "sys/fs/cgroup/cpu/cpu.cfs_period_us": "50000\n",
            },
            1,
        ),
    ],
)
def test_a_quota_of_the_container_counts_as_so_many_cores(files: Mapping[str, str], count: int, tmp_path: Path) -> None:
    root = machine(tmp_path, files)
    assert cores_and_memory.core_count(root=root) == count
    used = cores_and_memory.cores(root=root)
    assert len(set(used)) == count
    assert set(used) <= EIGHT
    assert list(used) == sorted(used)


@pytest.mark.parametrize(
    ("files", "limit"),
    [
        ({}, None),
        (V2 | {"sys/fs/cgroup/farm.slice/task 7/memory.max": "4294967296\n"}, 4 * 2**30),
        (V2 | {"sys/fs/cgroup/farm.slice/task 7/memory.max": "max\n"}, None),
        (V2 | {"sys/fs/cgroup/farm.slice/memory.max": "1000\n"}, 1000),
        (V1 | {"sys/fs/cgroup/memory/docker/abc/memory.limit_in_bytes": "2147483648\n"}, 2**31),
        (V1 | {"sys/fs/cgroup/memory/docker/abc/memory.limit_in_bytes": "9223372036854771712\n"}, None),
    ],
)
def test_a_limit_of_memory_is_told_where_there_is_one(
    files: Mapping[str, str], limit: int | None, tmp_path: Path
) -> None:
    assert cores_and_memory.memory_limit(root=machine(tmp_path, files)) == limit


@given(st.text(max_size=60), st.text(max_size=20))
def test_whatever_the_files_hold_there_is_a_core(
    tmp_path_factory: pytest.TempPathFactory, ways: str, told: str
) -> None:
    root = tmp_path_factory.mktemp("machine")
    text = (f"0::/{ways}").encode("utf-8", "replace").decode()
    machine(root, {"proc/self/cgroup": text})
    for name in ("cpu.max", "memory.max"):
        (root / "sys/fs/cgroup").mkdir(parents=True, exist_ok=True)
        (root / "sys/fs/cgroup" / name).write_text(told.encode("utf-8", "replace").decode())
    assert 1 <= cores_and_memory.core_count(root=root) <= 8
    assert cores_and_memory.memory_limit(root=root) is None or cores_and_memory.memory_limit(root=root) >= 0  # type: ignore[operator]


def test_one_process_under_a_quota_is_held_to_its_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    # without a share Blender starts a thread for each core that it sees
    assert core_shares(1) == [()]
    monkeypatch.setattr(cores_and_memory, "core_quota", lambda **_: 2.0)
    monkeypatch.setattr(cores_and_memory, "_container", lambda root: 3)
    assert core_shares(1) == [(6, 7)]
    assert core_shares(2) == [(6,), (7,)]
    assert core_shares(3) == [(6,), (7,), (6,)]
