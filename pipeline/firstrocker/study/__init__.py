"""Strides in, comparison and choice out."""
