@HEADER@
// If your classes are in a package, write its line above these remarks.

/** Setpoints of the thrower. SI units: m, rad/s, rad, V, s. */
public final class ThrowerSetpoints {
    private ThrowerSetpoints() {}

@CONSTANTS@

    /** Each row: distance, wheel speed, its standard deviation, lead (left positive). */
    private static final double[][] ROWS = {
@ROWS@
    };

    /** Where a distance lies. */
    public enum Range {
        /** Between the rows. */
        IN_RANGE,
        /** Nearer than the first row, which is given. */
        TOO_NEAR,
        /** Farther than the last row, which is given. */
        TOO_FAR,
        /** Not a number: wheel speed 0. */
        NO_DISTANCE
    }

    /** What to set; throw only when the range is IN_RANGE. */
    public static final class Setpoint {
        public final double wheelRadps;
        public final double wheelSdRadps;
        public final double leadRad;
        public final Range range;

        Setpoint(double wheelRadps, double wheelSdRadps, double leadRad, Range range) {
            this.wheelRadps = wheelRadps;
            this.wheelSdRadps = wheelSdRadps;
            this.leadRad = leadRad;
            this.range = range;
        }
    }

    /** Setpoint for a distance: straight lines between rows, the first or last row outside them. */
    public static Setpoint at(double distanceM) {
        final int last = ROWS.length - 1;
        if (Double.isNaN(distanceM)) {
            return new Setpoint(0.0, 0.0, 0.0, Range.NO_DISTANCE);
        }
        Range range = Range.IN_RANGE;
        double share = 0.0;
        int i = 0;
        if (distanceM < ROWS[0][0]) {
            range = Range.TOO_NEAR;
        } else if (distanceM > ROWS[last][0]) {
            range = Range.TOO_FAR;
            i = last;
        } else {
            while (i < last - 1 && distanceM > ROWS[i + 1][0]) {
                i++;
            }
            if (last > 0) {
                share = (distanceM - ROWS[i][0]) / (ROWS[i + 1][0] - ROWS[i][0]);
            }
        }
        final double[] a = ROWS[i];
        final double[] b = ROWS[Math.min(i + 1, last)];
        return new Setpoint(
            a[1] + share * (b[1] - a[1]), a[2] + share * (b[2] - a[2]), a[3] + share * (b[3] - a[3]), range);
    }

    /** Voltage to begin with at a wheel speed; the loop adds its correction. */
    public static double feedForwardV(double wheelRadps) {
        return wheelRadps <= 0.0 ? 0.0 : FEED_FORWARD_RATIO * (HOLD_AT_REST_V + HOLD_V_PER_RADPS * wheelRadps);
    }

    /** Is the wheel near enough to its setpoint to throw? Never for a setpoint of 0. */
    public static boolean isReady(double setpointRadps, double measuredRadps) {
        return setpointRadps > 0.0 && Math.abs(measuredRadps - setpointRadps) <= READY_RATIO * setpointRadps;
    }

    /** Turns per minute. */
    public static double rpm(double radps) {
        return radps * 9.549296585513721;
    }
}
@END@
