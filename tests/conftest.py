"""What holds for every test: names and examples are alike on every machine, and a busy machine is no failure."""

import gc
import signal
from collections.abc import Generator

import pytest
from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")

if signal.getsignal(signal.SIGHUP) is signal.SIG_IGN:
    signal.signal(signal.SIGHUP, signal.SIG_DFL)  # tests started by nohup close terminals all the same

collect_ignore_glob = ["bench/*"]
"""Benchmarks are run by hand; some need what the tests do not."""

LONG = (
    "tests/workflow/test_interrupted.py",
    "tests/workflow/test_reruns.py",
    "tests/workflow/test_rejections.py",
    "tests/web/",
    "tests/nightly/test_nights.py",
    "tests/synth/test_accuracy.py",
    "tests/synth/test_slow_walks.py",
    "tests/report/test_browser.py",
    "tests/signals/test_describe.py",
)
"""Files that take long come first, so that no worker is left alone with one of them at the end."""


def pytest_make_parametrize_id(val: object, argname: str) -> str | None:
    """A test is not named after a file's bytes: packed files hold the hour, and workers must agree on names."""
    return argname if isinstance(val, bytes) else None


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Where several processes share the tests, the long ones come first."""
    if hasattr(config, "workerinput"):
        items.sort(key=lambda item: next((k for k, name in enumerate(LONG) if item.nodeid.startswith(name)), len(LONG)))


def pytest_collection_finish() -> None:
    """What is there by now stays to the end: no later search for garbage has to go through it, which takes a second."""
    gc.collect()
    gc.freeze()


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """One process makes all tests of a file, and so their common ground once, and takes the files in their order."""
    from xdist.scheduler import LoadFileScheduling  # type: ignore[import-untyped]

    config.option.loadscopereorder = False
    return LoadFileScheduling(config, log)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    """In a test marked ``untraced``, its fixtures included, coverage is not counted: counting slows all of Python."""
    counting = getattr(item.config.pluginmanager.getplugin("_cov"), "cov_controller", None)
    if counting is None or item.get_closest_marker("untraced") is None:
        return (yield)
    counting.pause()
    try:
        return (yield)
    finally:
        counting.resume()
