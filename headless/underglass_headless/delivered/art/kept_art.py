# SPDX-License-Identifier: GPL-3.0-or-later
"""What was made of art and is kept from frame to frame, up to a limit; threads may ask for it side by side."""

import threading
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from typing import Generic, TypeVar

_Key = TypeVar("_Key", bound=Hashable)
_Value = TypeVar("_Value")


@dataclass
class Kept(Generic[_Key, _Value]):
    """Values by key, at most ``most``: frames come in order, so what was made first has been seen enough."""

    most: int
    _values: dict[_Key, _Value] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def get(self, key: _Key, make: Callable[[], _Value]) -> _Value:
        """Return the value of ``key``, made by one thread where it is not there."""
        with self._lock:
            if key not in self._values:
                if len(self._values) >= self.most:
                    del self._values[next(iter(self._values))]
                self._values[key] = make()
            return self._values[key]
