"""How the tables are opened, what changed from version to version, and worked examples on those over all sessions."""

from __future__ import annotations

VERSIONS = """\
Version 2, against 1: `effects.parquet` is of mixed models and has other columns, `people`, `reliability`, `curves` and
`spm` stand in `cohort/` besides."""

OPENING = """\
Every table is one Parquet file (zstd). Those of a session lie in `results/sub-<person>/ses-<day>/`, those over all
sessions in `results/cohort/`; there `strides`, `summary` and `comparison` hold the sessions' rows one below the other.
The folders are no hive partitions (`sub-P01` is not `key=value`), and nothing has to be taken from a path: every row
carries `subject` and `session`. Many sessions are read by a glob, with nothing else said:

| reader | one table | many sessions |
|---|---|---|
| pandas | `pd.read_parquet(path)` | `pd.concat(map(pd.read_parquet, paths))` |
| polars | `pl.read_parquet(path)` | `pl.scan_parquet("results/sub-*/ses-*/strides.parquet")` |
| DuckDB | `from 'results/cohort/people.parquet'` | `from 'results/sub-*/ses-*/strides.parquet'` |
| pyarrow | `pq.read_table(path)` | `ds.dataset(paths)` |
| R's arrow | `read_parquet(path)` | `open_dataset(Sys.glob("results/sub-*/ses-*/strides.parquet"))` |

Tests open every table with the first four. R's arrow reads by the same library as pyarrow, but was **not tried**."""

COHORT_EXAMPLES = '''\
What a brace does to the affected leg on average over people, with pandas:

```python
import pandas as pd

effects = pd.read_parquet("results/cohort/effects.parquet").query("leg == 'affected' and question == 'braced'")
shown = ["measure", "unit", "people", "strides", "difference", "ci_low", "ci_high", "p_adjusted", "verdict", "doubtful"]
print(effects[shown].round(3).to_string(index=False))
```

Each person's own change of the slap rate, the greatest fall first, and whose labels to look at, with polars:

```python
import polars as pl

people = pl.read_parquet("results/cohort/people.parquet")
slap = people.filter(leg="affected", measure="slap_rate_deg_s").sort("difference")
print(slap.select("subject", "unbraced", "braced", "difference", "look"))
```

How many people changed by more than two walks of the same thing differ by chance (MDC95), with DuckDB:

```python
import duckdb

beyond = duckdb.sql(
    """
    select p.measure, count(*) as people, count(*) filter (abs(p.difference) > r.mdc95) as beyond_error
    from 'results/cohort/people.parquet' as p
    join 'results/cohort/reliability.parquet' as r on r.leg = p.leg and r.measure = p.measure
    where p.leg = 'affected' and r.repeats = 'walks' and r.condition = 'unbraced'
    group by p.measure
    order by p.measure
    """
).df()
print(beyond)
```
'''
"""Run as tests from the text of config/README.md."""
