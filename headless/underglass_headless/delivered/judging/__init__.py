# SPDX-License-Identifier: GPL-3.0-or-later
"""What is wrong with delivered frames, and the verdict on them. Free of files."""
