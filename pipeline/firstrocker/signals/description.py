"""What `describe` says of a log: a profile to read it by, how sure each entry is, and a small picture of the motion."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from firstrocker.model import FloatArray
from firstrocker.signals.strict import Problem

Sure = Literal["high", "fair", "low"]


@dataclass(frozen=True)
class Item:
    """One entry of a proposed profile.

    ``key`` is the entry's place, with a dot between levels (``units.acceleration``); ``value`` is plain and stands so
    in the profile (None: the entry is left out, as its default fits); ``why`` is a sentence; ``alternatives`` are
    values of the same kind that are possible too, the likeliest first, empty where there is no doubt.
    """

    key: str
    value: Any
    sure: Sure
    why: str
    alternatives: tuple[Any, ...] = ()


@dataclass(frozen=True)
class Preview:
    """Lengths of acceleration and angular velocity as the proposal reads them, thinned for a small picture.

    ``time_s`` (n,) s since the first sample; ``acceleration`` (n,) m/s^2; ``angular_velocity`` (n,) rad/s. Each point
    is the greatest value of its stretch, so that no peak is lost.
    """

    time_s: FloatArray
    acceleration: FloatArray
    angular_velocity: FloatArray


@dataclass(frozen=True)
class Description:
    """A proposal of how a log reads.

    Attributes:
        profile: plain values, with the keys of a logger profile; loads as one where ``usable``.
        items: every entry, with how sure it is and why.
        preview: of the log read with the profile; None where it cannot be read.
        problems: what stands in the way of reading the log; to be settled by whoever knows it.
        notes: what is worth knowing and stands in no entry: sentences.
        sensor: which of several sensors in the file this is, as the file calls it; empty where there is one.
        others: the file's further sensors.
    """

    profile: dict[str, Any]
    items: tuple[Item, ...]
    preview: Preview | None = None
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()
    sensor: str = ""
    others: tuple[Description, ...] = ()

    @property
    def usable(self) -> bool:
        """Whether the file was read with the profile."""
        return not self.problems and self.preview is not None

    @property
    def doubtful(self) -> tuple[Item, ...]:
        """The entries that somebody should look at: all that are not sure."""
        return tuple(item for item in self.items if item.sure != "high")


def profile_yaml(profile: dict[str, Any]) -> str:
    """A profile as YAML, one line for each of its keys; entries that nobody knows yet are null, which is refused."""
    import yaml

    order = ["columns", "units", "scale", "counter", "sampling_rate_hz", "rows"]
    keys = [key for key in order if key in profile] + [key for key in profile if key not in order]
    lines = []
    for key in keys:
        value = profile[key]
        text = yaml.safe_dump(value, default_flow_style=True, sort_keys=False, width=10_000, allow_unicode=True)
        lines.append(f"{key}: {text.removesuffix(chr(10)).removesuffix(chr(10) + '...')}")
    return "\n".join(lines) + "\n"
