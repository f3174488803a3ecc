"""People whose change is the others' turned round."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
from hypothesis import given
from hypothesis import strategies as st

from firstrocker import tables
from firstrocker.study.mislabelled import OTHERS, SAID, by_person, turned_round, with_doubts

SLAP = "slap_rate_deg_s"
USUAL = [-52.0, -61.0, -40.0, -55.0, -49.0, -66.0]


def people(affected: list[float], other: list[float] | None = None, measure: str = SLAP) -> pa.Table:
    rows = [
        {"subject": f"P{place}", "leg": leg, "measure": measure, "difference": value}
        for leg, values in (("affected", affected), ("other", other or []))
        for place, value in enumerate(values)
    ]
    return pa.Table.from_pylist(rows, schema=tables.PEOPLE)


def test_one_turned_round_is_found() -> None:
    (one,) = turned_round(people([*USUAL, 50.0]))
    assert (one.subject, one.measure, one.labels, one.difference) == ("P6", SLAP, "conditions", 50.0)
    assert (one.others, one.low, one.high) == (6, -66.0, -40.0)


def test_it_takes_others_enough_and_of_one_mind() -> None:
    assert turned_round(people([*USUAL[: OTHERS - 1], 50.0])) == []
    assert turned_round(people([*USUAL, 50.0, 45.0])) == []  # two of them: no longer one against all
    assert turned_round(people([*USUAL, 5.0])) == []  # hardly changed: exchanged, it would not be like the others
    assert turned_round(people([*USUAL, 400.0])) == []
    assert turned_round(people([-9.0, -1.0, -4.0, -16.0, -2.0, -8.0, 5.0])) == []  # too mixed to know one by
    assert turned_round(people(USUAL)) == []
    assert turned_round(people([*USUAL, 50.0], measure="stride_length_m")) == []  # of no leading measure
    assert turned_round(tables.PEOPLE.empty_table()) == []


def test_exchanged_legs_are_found() -> None:
    quiet = [2.0, -3.0, 1.0, 4.0, -2.0, 0.0]
    (one,) = turned_round(people([*USUAL, 1.0], [*quiet, -54.0]))
    assert (one.subject, one.labels) == ("P6", "legs")
    assert turned_round(people([*USUAL, 1.0], [*quiet, 2.0])) == []


def test_doubts_stand_in_the_table() -> None:
    table = with_doubts(people([*USUAL, 50.0], [0.0]))
    assert table.schema.equals(tables.PEOPLE, check_metadata=True)
    assert table["look"].to_pylist() == [None] * 6 + [SAID["conditions"], None]
    assert with_doubts(tables.PEOPLE.empty_table()).num_rows == 0


@given(st.integers(0, 10_000), st.sampled_from([1e-3, 1.0, 1e3]), st.sampled_from([-1.0, 1.0]))
def test_units_and_direction_do_not_matter(seed: int, unit: float, sign: float) -> None:
    changes = np.random.default_rng(seed).normal(3.0, 1.0, 9) * np.array([1] * 8 + [-1])
    plain = turned_round(people(changes.tolist()))
    other = turned_round(people((sign * unit * changes).tolist()))
    assert [one.subject for one in other] == [one.subject for one in plain]
    assert len(by_person(plain)) == len({one.subject for one in plain})
