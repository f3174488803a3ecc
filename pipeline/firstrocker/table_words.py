"""What every column of every table means that is not a measure; measures say so themselves."""

from __future__ import annotations

TABLES: dict[str, str] = {
    "strides": "One row per stride of every walk and side, whether it counts (`steady`) or not.",
    "curves": "101 rows per stride whose two heel strikes are known: 0 to 100 % of it.",
    "summary": "One row per walk, side and measure, over the strides that count (`steady`).",
    "comparison": "One row per side, measure and pair: `unbraced` and `braced`, and each two walks (`walk:<walk>`).",
    "wear": "One row per walk and sensor: how long it recorded, was worn, and saw its person walk.",
    "sessions": "`cohort/` only: one row per session.",
    "effects": "`cohort/` only: one row per leg, question and measure: what a brace or more resistance does.",
    "people": "`cohort/` only: one row per person, leg and measure: unbraced, braced and the difference.",
    "reliability": "`cohort/` only: one row per leg, measure, condition and kind of repeat: how well repeats agree.",
    "cohort_curves": "`cohort/` only: one row per leg, person, condition and percent of stride: mean curves.",
    "spm": "`cohort/` only: one row per leg, curve and percent: whole curves compared, unbraced and braced.",
    "days": "`digest` only: one row per person, side, condition, setting, measure and day.",
    "trends": "`digest` only: one row per person, side, condition, setting and measure, over all days.",
    "alerts": "`digest` only: one row per alert, those that are over included.",
    "intake": "Nightly runs with an inbox only: one row per file of the inbox, as the last look left it.",
}
"""What one row is, by table."""

COLUMNS: dict[str, tuple[str, str]] = {
    "subject": ("", "The person's label."),
    "session": ("", "The session's label."),
    "walk": ("", "The walk's label, unique in its session."),
    "condition": ("", "unbraced or braced."),
    "setting": ("", "The setting's label; null where the walk has none."),
    "resistance": ("the session file's", "How much the brace resists plantarflexion; null where the walk has none."),
    "side": ("", "left or right."),
    "bout": ("", "Bout of walking, from 0 within walk and side; a new one after standing."),
    "stride": ("", "Stride, from 0 within walk and side, strides left out included."),
    "heel_strike_s": (
        "s",
        "Any part of the foot first touches the ground. From the first sample of the walk's first foot log.",
    ),
    "foot_flat_s": ("s", "Heel and forefoot are first both on the ground. As above."),
    "heel_off_s": ("s", "The heel leaves the ground while the forefoot stays. As above."),
    "toe_off_s": ("s", "The last part of the foot leaves the ground. As above."),
    "next_heel_strike_s": ("s", "The stride's end. As above."),
    "contact": ("", "What touched first: heel, flat or forefoot."),
    "toe_clearance_kind": ("", "local_minimum, or at_peak_speed where the toe's height has none in mid-swing."),
    "steady": ("", "Whether the stride counts in summary and comparison."),
    "left_out": ("", "Empty, or why it does not count: first, last, turn, stairs, slope, short_bout or quality."),
    "ground": (
        "",
        "What the foot went over in the stride's swing: level, up or down a ramp, stairs_up, stairs_down or unknown. "
        "Summary and comparison hold level ground only, and of that no stride whose first landing came off a ramp or "
        "stairs. On a ramp clearance is over the sloping ground, angles are against gravity; at a ramp's ends, on "
        "stairs and on unknown ground clearance is null.",
    ),
    "percent": ("%", "Of the stride, heel strike to the next heel strike."),
    "foot_pitch_deg": ("deg", "Toes-up positive, zero on a flat foot."),
    "ankle_deg": ("deg", "Foot pitch + shank-to-vertical angle; dorsiflexion positive. Null without a shank log."),
    "shank_deg": ("deg", "Shank-to-vertical angle, knee ahead of the ankle positive. Null without a shank log."),
    "foot_pitch_rate_deg_s": ("deg/s", "Time derivative of foot pitch."),
    "ankle_rate_deg_s": ("deg/s", "Time derivative of the ankle angle."),
    "shank_rate_deg_s": ("deg/s", "Time derivative of the shank-to-vertical angle."),
    "toe_height_mm": ("mm", "Height over the ground of the front lower edge of the outsole."),
    "measure": ("", "A measure's column name in strides.parquet."),
    "unit": ("", "Its unit."),
    "n": ("", "Strides that count and have a value."),
    "mean": ("the measure's", "Mean of those strides; null for none."),
    "sd": ("the measure's", "Their standard deviation (n - 1)."),
    "median": ("the measure's", "Their median."),
    "q25": ("the measure's", "Their lower quartile."),
    "q75": ("the measure's", "Their upper quartile."),
    "se": (
        "the measure's",
        "Standard error of the mean: strides that resemble each other and measurement error that all strides share are "
        "in it. Not `sd / sqrt(n)`.",
    ),
    "reference": ("", "What is compared with: unbraced or `walk:<walk>`."),
    "other": ("", "What is compared: braced or `walk:<walk>`."),
    "n_reference": ("", "Strides that count of the reference."),
    "n_other": ("", "Strides that count of the other."),
    "difference": ("the measure's", "Other minus reference."),
    "ci_low": ("the measure's", "Lower end of the interval; those of all pairs of walks of a measure hold together."),
    "ci_high": ("the measure's", "Its upper end."),
    "smallest_real_change": ("the measure's", "What two walks may differ by although nothing has changed."),
    "verdict": (
        "",
        "higher or lower (the interval leaves out zero and the difference exceeds the smallest real change), no clear "
        "change, or too few strides.",
    ),
    "segment": ("", "foot or shank."),
    "recorded_s": ("s", "Time that holds samples."),
    "worn_s": (
        "s",
        "Of it, what is not lying still in one direction for `day.unworn_min_s` or longer; a leg that its person keeps "
        "still for as long counts as not wearing. Null where it cannot be told.",
    ),
    "walking_s": ("s", "Sum of the side's stride times, strides left out included; null where none was found."),
    "affected_side": ("", "As the session file says; null where it could not be read."),
    "status": ("", "ok, flagged or rejected."),
    "walks": ("", "Walks in the session file."),
    "strides": ("", "Strides found."),
    "errors": ("", "Findings that stopped a walk or the session."),
    "warnings": ("", "Findings that flag the session."),
    "first_finding": ("", "The gravest finding in words."),
    "leg": ("", "affected or other."),
    "people": ("", "People with such a difference."),
    "sessions": ("", "Their sessions."),
}
"""Unit and meaning by column; "steady" of the sessions counts, see there."""

