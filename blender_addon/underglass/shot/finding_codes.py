# SPDX-License-Identifier: GPL-3.0-or-later
"""What can be found in a shot before anything is shot, by code, and how grave a finding can be."""

SEVERITIES = ("block", "warn", "note")
# What can be found before anything is shot; the plan room finds it.
CODES = (
    *("off-art", "out-of-frame", "thin-margin", "close-levels", "out-of-travel", "too-fast"),
    *("strobing", "soft", "nothing-sharp", "coarse-art"),
    *("jump", "jerk", "hard-start", "hard-stop", "creep", "counter-rounding"),
    *("expectation", "turns-round", "bellows", "uneven-light", "open-fade", "held-drawing"),
)
