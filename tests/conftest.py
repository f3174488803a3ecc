"""What holds for every test: examples are drawn alike on every machine, and a busy machine is no failure."""

from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")
