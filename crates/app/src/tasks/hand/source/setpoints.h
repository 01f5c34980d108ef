@HEADER@
#ifndef THROWER_SETPOINTS_H
#define THROWER_SETPOINTS_H

/* SI units: m, rad/s, rad, V, s. C99 or C++; nothing but this file is needed. */

@CONSTANTS@
#define THROWER_ROW_COUNT @COUNT@

/* Each row: distance, wheel speed, its standard deviation, lead (left positive). */
static const double THROWER_ROWS[THROWER_ROW_COUNT][4] = {
@ROWS@
};

enum thrower_range {
    THROWER_IN_RANGE = 0,
    THROWER_TOO_NEAR = 1,      /* nearer than the first row, which is given */
    THROWER_TOO_FAR = 2,       /* farther than the last row, which is given */
    THROWER_NO_DISTANCE = 3    /* not a number: wheel speed 0 */
};

struct thrower_setpoint {
    double wheel_radps;
    double wheel_sd_radps;
    double lead_rad;
    enum thrower_range range;  /* throw only when this is THROWER_IN_RANGE */
};

/* Setpoint for a distance: straight lines between rows, the first or last row outside them. */
static inline struct thrower_setpoint thrower_setpoint_at(double distance_m) {
    const double (*rows)[4] = THROWER_ROWS;
    const int last = THROWER_ROW_COUNT - 1;
    struct thrower_setpoint out = {0.0, 0.0, 0.0, THROWER_NO_DISTANCE};
    double share = 0.0;
    int i = 0, next;
    if (distance_m != distance_m) {
        return out;
    }
    out.range = THROWER_IN_RANGE;
    if (distance_m < rows[0][0]) {
        out.range = THROWER_TOO_NEAR;
    } else if (distance_m > rows[last][0]) {
        out.range = THROWER_TOO_FAR;
        i = last;
    } else {
        while (i < last - 1 && distance_m > rows[i + 1][0]) {
            i++;
        }
        if (last > 0) {
            share = (distance_m - rows[i][0]) / (rows[i + 1][0] - rows[i][0]);
        }
    }
    next = i < last ? i + 1 : last;
    out.wheel_radps = rows[i][1] + share * (rows[next][1] - rows[i][1]);
    out.wheel_sd_radps = rows[i][2] + share * (rows[next][2] - rows[i][2]);
    out.lead_rad = rows[i][3] + share * (rows[next][3] - rows[i][3]);
    return out;
}

/* Voltage to begin with at a wheel speed; the loop adds its correction. */
static inline double thrower_feed_forward_v(double wheel_radps) {
    if (wheel_radps <= 0.0) {
        return 0.0;
    }
    return THROWER_FEED_FORWARD_RATIO * (THROWER_HOLD_AT_REST_V + THROWER_HOLD_V_PER_RADPS * wheel_radps);
}

/* Is the wheel near enough to its setpoint to throw? Never for a setpoint of 0. */
static inline int thrower_is_ready(double setpoint_radps, double measured_radps) {
    double off = measured_radps - setpoint_radps;
    if (off < 0.0) {
        off = -off;
    }
    return setpoint_radps > 0.0 && off <= THROWER_READY_RATIO * setpoint_radps;
}

/* Turns per minute. */
static inline double thrower_rpm(double radps) {
    return radps * 9.549296585513721;
}

#endif /* THROWER_SETPOINTS_H */
@END@
