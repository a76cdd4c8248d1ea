# SPDX-License-Identifier: GPL-3.0-or-later
"""What a run says while it runs and as it ends."""
