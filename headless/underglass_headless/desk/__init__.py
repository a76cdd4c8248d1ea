# SPDX-License-Identifier: GPL-3.0-or-later
"""What is worked out at a desk before a shot: the plan of a stack, and what the painters need of it."""
