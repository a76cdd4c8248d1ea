# SPDX-License-Identifier: GPL-3.0-or-later
"""One set of facts, many thin writers: JSON, CSV, page, plots, pictures."""
