"""Every fault of a log that is looked for: its code, from what size it is told, and what then becomes of the numbers.

The only place where this is written: the table in ``config/README.md`` is printed from here, thresholds are those of
the code, and a test holds that no code is missing.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import degrees
from types import MappingProxyType

from firstrocker.fault import Fault
from firstrocker.faults_of_logs import SENSORS, SIGNALS
from firstrocker.gait import evidence, side
from firstrocker.motion import ground, ground_model, remounted, seat, standing, walked

_WALK = (
    Fault("no-foot-log", "no foot log", "-", "the walk is left out", "walk"),
    Fault("no-walking", "no step", "no step of 8 cm", "the side is left out", "walk"),
    Fault("no-steady-stride", "too little walking", "no stride that counts", "no summary; flagged", "nothing"),
    Fault(
        "ground-not-level",
        "stairs and ramps",
        f"probability of level ground under {ground.COUNTS_AS_LEVEL:g}, beside a ramp or stairs under "
        f"{ground.LEVEL_BESIDE:g}; ramps from {degrees(ground_model.STEEPNESS[0]):.0f} deg; or `stairs_m`",
        "strides on them do not count",
        "strides",
        "simulated among level ground, 2 to 8 deg: 438 of 439 strides, stairs: 1092 of 1100; wrongly: 0 of 1176 "
        "simulated, 0 of 1014 recorded",
    ),
    Fault(
        "strides-left-out",
        "strides spoilt by a fault",
        "one stride; flagged above 20 %",
        "they do not count",
        "strides",
    ),
    Fault(
        "no-rest",
        "no quiet standing of the foot",
        "`rest_min_s`, `rest_gyro_deg_s`",
        "the sole's level and the gyroscope's bias are taken from foot flat in walking; flagged",
        "nothing",
    ),
    Fault(
        "no-standing-shank",
        "no quiet standing of the shank",
        "`rest_min_s`, `rest_gyro_deg_s`",
        f"over the flat foot in walking it counts as leaning {degrees(standing.STANCE_LEAN):.0f} deg forward; the "
        f"standard error of its angles is {degrees(standing.UNKNOWN_STANDING_SE):.0f} deg; flagged",
        "nothing",
    ),
    Fault(
        "standing-doubtful",
        "a shank that was quiet, but not in standing: in a chair, on a table",
        f"no rest from which the shank stays as it is, to {degrees(standing.SWAYING):.0f} deg, until "
        f"{walked.NEAR_S:g} s before a step (up to {walked.NEAR_MOST_S:g} s in slow walking), and then leans back by "
        f"less than {degrees(standing.SETTLING):.0f} deg, or the same after a step; none within "
        f"{degrees(standing.FARTHEST):.0f} deg of how it leans in walking; or a standard error over "
        f"{degrees(standing.HARDLY):.0f} deg",
        "as with no standing, or as unsure as it is; flagged",
        "nothing",
    ),
    Fault(
        "standing-differs",
        "a person who stood now so, now so, or a shank sensor that slipped",
        f"{degrees(standing.DIFFERENT):.0f} deg between two times of standing",
        "what most agree on counts; intervals widen; flagged",
        "nothing",
    ),
    Fault(
        "standing-not-flat",
        "foot not flat in standing",
        "`standing_tolerance_deg`",
        "foot flat in walking counts as level; flagged",
        "nothing",
    ),
    Fault(
        "sensor-slipped",
        "foot sensor that slipped during the walk",
        f"gravity on the flat foot from another side, by {degrees(seat.SLIPPED):.0f} deg",
        "strides in the other seat do not count; flagged",
        "strides",
        "12 deg about random axes: 10 of 11, 25 deg: 11 of 11 simulated; none: 0 of 11 simulated, 1 of 59 recorded "
        "(12 deg, the next 5)",
    ),
    Fault(
        "sensor-fell-off",
        "foot sensor that fell off",
        f"the same by {degrees(seat.FELL):.0f} deg",
        "strides from then on do not count; flagged",
        "strides",
        "11 of 11 simulated; wrongly: 0 of 11 simulated, 0 of 59 recorded",
    ),
    Fault(
        "sensor-remounted",
        "sensor put on otherwise within a walk",
        f"foot: turned about the upright by {degrees(remounted.LEAST['foot']):.0f} deg; shank: turned anyhow by "
        f"{degrees(remounted.LEAST['shank']):.0f} deg; {remounted.LEAST_STEPS} steps before and after",
        "strides in the other seat do not count, a shank's angles and rates there are null; flagged",
        "strides",
        "foot by 180 and 90 deg, shank by 180, 30, 20 and 12 deg: 24 of 24 simulated; shank by 7 deg: 0 of 4, "
        "ankle off by as much; wrongly: 0 of 25 simulated",
    ),
    Fault(
        "sensor-put-on-anew",
        "sensor put on otherwise within a day",
        f"foot by {degrees(remounted.BETWEEN_STRETCHES['foot']):.0f} deg, shank by "
        f"{degrees(remounted.BETWEEN_STRETCHES['shank']):.0f} deg or its mean direction by "
        f"{degrees(remounted.OTHER_WAY):.0f} deg, {remounted.LEAST_STRETCHES} stretches of walking before and after",
        "each stretch is measured as the sensor sat in it; flagged, for the foot's place on the shoe is not known",
        "nothing",
        "foot by 180, 30 (upright) and 20 deg (tilt), shank by 180, 30, 15 (its length), 12 and 6 deg (tilt): 32 of 32 "
        "simulated short days; shank tilted by 3 deg: 0 of 4, ankle off by as much; wrongly: 0 of 4, 0 of 2 of 2.5 h",
    ),
    Fault(
        "foot-shank-exchanged-since",
        "foot and shank exchanged from some time of a day on",
        "the shank stiller in stance than the foot, in a stretch and its neighbours",
        "the side is not measured in these stretches; flagged",
        "strides",
        "3 of 4 simulated short days",
    ),
    Fault(
        "sides-exchanged-since",
        "left and right exchanged from some time of a day on",
        "in three measures or more by which the sides differed, each is as the other was; sides "
        "that go alike cannot be told apart",
        "the walk is left out, for nobody knows which part is right",
        "walk",
    ),
    Fault(
        "gyroscope-gain",
        "gain error of the foot's gyroscope, or a wrong rate without times",
        f"{100 * seat.GAIN_NOTICED:.0f} % by the velocity left after {seat.LEAST_SWINGS} swings or more",
        "flagged; rates may be off by as much",
        "nothing",
        "8 % either way: 22 of 22 simulated; wrongly: 0 of 11 simulated, 0 of 59 recorded",
    ),
    Fault(
        "gyroscope-gain-unusable",
        "the same",
        f"{100 * seat.GAIN_REFUSED:.0f} %",
        "the side is left out",
        "walk",
        "20 % either way: 22 of 22 simulated; wrongly: 0 of 11 simulated, 0 of 59 recorded",
    ),
    Fault(
        "side-doubtful",
        "left and right exchanged",
        f"foot swings inwards by {1000 * side.INWARD_M:.0f} mm (median) in {100 * side.INWARD_SHARE:.0f} % of the "
        "strides; cannot be known of a foot that swings straight",
        "flagged, for a person may cross over; only circumduction depends on it",
        "nothing",
        "24 of 33 simulated, 39 of 59 recorded; as published: 0 of 11 simulated, 4 of 59 recorded, both feet of two "
        "walks of one person, why is not known",
    ),
    Fault(
        "axes-unclear",
        "no sideways axis stands out in how a sensor turned",
        f"less than {100 * evidence.LEAST_PLANAR['foot']:.0f} % (foot) or {100 * evidence.LEAST_PLANAR['shank']:.0f} % "
        "(shank) of its turning about one axis",
        "flagged; angles, rates and clearance may be wrong",
        "nothing",
        "wrongly: 0 of 11 kinds simulated, 0 of 61 recorded",
    ),
    Fault(
        "foot-points-aside",
        "the foot went elsewhere than its axes point",
        f"{degrees(evidence.MOST_HEADING_OFF):.0f} deg over {evidence.LEAST_STRAIGHT} steady strides or more",
        "flagged; pitch, rates and clearance may be wrong",
        "nothing",
        "wrongly: 0 of 11 kinds simulated, 0 of 59 recorded",
    ),
    Fault(
        "toe-below-ground",
        "foot sensor sits elsewhere than said",
        "toe under the ground by more than 5 mm and 2 standard errors",
        "toe clearance is null; flagged",
        "nothing",
    ),
    Fault(
        "geometry-estimated",
        "ruler values missing",
        "-",
        "estimated, with wide standard errors; flagged where clearance needs them",
        "nothing",
    ),
    Fault("geometry-contradiction", "ruler values contradict the sole", "-", "to_toe_mm is used; flagged", "nothing"),
)
_SESSION = (
    Fault("session-file", "mistake in session.yaml", "one", "the session is rejected", "session"),
    Fault("yaml-unreadable", "YAML that cannot be read", "-", "the session is rejected", "session"),
    Fault("no-strides", "no stride in any walk", "-", "the session is rejected", "session"),
    Fault("invented", "a person who does not exist", "`invented: true`", "no other; every page says so", "nothing"),
    Fault(
        "file-changed",
        "a file that changed while it was being read",
        "its size or time",
        "the session is rejected, and made anew by the next run",
        "session",
    ),
)
GROUPS: Mapping[str, tuple[Fault, ...]] = MappingProxyType(
    {
        "One log": SIGNALS,
        "Which sensor is which": SENSORS,
        "The walk": _WALK,
        "The session": _SESSION,
    }
)
BY_CODE: Mapping[str, Fault] = MappingProxyType({fault.code: fault for group in GROUPS.values() for fault in group})
