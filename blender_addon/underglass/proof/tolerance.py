"""The tolerance of a proof where nobody says another one, pixels."""

DEFAULT_TOLERANCE_PX = 0.05
