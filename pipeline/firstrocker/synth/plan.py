"""Where and when each foot is put down: the walk as a list of swings per leg.

The plan is made for a person whose affected leg is the left one; a walker affected on the right is its mirror image.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from firstrocker.synth.pattern import Gait, draw_person, draw_stride, shortened
from firstrocker.synth.terrain import Ground, Lift, Section, on_ground

_LEAST_PITCH = 0.9  # deg: flatter than this no end is clearly first


@dataclass(frozen=True)
class Turn:
    """A turn within a bout, spread evenly over the steps of ``over_strides``.

    Positive degrees are towards the affected leg: to the left of a plan, to the right of its mirror image.
    """

    after_strides: float
    degrees: float
    over_strides: float = 3.0


@dataclass(frozen=True)
class Place:
    """Where a foot stands: its heel's lower edge on the floor, metres, and its heading, rad; ``lift``: on what ground.

    Ground that is not level is unrolled here, see :mod:`firstrocker.synth.terrain`.
    """

    x: float
    y: float
    yaw: float
    lift: Lift = Lift()  # noqa: RUF009 - frozen


@dataclass(frozen=True)
class Swing:
    """One lift of a foot from one place to the next, with the instants meant for it (the truth is measured later).

    ``settled`` is an instant of rest before heel off, ``resting`` one after foot flat. ``from_standing`` and
    ``to_standing`` mark the first and last of a bout. ``turned``: the change of heading of this step, rad.
    """

    bout: int
    settled: float
    heel_off: float
    toe_off: float
    heel_strike: float
    foot_flat: float
    resting: float
    origin: Place
    goal: Place
    gait: Gait
    from_standing: bool
    to_standing: bool
    turned: float


@dataclass(frozen=True)
class Plan:
    """Both legs' swings in order, the bouts' beginnings and ends, and the walk's length in seconds."""

    affected: tuple[Swing, ...]
    other: tuple[Swing, ...]
    affected_start: Place
    other_start: Place
    standing: tuple[tuple[float, float], ...]
    duration: float


@dataclass(frozen=True)
class _Step:
    leg: int  # 0 affected, 1 other
    bout: int
    toe_off: float
    heel_strike: float
    goal: Place
    gait: Gait
    first: bool
    last: bool
    turned: float


