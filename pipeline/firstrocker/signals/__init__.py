"""Logs in, clean uniform signals on one clock out."""
