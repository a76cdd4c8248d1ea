# SPDX-License-Identifier: GPL-3.0-or-later
"""Underglass without a window: the command line, and what needs more than numpy or a process of its own."""
