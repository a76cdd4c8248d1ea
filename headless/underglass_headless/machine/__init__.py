# SPDX-License-Identifier: GPL-3.0-or-later
"""What a process may use of its machine, and what it needs from it."""
