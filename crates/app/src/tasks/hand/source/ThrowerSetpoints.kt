@HEADER@
// If your code is in a package, write its line above these remarks.

/** Setpoints of the thrower. SI units: m, rad/s, rad, V, s. */
object ThrowerSetpoints {
@CONSTANTS@

    /** Each row: distance, wheel speed, its standard deviation, lead (left positive). */
    private val rows: Array<DoubleArray> = arrayOf(
@ROWS@
    )

    /** Where a distance lies. */
    enum class Range {
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
    class Setpoint(val wheelRadps: Double, val wheelSdRadps: Double, val leadRad: Double, val range: Range)

    /** Setpoint for a distance: straight lines between rows, the first or last row outside them. */
    fun at(distanceM: Double): Setpoint {
        val last = rows.size - 1
        if (distanceM.isNaN()) {
            return Setpoint(0.0, 0.0, 0.0, Range.NO_DISTANCE)
        }
        var range = Range.IN_RANGE
        var share = 0.0
        var i = 0
        if (distanceM < rows[0][0]) {
            range = Range.TOO_NEAR
        } else if (distanceM > rows[last][0]) {
            range = Range.TOO_FAR
            i = last
        } else {
            while (i < last - 1 && distanceM > rows[i + 1][0]) {
                i++
            }
            if (last > 0) {
                share = (distanceM - rows[i][0]) / (rows[i + 1][0] - rows[i][0])
            }
        }
        val a = rows[i]
        val b = rows[minOf(i + 1, last)]
        return Setpoint(
            a[1] + share * (b[1] - a[1]), a[2] + share * (b[2] - a[2]), a[3] + share * (b[3] - a[3]), range)
    }

    /** Voltage to begin with at a wheel speed; the loop adds its correction. */
    fun feedForwardV(wheelRadps: Double): Double =
        if (wheelRadps <= 0.0) 0.0 else FEED_FORWARD_RATIO * (HOLD_AT_REST_V + HOLD_V_PER_RADPS * wheelRadps)

    /** Is the wheel near enough to its setpoint to throw? Never for a setpoint of 0. */
    fun isReady(setpointRadps: Double, measuredRadps: Double): Boolean =
        setpointRadps > 0.0 && Math.abs(measuredRadps - setpointRadps) <= READY_RATIO * setpointRadps

    /** Turns per minute. */
    fun rpm(radps: Double): Double = radps * 9.549296585513721
}
@END@
