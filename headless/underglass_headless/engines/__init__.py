# SPDX-License-Identifier: GPL-3.0-or-later
"""What does the units of a proof: processes, a Dask cluster, a farm that speaks Open Job Description."""
