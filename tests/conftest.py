"""What holds for every test: examples are drawn alike on every machine, and a busy machine is no failure."""

from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")

collect_ignore_glob = ["bench/*"]
"""Benchmarks are run by hand; some need what the tests do not."""
