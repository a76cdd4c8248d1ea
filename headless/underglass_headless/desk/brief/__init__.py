# SPDX-License-Identifier: GPL-3.0-or-later
"""The brief: a shot whose stack is not worked out yet, and the file that says it."""
