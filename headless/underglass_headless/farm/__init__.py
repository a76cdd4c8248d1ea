"""A proof in units of work, on one machine or on many: what a unit is, where its results lie, and the engines."""
