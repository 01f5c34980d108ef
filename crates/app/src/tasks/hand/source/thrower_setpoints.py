@HEADER@
"""Setpoints of the thrower. SI units: m, rad/s, rad, V, s. Needs nothing but Python 3."""

from collections import namedtuple

@CONSTANTS@

# Each row: distance, wheel speed, its standard deviation, lead (left positive).
ROWS = (
@ROWS@
)

IN_RANGE = "in range"
TOO_NEAR = "too near"  # nearer than the first row, which is given
TOO_FAR = "too far"  # farther than the last row, which is given
NO_DISTANCE = "no distance"  # not a number: wheel speed 0

# Throw only when `range` is IN_RANGE.
Setpoint = namedtuple("Setpoint", "wheel_radps wheel_sd_radps lead_rad range")


def setpoint_at(distance_m):
    """Setpoint for a distance: straight lines between rows, the first or last row outside them."""
    last = len(ROWS) - 1
    if distance_m != distance_m:
        return Setpoint(0.0, 0.0, 0.0, NO_DISTANCE)
    where, share, i = IN_RANGE, 0.0, 0
    if distance_m < ROWS[0][0]:
        where = TOO_NEAR
    elif distance_m > ROWS[last][0]:
        where, i = TOO_FAR, last
    else:
        while i < last - 1 and distance_m > ROWS[i + 1][0]:
            i += 1
        if last > 0:
            share = (distance_m - ROWS[i][0]) / (ROWS[i + 1][0] - ROWS[i][0])
    a, b = ROWS[i], ROWS[min(i + 1, last)]
    return Setpoint(*(x + share * (y - x) for x, y in zip(a[1:], b[1:])), where)


def feed_forward_v(wheel_radps):
    """Voltage to begin with at a wheel speed; the loop adds its correction."""
    if wheel_radps <= 0.0:
        return 0.0
    return FEED_FORWARD_RATIO * (HOLD_AT_REST_V + HOLD_V_PER_RADPS * wheel_radps)


def is_ready(setpoint_radps, measured_radps):
    """Is the wheel near enough to its setpoint to throw? Never for a setpoint of 0."""
    return setpoint_radps > 0.0 and abs(measured_radps - setpoint_radps) <= READY_RATIO * setpoint_radps


def rpm(radps):
    """Turns per minute."""
    return radps * 9.549296585513721
@END@
