# SPDX-License-Identifier: GPL-3.0-or-later
"""Art and pictures without a library: headers, PNG, the passes that Cycles writes, notes in frames."""
