"""Everything that the page of a session says beside its tables and pictures, in one piece."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pyarrow as pa

from firstrocker.report.answers import Answer, answer_all
from firstrocker.report.choice_words import ChoiceWords, choice_words
from firstrocker.report.hazards import CAUTIONS, Hazard, hazards
from firstrocker.study.choice import choose
from firstrocker.study.weighed import Choice


@dataclass(frozen=True)
class Said:
    """The three answers, what can be said of the settings (None with fewer than two candidates), hazards, cautions."""

    answers: Sequence[Answer]
    choice: Choice | None
    settings: ChoiceWords | None
    hazards: Sequence[Hazard]
    cautions: Sequence[str]


def say(
    *,
    strides: pa.Table,
    summary: pa.Table,
    comparison: pa.Table,
    quality: Mapping[str, Any],
    side: str,
    names: Mapping[str, str],
    confidence: float,
    resamples: int,
    seed: int,
    min_strides: int,
) -> Said:
    """Put one session into words.

    Args:
        strides: rows in the schema STRIDES of one session.
        summary: its summary.
        comparison: its comparison, made with the four settings below.
        quality: the content of its quality.json.
        side: whose answers.
        names: of :func:`firstrocker.report.rows.walk_names`.
        confidence: level of the intervals.
        resamples: draws behind them.
        seed: of the draws.
        min_strides: fewer are too few.
    """
    choice = choose(strides, side=side, confidence=confidence, resamples=resamples, seed=seed, min_strides=min_strides)
    return Said(
        answers=answer_all(summary.to_pylist(), comparison.to_pylist(), side=side, names=names),
        choice=choice,
        settings=None if choice is None else choice_words(choice),
        hazards=hazards(summary, comparison, quality),
        cautions=CAUTIONS,
    )
