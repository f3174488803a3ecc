"""Signals in, how the foot and the shank moved out."""
