//! The glossary: every word the program uses in a sense of its own or of the trade.

/// A word.
pub struct Word {
    /// The word.
    pub name: &'static str,
    /// Other ways to say or write it.
    pub also: &'static [&'static str],
    /// What it is.
    pub says: &'static str,
    /// Equation with its symbols; empty where there is none.
    pub equation: &'static str,
    /// Keys in REFERENCES.md.
    pub sources: &'static [&'static str],
    /// Does the equation follow from the words alone?
    pub derived: bool,
    /// Words to read next.
    pub see: &'static [&'static str],
}

const fn word(name: &'static str, also: &'static [&'static str], says: &'static str) -> Word {
    Word {
        name,
        also,
        says,
        equation: "",
        sources: &[],
        derived: false,
        see: &[],
    }
}

const fn from(mut w: Word, equation: &'static str, sources: &'static [&'static str]) -> Word {
    w.equation = equation;
    w.sources = sources;
    w
}

/// An equation that follows from geometry or from the definition.
const fn by_definition(mut w: Word, equation: &'static str) -> Word {
    w.equation = equation;
    w.derived = true;
    w
}

const fn see(mut w: Word, see: &'static [&'static str]) -> Word {
    w.see = see;
    w
}

/// All words, by subject.
#[rustfmt::skip]
pub const WORDS: &[Word] = &[
    word("piece", &["ball"], "The ball that is thrown: diameter, mass, how hollow, stiffness, friction, bounce, holes, and how much each varies."),
    word("target", &["opening"], "An opening in space: rim height, width, depth, tilt, and walls behind or beside it."),
    word("rim", &["near rim"], "The edge of the opening. Distances are measured to the near rim, level."),
    word("spot", &[], "A place on the floor to throw from: distance along, offset across, error of heading."),
    word("distance", &[], "Level, from the wheel's axle to the near rim."),
    word("back wall", &["wall"], "What rises behind the opening; a piece that meets it may still fall in."),
    word("outcome", &["arrives", "short", "long", "under", "miss"], "What becomes of a throw: in; rim (it touches the edge); short, long, left, right (it passes beside the opening); under (it passes below the rim); none (it never comes that far)."),
    see(word("crossing", &["along", "across"], "Where and how steeply the path meets the plane of the opening: along the throw, and across it."), &["entry angle", "outcome"]),
    see(word("wedge", &["jam"], "A stable bridge of pieces, or a piece held by a part, that stops the queue in the hopper."), &["feed.length"]),
    see(word("guide", &[], "The fixed curve that presses the piece against the wheel and leads it to the exit."), &["squeeze", "gap", "wrap"]),
    see(by_definition(word("squeeze", &["compression"], "How much the piece is pressed together on its way along the guide. More squeeze grips better, costs more force and wears the piece."),
        "squeeze = diameter of the piece - gap"), &["gap", "grip"]),
    by_definition(word("gap", &[], "Free distance between wheel and guide, or between two wheels."), "gap = radius of the guide - radius of the wheel"),
    see(by_definition(word("entry relief", &["relief"], "How much less the piece is squeezed where it comes in than at the end of the guide, evenly more in between: the guide closes along its arc and takes the piece in more gently."),
        "gap = gap at the end + relief (1 - angle from the start / wrap)"), &["squeeze", "wrap"]),
    word("wrap", &[], "Angle about the axle over which the guide runs around the wheel. More wrap gives the piece longer to reach rolling."),
    see(word("hood", &[], "The adjustable plate at the end of the guide, with up to three knobs."), &["slide", "tilt", "reach"]),
    word("slide", &[], "Hood plate moved forward or back, from flush with the guide's end; forward closes onto the piece."),
    word("tilt", &[], "Hood plate turned toward the piece (or a wheel pair turned down): lowers the throw."),
    word("knob", &[], "Anything a person or the code can move: wheel speed, slide, tilt, reach; each with range, step and how well it comes back to a mark."),
    word("setting", &[], "One value for every mechanical knob."),
    see(word("setpoint", &[], "The wheel speed for one spot at one setting."), &["doubt", "setting"]),
    word("top speed", &["usable speed"], "Wheel speed at full duty on a charged battery. Setpoints must leave the reserve free below it."),
    word("reserve", &["speed reserve"], "Share of the top speed that setpoints leave free, for recovery and a tired battery: `limits.speed_reserve`."),
    see(word("wheel", &["flywheel"], "It turns fast, grips the piece at its rim and throws it: one against a guide, or two against each other."), &["setpoint", "guide"]),
    word("rpm", &["wheel speed"], "Turns a minute, of the wheel and not of the motor where nothing else is said."),
    word("fuse", &["breaker"], "Opens the circuit when too much current flows: `limits.fuse`. It sits next to the battery."),
    word("exit angle", &["angle"], "Direction in which the piece leaves, above level."),
    word("exit", &[], "Speed, angle, spin and place at which the piece leaves the launcher."),
    see(from(word("rolling", &["grip-roll", "no slip"], "Between a turning wheel and a fixed guide, a piece that slips on neither moves at half the rim's speed and spins backward."),
        "v = w r / 2,   spin = w r / gap      w: wheel speed (rad/s), r: wheel radius", &["meriam-dynamics"]), &["speed transfer", "plateau"]),
    see(word("plateau", &[], "The range of a design in which the piece reaches rolling, so that exit speed no longer depends on friction, dust and wear."), &["rolling"]),
    word("speed transfer", &[], "Exit speed over the computed exit speed; 1 until test shots say otherwise."),
    from(word("contact force", &["press"], "Force of a piece against the wheel: a spring that is stiffer the more it is pressed, with a loss that follows speed."),
        "F = k d^n (1 + c d')      d: squeeze, d': its rate, k, n: press test, c: from the bounce", &["hunt-crossley-1975"]),
    from(word("bounce", &["restitution"], "Speed after a drop over speed before it."), "bounce = sqrt(rebound height / drop height)", &["cross-2002"]),
    see(word("bite", &[], "A wheel edge dropping into a hole or seam of the piece; narrow wheels bite, wide ones bridge."), &["wheel.width"]),
    from(word("drag", &["drag coefficient"], "What the air takes from the speed of the piece."),
        "F = C_d (rho A / 2) v^2      rho: density of the air, A: cross-section of the piece", &["clift-1978"]),
    from(word("lift", &["spin lift", "magnus"], "Force of a spinning piece across its path; backspin carries it, up to a limit."),
        "F = C_L (rho A / 2) v^2,   C_L = S / (0.4 + 2.32 S)      S: surface speed of the spin over speed", &["cross-2011"]),
    from(word("reynolds number", &["reynolds"], "Tells which law of drag holds: inertia of the air over its stickiness."),
        "Re = rho v d / mu      mu: viscosity of the air", &["clift-1978"]),
    from(word("added mass", &["carried air"], "Air that moves along with the piece; counts for light, large pieces."),
        "m_air = rho V / 2      V: volume of the piece", &["batchelor-1967"]),
    from(word("air density", &[], "From temperature, pressure and humidity; 1.2 kg/m3 on a usual day."),
        "rho = p M / (Z R T) (1 - x (1 - M_v / M))      x: share of water vapour", &["picard-2008"]),
    see(word("arc", &["low arc", "high arc"], "At one exit speed two angles reach the same point: the flatter is the low arc, the steeper the high one."), &["setpoint"]),
    word("entry angle", &[], "How steeply the piece comes down into the opening; steep forgives more of the distance."),
    word("clearance", &[], "Least distance between the skin of the piece and the rim along the whole path."),
    word("lead", &[], "Angle by which a moving robot aims beside the target, so that its own speed carries the piece in."),
    see(word("volley", &[], "The pieces thrown in one go."), &["dip", "recovery"]),
    by_definition(word("dip", &[], "Share of the wheel's speed that a throw costs."), "dip = 1 - speed after / speed before"),
    see(word("recovery", &[], "Time from a throw until the wheel is back within the ready band."), &["ready", "inertia"]),
    word("ready", &["ready band"], "The wheel counts as ready when its measured speed is this near the setpoint, as a share of it."),
    from(word("inertia", &["moment of inertia"], "How much a turning part resists a change of speed. More of it: smaller dips, longer spin-up."),
        "disc J = m r^2 / 2,   ring J = m r^2,   geared part counts J (speed ratio)^2", &["meriam-dynamics"]),
    from(word("stored energy", &[], "What the turning wheel holds after the power is off. A figure to plan guards with, never a verdict that something is safe."),
        "E = J w^2 / 2", &["meriam-dynamics"]),
    from(word("motor line", &["motor"], "A brushed motor by its sheet: torque falls in a straight line from standstill to free speed."),
        "V = I R + k w,   T = k (I - I0)", &["fitzgerald-machines"]),
    from(word("sag", &["battery sag"], "Voltage lost inside battery and wires under load; decides the top speed and the brown-out."),
        "V = V_open - I R_battery", &["fitzgerald-machines"]),
    see(by_definition(word("feed forward", &[], "The voltage that holds the setpoint, applied without waiting for an error."),
        "volts = R I0 + k G setpoint      G: motor turns for one of the wheel"), &["kp", "ki"]),
    from(word("kp", &["proportional gain"], "Volts for each rad/s that the wheel is off. Too little is slow, too much swings."), "volts += kp error", &["astrom-hagglund"]),
    from(word("ki", &["integral gain"], "Volts for each rad/s that the wheel is off for one second. Every dip winds it up: keep it small for volleys."),
        "volts += sum,   sum += ki error period", &["astrom-hagglund"]),
    see(word("scatter", &["spread of throws"], "How the crossings of equal throws spread: standard deviations along and across, and the share that goes in."), &["standard deviation", "hit chance"]),
    from(word("standard deviation", &["sd"], "Usual distance from the mean: about two of three values lie within one of it, nineteen of twenty within two, if nothing odd is going on."),
        "sd = sqrt( sum (x - mean)^2 / (n - 1) )", &["nist-handbook"]),
    word("hit chance", &["hit"], "Share of throws that go in, with its own doubt beside it."),
    see(word("r50", &["r95"], "Radius about the mean crossing, in the plane of the opening, that holds half of the throws that cross it; R95 holds 95 of 100."), &["scatter"]),
    see(word("doubt", &["untested"], "How far a setpoint may be off because something is not known yet; shots narrow it."), &["fit"]),
    see(word("fit", &[], "What the logged shots teach: corrections of the model with how sure they are."), &["shot", "next move", "drift"]),
    word("shot", &["test shot"], "One logged throw: from where, how fast, where it went."),
    word("session", &[], "Shots of one outing, with the machine left alone."),
    word("next move", &["next"], "The shot or change that helps most now, and the sign to stop."),
    see(word("drift", &[], "A change of the machine since it last worked, told apart from chance."), &["cusum"]),
    from(word("cusum", &["chart"], "A running sum of what shots miss by; it calls when the sum passes a limit."),
        "S = max(0, S + z - k), call when S > h      z: miss in standard deviations", &["page-1954"]),
    see(word("verdict", &["holds", "tight", "fails", "unknown"], "holds; tight (holds with less than the asked margin); fails; unknown (an input is missing: says which). Always with the margin, why, and what would mend it."), &["margin", "mend"]),
    word("margin", &[], "How far what was found is from what is asked, in your own units; below zero a verdict fails."),
    word("mend", &["remedy", "fix"], "What would make it hold: which value to change, and by how much."),
    see(word("hand-over", &["hand"], "The setpoints with their rule, gains and tolerance as a file for the robot's code."), &["setpoint", "ready"]),
    by_definition(word("kerf", &[], "Width that a cutter takes away. Lines move half of it to the waste side."), "line = edge + kerf / 2"),
    from(word("cold bend", &["bend radius"], "Solid sheet may be rolled without heat to a radius of about 100 times its thickness; tighter, it crazes or cracks later."),
        "radius >= 100 t", &["sheet-makers"]),
];
