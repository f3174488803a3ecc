"""One session's logs in; strides.parquet, curves.parquet, wear.parquet, quality.json and evidence.json out."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa

from firstrocker import tables
from firstrocker.chain import analyse, as_finding
from firstrocker.errors import FirstrockerError
from firstrocker.files import growing_table, write_json, write_table
from firstrocker.gait.evidence import WalkEvidence
from firstrocker.layout import session_name
from firstrocker.model import Finding, Side, Status, WalkInfo
from firstrocker.settings import Settings
from firstrocker.signals.read import read_session
from firstrocker.signals.session import SessionFileError
from firstrocker.steps.days import CURVES_HELD, with_days
from firstrocker.steps.evidence import evidence_record
from firstrocker.steps.inputs import Inputs
from firstrocker.steps.labels import motion_labels
from firstrocker.steps.quality import quality_record
from firstrocker.steps.wear import wear_rows, worn_of

SECTIONS = ("signals", "day", "motion", "gait", "bids")
"""The sections of the settings that this step's results depend on."""


def make_strides(session: Path, out: Path, *, settings: Settings, loggers: Path) -> Status:
    """Analyse one session and write its five files; a session that cannot be analysed gets empty tables.

    Args:
        session: its folder in the study, ``sub-<label>/ses-<label>``.
        out: its folder in the results.
        settings: the sections signals, motion, gait and bids are used.
        loggers: folder of logger profiles.

    Returns:
        the status written to quality.json. Anything that is not a user's mistake is raised.
    """
    strides, wear = tables.STRIDES.empty_table(), tables.WEAR.empty_table()
    curves: pa.Table | None = tables.CURVES.empty_table()
    findings: list[Finding] = []
    walks: list[WalkInfo] = []
    affected_side: Side | None = None
    evidence: tuple[WalkEvidence, ...] = ()
    status: Status = "ok"
    inputs = Inputs.of(session, loggers)
    try:
        given = read_session(
            session,
            loggers=loggers,
            labels=motion_labels(settings),
            whole_up_to_s=settings.day.whole_up_to_s,
        )
        affected_side = given.person.affected_side
        walks = [*(walk.info for walk in given.walks), *(walk.info for walk in given.long)]
        findings += [*given.findings, *(finding for walk in given.walks for finding in walk.findings)]
        worn = {walk.info.walk: worn_of(walk, settings=settings) for walk in given.walks}
        result = analyse(given.person, given.handed_over(), settings=settings)
        wear = pa.concat_tables([wear, *(wear_rows(given.person, *one, result.strides) for one in worn.items())])
        curves = result.curves
        if given.long:
            with growing_table(out / "curves.parquet", tables.CURVES, rows=CURVES_HELD) as keep:
                result, longer = with_days(given, result, keep, settings=settings)
            wear, curves = pa.concat_tables([wear, longer]), None
        findings += result.findings
        strides, status, evidence = result.strides, result.status, result.evidence
    except FirstrockerError as mistake:
        findings += mistake.findings() if isinstance(mistake, SessionFileError) else [as_finding(mistake)]
        status = "rejected"
    except (OSError, ValueError):
        if not inputs.changed():
            raise
        status = "rejected"
    fingerprints = inputs.fingerprints()
    if changed := inputs.changed():  # what was read belongs to no file that there is
        findings += changed
        wear, evidence = tables.WEAR.empty_table(), ()
    record = quality_record(
        session_name(session),
        affected_side=affected_side,
        status=status,
        findings=findings,
        walks=walks,
        strides=strides,
        settings=settings.model_dump(mode="json", include=set(SECTIONS)),
        inputs=fingerprints,
    )
    if record["status"] == "rejected":
        strides, curves = tables.STRIDES.empty_table(), tables.CURVES.empty_table()
    write_table(out / "strides.parquet", strides.cast(tables.STRIDES))
    if curves is not None:  # those of a day were written as they were made
        write_table(out / "curves.parquet", curves.cast(tables.CURVES))
    write_table(out / "wear.parquet", wear.cast(tables.WEAR))
    write_json(out / "evidence.json", evidence_record(session_name(session), evidence))
    write_json(out / "quality.json", record)
    written: Status = record["status"]
    return written
