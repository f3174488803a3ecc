"""Simulated sessions with labels as walked and exchanged, for what is done to catch a wrong label."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import pyarrow as pa

from firstrocker.chain import analyse
from firstrocker.layout import SessionName
from firstrocker.model import SIDES, Person, Setting, Side, WalkInfo, WalkLogs
from firstrocker.report.hazards import Hazard, hazards
from firstrocker.settings import Settings
from firstrocker.steps.quality import quality_record
from firstrocker.study.compare import compare
from firstrocker.study.summary import summarise
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.pattern import Gait, blend
from firstrocker.synth.sensors import ORDINARY
from firstrocker.synth.trial import log_pair, ruler
from firstrocker.synth.walker import walk

AFFECTED = ("slap", "toe_drop", "forefoot", "flat_contact", "shuffling", "no_heel_rise", "hemiparetic")
"""Kinds of gait of which the other leg is walked sound."""


@dataclass(frozen=True)
class Session:
    """A session as analysed: its strides and what its file says."""

    strides: pa.Table
    walks: tuple[WalkInfo, ...]
    affected: Side
    findings: tuple[Any, ...]

    def hazards(self) -> dict[str, Hazard]:
        """Every hazard by its code."""
        settings = Settings().study
        quality = quality_record(
            SessionName("S1", "1"),
            affected_side=self.affected,
            status="ok",
            findings=self.findings,
            walks=self.walks,
            strides=self.strides,
            settings={},
            inputs={},
        )
        table = compare(
            self.strides,
            confidence=settings.confidence,
            resamples=500,
            seed=settings.seed,
            min_strides=settings.min_strides,
        )
        return {one.code: one for one in hazards(summarise(self.strides), table, quality)}

    def relabelled(self, labels: dict[str, str]) -> Session:
        """The same walks, those named labelled as others were: walk -> the walk whose label it gets."""
        infos = {info.walk: info for info in self.walks}
        new = tuple(replace(infos[labels.get(info.walk, info.walk)], walk=info.walk) for info in self.walks)
        rows = self.strides.to_pylist()
        by_walk = {info.walk: info for info in new}
        for row in rows:
            info = by_walk[row["walk"]]
            row["condition"] = info.condition
            row["setting"] = None if info.setting is None else info.setting.label
            row["resistance"] = None if info.setting is None else info.setting.resistance
        return replace(self, strides=pa.Table.from_pylist(rows, schema=self.strides.schema), walks=new)

    def other_side(self) -> Session:
        """The same with the other side called affected."""
        return replace(self, affected="left" if self.affected == "right" else "right")


def made_session(walked: list[tuple[WalkInfo, Gait]], *, seed: int, both: bool, strides: int) -> Session:
    """Walk, record and analyse; every walk has its own sensors' seats and faults."""
    logs: list[WalkLogs] = []
    for k, (info, gait) in enumerate(walked):
        walker = walk(gait, seed=seed + k, side="right", strides=strides, both=both)
        own = [log for side in SIDES if both or side == "right" for log in log_pair(walker, side, ORDINARY, seed + k)]
        logs.append(WalkLogs(info, tuple(own)))
        person = Person("S1", "1", "right", ruler(walker.leg().shape))
    result = analyse(person, logs, settings=Settings())
    return Session(result.strides, tuple(info for info, _ in walked), "right", result.findings)


def tuning_session(seed: int, *, strides: int = 10) -> Session:
    """A slapping foot, unbraced and in three resistances."""
    slap, balanced, stiff = GAITS["slap"], GAITS["balanced"], GAITS["too_much_resistance"]
    braced = (("soft", 50.0, blend(slap, balanced, 0.45)), ("medium", 60.0, balanced), ("firm", 70.0, stiff))
    walked = [(WalkInfo("a", "unbraced"), slap)]
    for name, (label, resistance, gait) in zip("bcd", braced, strict=True):
        walked.append((WalkInfo(name, "braced", Setting(label, resistance, "Shore A")), gait))
    return made_session(walked, seed=seed, both=False, strides=strides)


def two_sided_session(kind: str, seed: int, *, strides: int = 8) -> Session:
    """One unbraced walk with sensors on both legs, the right one affected."""
    return made_session([(WalkInfo("a", "unbraced"), GAITS[kind])], seed=seed, both=True, strides=strides)