OF_TABLE: dict[tuple[str, str], tuple[str, str]] = {
    ("sessions", "steady"): ("", "Strides that count."),
}
"""Where a column means something else in one table."""

EXAMPLES = '''\
Slap rate of each setting, person by person, with pandas:

```python
from pathlib import Path

import pandas as pd

strides = pd.concat(pd.read_parquet(path) for path in sorted(Path("results").glob("sub-*/ses-*/strides.parquet")))
steady = strides[strides["steady"]]
slap = steady.groupby(["subject", "session", "walk", "condition"])["slap_rate_deg_s"].agg(["count", "mean", "std"])
print(slap.round(0))
```

The mean course of the ankle and its spread in loading, the first 15 % of the stride, with DuckDB, which reads the files
where they lie:

```python
import duckdb

loading = duckdb.sql(
    """
    select subject, walk, percent, avg(ankle_deg) as mean_deg, stddev_samp(ankle_deg) as sd_deg, count(*) as strides
    from 'results/sub-*/ses-*/curves.parquet'
    where steady and percent <= 15
    group by all
    order by all
    """
).df()
print(loading)
```

What changed clearly from unbraced to braced walking, and by how many smallest real changes, affected legs only:

```python
import duckdb

changes = duckdb.sql(
    """
    select c.subject, c.session, c.measure, c.unit, c.difference, c.ci_low, c.ci_high,
           abs(c.difference) / c.smallest_real_change as real_changes
    from 'results/cohort/comparison.parquet' as c
    join 'results/cohort/sessions.parquet' as s on s.subject = c.subject and s.session = c.session
    where c.reference = 'unbraced' and c.side = s.affected_side and c.verdict in ('higher', 'lower')
    order by c.subject, c.session, real_changes desc
    """
).df()
print(changes.round(2))
```

Strides of a walk resemble each other: take `se` and the intervals from the tables rather than `sd / sqrt(n)`, and
people, not strides, as the sample when a study is about people.
'''
"""Run as tests from the text of config/README.md; `duckdb` comes with the test extra."""