def plan_walk(
    affected: Gait,
    other: Gait,
    rng: np.random.Generator,
    *,
    strides: int,
    bouts: int,
    turns: Sequence[Turn],
    standing_s: float,
    terrain: Sequence[Section] = (),
    pauses: Mapping[int, float] | None = None,
) -> Plan:
    """Lay out a walk.

    Args:
        affected: gait of the affected (left) leg.
        other: gait of the other leg; its stride time and length are taken from the affected one's.
        rng: source of all variation.
        strides: full strides of the affected leg in each bout.
        bouts: how often the person sets off and stops.
        turns: turns made in every bout.
        standing_s: seconds of standing before, between and after the bouts.
        pauses: s of single pauses, in place of ``standing_s``, by their number: 0 is before the first bout.
        terrain: the ground of every bout in order; then ``strides`` is not asked for. All level without any.

    Returns:
        The plan.
    """
    people = (draw_person(affected, rng), draw_person(other, rng))
    ground = Ground(tuple(terrain))
    strides = sum(section.strides for section in terrain) or strides
    starts = (_place(0.0, 0.0, 0.0, 0, people[0]), _place(0.0, 0.0, 0.0, 1, people[1]))
    steps: list[_Step] = []
    standing: list[tuple[float, float]] = []
    clock, x, y, heading = 0.0, 0.0, 0.0, 0.0
    for bout in range(bouts):
        wait = standing_s * float(rng.uniform(1.0, 1.25))
        wait = (pauses or {}).get(bout, wait)
        standing.append((clock, clock + wait))
        clock += wait + 0.45
        lead = int(rng.integers(2))
        count = 2 * strides + 2
        for n in range(count):
            leg = (n + lead) % 2
            first, last = n == 0, n == count - 1
            turned = float(sum(np.deg2rad(t.degrees) / (2 * t.over_strides) for t in turns if _within(t, n)))
            number, section = ground.section(n)
            pace, person = on_ground(people[0], section), on_ground(people[leg], section)
            drawn = draw_stride(person, rng)
            share = 0.6 if abs(turned) > np.deg2rad(8.0) else 1.0
            share *= float(np.clip(1.0 + 0.018 * pace.stride_spread * rng.standard_normal(), 0.9, 1.1))
            period = pace.stride_time * drawn.stride_time / person.stride_time * (1.12 if first or last else 1.0)
            swing_time = (1.0 - drawn.stance_share) * period
            step_time = swing_time + 0.1 * period if first else drawn.step_share * period
            clock += step_time
            if not last:
                heading += turned
                advance = share * 0.5 * pace.stride_length
                if section is not None:
                    advance = ground.advance(number, leg, advance)
                    ground.go(number, heading, advance)
                x, y = x + advance * np.cos(heading), y + advance * np.sin(heading)
            goal = replace(_place(x, y, heading, leg, drawn), lift=ground.lift)
            short = 0.55 * share if first or last else share
            gait = drawn if abs(short - 1.0) < 0.15 else shortened(drawn, short)
            if abs(gait.pitch_contact) < _LEAST_PITCH:
                gait = replace(gait, pitch_contact=float(np.copysign(_LEAST_PITCH, gait.pitch_contact)))
            steps.append(_Step(leg, bout, clock - swing_time, clock, goal, gait, first, last, turned))
        clock += 0.9
    wait = standing_s * float(rng.uniform(1.0, 1.25))
    end = clock + (pauses or {}).get(bouts, wait)
    standing.append((clock, end))
    legs = tuple(_swings([s for s in steps if s.leg == leg], starts[leg], standing) for leg in (0, 1))
    return Plan(legs[0], legs[1], starts[0], starts[1], tuple(standing), end)


def _within(turn: Turn, step: int) -> bool:
    begin = round(2 * turn.after_strides)
    return begin <= step < begin + round(2 * turn.over_strides)


def _place(x: float, y: float, heading: float, leg: int, gait: Gait) -> Place:
    sign = 1.0 if leg == 0 else -1.0
    forward = np.array([np.cos(heading), np.sin(heading)])
    left = np.array([-forward[1], forward[0]])
    spot = np.array([x, y]) + sign * 0.5 * gait.step_width * left - 0.1 * forward
    return Place(float(spot[0]), float(spot[1]), heading + sign * float(np.deg2rad(gait.toe_out)))


def _swings(steps: list[_Step], start: Place, standing: list[tuple[float, float]]) -> tuple[Swing, ...]:
    swings: list[Swing] = []
    origin = start
    for n, step in enumerate(steps):
        gait = step.gait
        # A leg rises from standing in the first step of the bout, or in the second (the other leg led).
        fresh = n == 0 or steps[n - 1].bout != step.bout
        push = max(0.06, (gait.stance_share - gait.heel_off_share) * gait.stride_time)
        earliest = standing[step.bout][1] if fresh else swings[-1].foot_flat + 0.13
        heel_off = min(max(step.toe_off - push, earliest), step.toe_off - 0.05)
        foot_flat = step.heel_strike + gait.loading_time
        before = heel_off - 0.05 if fresh else swings[-1].resting
        ending = n == len(steps) - 1 or steps[n + 1].bout != step.bout
        swings.append(
            Swing(
                bout=step.bout,
                settled=before,
                heel_off=heel_off,
                toe_off=step.toe_off,
                heel_strike=step.heel_strike,
                foot_flat=foot_flat,
                resting=foot_flat + 0.1,
                origin=origin,
                goal=step.goal,
                gait=gait,
                from_standing=fresh,
                to_standing=ending,
                turned=step.turned,
            )
        )
        origin = step.goal
    return tuple(swings)
