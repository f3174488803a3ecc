"""What holds for every test: names and examples are alike on every machine, and a busy machine is no failure."""

from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")

collect_ignore_glob = ["bench/*"]
"""Benchmarks are run by hand; some need what the tests do not."""


def pytest_make_parametrize_id(val: object, argname: str) -> str | None:
    """A test is not named after a file's bytes: packed files hold the hour, and workers must agree on names."""
    return argname if isinstance(val, bytes) else None
