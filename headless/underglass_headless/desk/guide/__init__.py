# SPDX-License-Identifier: GPL-3.0-or-later
"""The painting guide: how large each level's art has to be, with bleed, and a template to paint into."""
