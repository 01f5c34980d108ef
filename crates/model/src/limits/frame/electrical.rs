//! Push and heat of the drive motors, breaker, brown-out, charge, wires.

use super::{FrameEvidence, Verdict};
use crate::frame::brown_out::{Chance, Differs, Loads, brown_out_chance, peaks_together, trip_chance};
use crate::frame::power::{Breaker, BreakerRun, Budget, Stretch, breaker_run, breaker_s, budget};
use crate::frame::wire::wire_load;
use crate::launcher::motor::{COPPER_PER_K, Winding, motor_constants, winding_heat_times};
use crate::limits::Status;
use crate::project::Feeds;
use crate::units::Dimension as D;

/// Judgement: share of a brushed motor's mass that is copper in its winding.
const WINDING_SHARE: f64 = 0.12;
/// Heat that copper takes, J/(kg K), handbook value (from memory).
const COPPER_J: f64 = 385.0;
/// Judgement: a winding this much warmer has cost its insulation some of its life.
const HOT_K: f64 = 100.0;
/// Judgement: a warmed breaker that is this near to tripping may trip on a hot day.
const WARM_FRAC: f64 = 0.7;
/// Judgement: the driver lets go of a wall after this long.
const WALL_S: f64 = 3.0;
/// Judgement: insulation and bundles bear this rise for a match, and half of it with ease.
const WIRE_K: f64 = 60.0;
/// Judgement: temperature of the battery differs by this much from that of the air, standard deviation.
const BATTERY_SD_K: f64 = 5.0;
/// Judgement: one drive in so many ends against a wall or another machine with the wheels pushing.
const PUSHES: usize = 10;
/// Judgement: and pushes for so long.
const PUSH_S: f64 = 1.0;
/// Method: ways in which a volley and a drive can fall together.
const OVERLAPS: usize = 200;
/// Method: matches drawn; with none that browns out the chance is below 0.1 %.
const MATCHES: u64 = 4000;
/// Method: the same luck for every project, so that two are compared under it.
const SEED: u64 = 1;
/// Judgement: a brown-out in one match of twenty loses a season, in one of two hundred it is worth a look.
const OFTEN_FRAC: f64 = 0.05;
const SELDOM_FRAC: f64 = 0.005;
/// A volt is what an aged or cold battery loses more. Common practice, no source.
const AGED_V: f64 = 1.0;

/// Seconds for which a held drive motor takes a current, from cold; `None` without its mass.
fn held_s(e: &FrameEvidence, current_a: f64) -> Option<f64> {
    let motor = e.frame.motor.as_ref()?;
    let winding = Winding {
        resistance_ohm: motor_constants(&motor.sheet).resistance_ohm,
        alpha_per_k: COPPER_PER_K,
        heat_capacity_j_per_k: motor.mass_kg? * WINDING_SHARE * COPPER_J,
        thermal_k_per_w: f64::INFINITY,
    };
    Some(winding_heat_times(&winding, HOT_K, current_a, motor.sheet.nominal_v).constant_current_s)
}

fn no_base(check: &'static str, e: &FrameEvidence) -> Vec<Verdict> {
    let (missing, fix) = if e.frame.motor.is_none() {
        (
            "frame.motor",
            "add the table [frame.motor] with the numbers of the motor's sheet",
        )
    } else {
        (
            "robot.mass",
            "weigh the robot and write `mass` under [robot], or list its parts",
        )
    };
    vec![Verdict::unknown(check, missing, fix)]
}

pub(super) fn push(e: &FrameEvidence) -> Vec<Verdict> {
    let Some(b) = e.base else {
        return no_base("push", e);
    };
    let say = |v, d| e.project.say(v, d);
    let held = held_s(e, b.push_a);
    let heat = held.map_or(String::new(), |t| {
        format!(
            ", which a cold winding takes for about {} before it is {HOT_K} K warmer",
            say(t, D::Time)
        )
    });
    let status = match (b.slips, held) {
        (true, _) => Status::Holds,
        (false, Some(t)) if t > 2.0 * WALL_S => Status::Tight,
        (false, None) if e.frame.limit_a.is_finite() => Status::Tight,
        _ => Status::Fails,
    };
    let why = if b.slips {
        format!(
            "pushes {} against a wall or a gate: the floor is the limit, the wheels slip at {} in each motor{heat}; more gearing would push no harder",
            say(b.push_n, D::Force),
            say(b.push_a, D::Current)
        )
    } else {
        format!(
            "pushes {} against a wall or a gate and the wheels do not slip: the motors stand still at {} each{heat}; the floor would bear {}",
            say(b.push_n, D::Force),
            say(b.push_a, D::Current),
            say(b.traction_n, D::Force)
        )
    };
    vec![
        Verdict::new("push", "", status, why)
            .numbers(D::Force, b.motor_n, b.traction_n, b.motor_n - b.traction_n)
            .mend(format!(
                "gear down by {} or more, or raise the current limit, so that the wheels slip first; or let the code stop a drive that does not move",
                say((b.traction_n / b.motor_n - 1.0).max(0.0), D::Ratio)
            )),
    ]
}

/// What a match takes from breaker and battery.
#[derive(Clone, Debug, PartialEq)]
pub struct PowerFigures {
    /// Battery current of the launcher at its highest, everything else on the machine but the base in it.
    pub launcher_a: f64,
    /// Battery current of the base at its highest.
    pub base_a: f64,
    /// Both at once.
    pub at_once_a: f64,
    /// Voltage then.
    pub at_once_v: f64,
    /// Root mean square of the current over a match.
    pub rms_a: f64,
    /// The breaker over a match.
    pub breaker: BreakerRun,
    /// Time for which it bears everything at once from cold.
    pub at_once_s: f64,
    /// Battery over a match.
    pub battery: Budget,
    /// Matches that a charge lasts; `None` without its capacity.
    pub matches_count: Option<f64>,
    /// Chance of a brown-out in a match.
    pub brown_out: Chance,
    /// Chance that the breaker trips in a match.
    pub trip_frac: f64,
    /// How much warmer a drive motor's winding is after it was held for three seconds; `None` without its mass.
    pub held_k: Option<f64>,
}

/// Share of a charge that may be used without harm to a lead-acid battery. Common practice, no source.
const USABLE_SHARE: f64 = 0.6;

impl PowerFigures {
    /// `None` where the file does not describe power.
    pub fn of(e: &FrameEvidence) -> Option<PowerFigures> {
        let power = e.frame.power.as_ref()?;
        let battery = &e.project.machine.battery;
        let other_a = e.project.machine.other_current_a;
        let launcher_a = e.volley.map_or(other_a, |v| v.train.peak_battery_a);
        let base_a = e.base.map_or(0.0, |b| b.speeding_peak_a.max(b.push_battery_a));
        let at_once_a = launcher_a + base_a;
        let cycle = cycle(e);
        let breaker = Breaker {
            trip_a: power.breaker_a,
            tau_s: power.breaker_s,
        };
        let used = budget(battery.open_v, battery.resistance_ohm, &cycle);
        Some(PowerFigures {
            launcher_a,
            base_a,
            at_once_a,
            at_once_v: battery.open_v - battery.resistance_ohm * at_once_a,
            rms_a: crate::frame::power::rms_a(&cycle),
            breaker: breaker_run(&breaker, &cycle),
            at_once_s: breaker_s(&breaker, at_once_a),
            battery: used,
            matches_count: power.capacity_a_s.map(|c| USABLE_SHARE * c / used.charge_a_s),
            brown_out: brown_out_chance(
                &Loads {
                    open_v: battery.open_v,
                    resistance_ohm: battery.resistance_ohm,
                    limit_v: battery.brown_out_v,
                    peaks_a: peaks(e, launcher_a),
                    round_count: power.volley_count,
                },
                &Differs {
                    least_charge_frac: power.least_charge_frac,
                    taken_frac: power.capacity_a_s.map_or(0.0, |c| used.charge_a_s / c),
                    resistance_sd_ratio: power.resistance_sd_ratio,
                    temperature_k: e.project.site.temperature_k,
                    temperature_sd_k: BATTERY_SD_K,
                },
                SEED,
                MATCHES,
            ),
            trip_frac: trip_chance(&breaker, &cycle),
            held_k: e.base.and_then(|b| held_k(e, b.push_a)),
        })
    }
}

/// How much warmer the winding of a drive motor is after [`WALL_S`] at a current, from cold; `None` without its mass.
fn held_k(e: &FrameEvidence, current_a: f64) -> Option<f64> {
    let motor = e.frame.motor.as_ref()?;
    let heat_j_per_k = motor.mass_kg? * WINDING_SHARE * COPPER_J;
    let ohm = motor_constants(&motor.sheet).resistance_ohm;
    // Constant current with the warm winding's resistance: C dT/dt = I² R (1 + a T).
    Some((COPPER_PER_K * current_a * current_a * ohm * WALL_S / heat_j_per_k).exp_m1() / COPPER_PER_K)
}

/// Highest current of battery in each way in which a volley falls together with a drive; one in [`PUSHES`] with the base
/// pushing against something.
fn peaks(e: &FrameEvidence, launcher_a: f64) -> Vec<f64> {
    let volley = volley_run(e);
    let Some(base) = e.base else {
        return vec![launcher_a];
    };
    let pushing = [Stretch {
        current_a: base.push_battery_a,
        time_s: PUSH_S,
    }];
    let mut all = peaks_together(&volley, &base.speeding_run, OVERLAPS - OVERLAPS / PUSHES);
    all.extend(peaks_together(&volley, &pushing, OVERLAPS / PUSHES));
    all
}

/// The volley as stretches between its samples; the rest of the machine is in them.
fn volley_run(e: &FrameEvidence) -> Vec<Stretch> {
    let samples = e.volley.map_or(&[][..], |v| &v.train.samples);
    samples
        .windows(2)
        .map(|w| Stretch {
            current_a: w[0].battery_a,
            time_s: (w[1].time_s - w[0].time_s).max(0.0),
        })
        .collect()
}

/// Current over a match: in each round the drives, the last of them while the wheel spins up, then the volley; rest between.
fn cycle(e: &FrameEvidence) -> Vec<Stretch> {
    let (Some(power), other_a) = (e.frame.power.as_ref(), e.project.machine.other_current_a) else {
        return Vec::new();
    };
    let volley = volley_run(e);
    let speeding = e.base.map(|b| b.speeding);
    let rounds = power.volley_count.max(1);
    let drives = f64::from(power.dash_count) / f64::from(rounds);
    let volley_s: f64 = volley.iter().map(|s| s.time_s).sum();
    let drive_s = speeding.map_or(0.0, |s| s.time_s);
    let idle_s = (power.match_s / f64::from(rounds) - volley_s - drives * drive_s).max(0.0);
    let mut cycle = Vec::new();
    for round in 0..rounds {
        if let Some(s) = speeding {
            // All but the last drive of the round, with rest between them.
            let before = (drives - 1.0).max(0.0);
            cycle.push(Stretch {
                current_a: s.current_a + other_a,
                time_s: before * s.time_s,
            });
        }
        cycle.push(Stretch {
            current_a: other_a,
            time_s: idle_s,
        });
        if round < power.volley_count {
            // The last drive goes with the spin-up.
            let mut now_s = 0.0;
            for s in &volley {
                let driving = speeding
                    .filter(|d| drives > 0.0 && now_s < d.time_s)
                    .map_or(0.0, |d| d.current_a);
                cycle.push(Stretch {
                    current_a: s.current_a + driving,
                    ..*s
                });
                now_s += s.time_s;
            }
        }
    }
    cycle
}

pub(super) fn breaker(e: &FrameEvidence) -> Vec<Verdict> {
    let (Some(p), Some(power)) = (e.power, e.frame.power.as_ref()) else {
        return Vec::new();
    };
    let say = |v, d| e.project.say(v, d);
    let status = match p.breaker.trips_s {
        Some(_) => Status::Fails,
        None if p.trip_frac > OFTEN_FRAC => Status::Fails,
        None if p.breaker.warmest_frac > WARM_FRAC || p.at_once_s < WALL_S => Status::Tight,
        None => Status::Holds,
    };
    let run = match p.breaker.trips_s {
        Some(t) => format!("trips {} into the match", say(t, D::Time)),
        None => format!(
            "warms to {} of what trips it",
            say(p.breaker.warmest_frac, D::Ratio)
        ),
    };
    let at_once = if p.at_once_s.is_finite() {
        format!(
            "; everything at once, {}, trips it after {} from cold",
            say(p.at_once_a, D::Current),
            say(p.at_once_s, D::Time)
        )
    } else {
        format!(
            "; even everything at once, {}, does not trip it",
            say(p.at_once_a, D::Current)
        )
    };
    let need = power.breaker_a * (p.breaker.warmest_frac / WARM_FRAC).sqrt();
    vec![
        Verdict::new(
            "breaker",
            "",
            status,
            format!("{} breaker, {} on average over a match: {run}{at_once}; over how breakers differ it trips in {} of matches", say(power.breaker_a, D::Current), say(p.rms_a, D::Current), chance_words(p.trip_frac)),
        )
        .numbers(D::Ratio, p.breaker.warmest_frac, 1.0, 1.0 - p.breaker.warmest_frac)
        .mend(format!(
            "limit the currents in the code, do not spin up while driving hard, or fit a breaker of about {} if the rules and the wires allow it; never one above what the wire carries",
            say(need, D::Current)
        )),
    ]
}

/// A chance to a tenth of a per cent, never rounded to none or all.
pub fn chance_words(frac: f64) -> String {
    match 100.0 * frac {
        p if p < 0.05 => "under 0.1 %".into(),
        p if p > 99.95 => "over 99.9 %".into(),
        p => format!("{p:.1} %"),
    }
}

pub(super) fn brown_out(e: &FrameEvidence) -> Vec<Verdict> {
    let Some(p) = e.power else {
        return Vec::new();
    };
    let limit = e.project.machine.battery.brown_out_v;
    let say = |v, d| e.project.say(v, d);
    let chance = p.brown_out;
    let status = if !(p.at_once_v >= limit) || chance.frac > OFTEN_FRAC {
        Status::Fails
    } else if p.at_once_v < limit + AGED_V || chance.frac > SELDOM_FRAC {
        Status::Tight
    } else {
        Status::Holds
    };
    vec![
        Verdict::new(
            "frame-brown-out",
            "",
            status,
            format!(
                "launcher {} and base {} at once leave {} at a full, warm battery, electronics reset at {}; over charge, warmth, age and what runs together a match browns out in {} of cases (19 in 20 sure: {} to {}), and one in ten goes below {}",
                say(p.launcher_a, D::Current),
                say(p.base_a, D::Current),
                say(p.at_once_v, D::Voltage),
                say(limit, D::Voltage),
                chance_words(chance.frac),
                chance_words(chance.range_frac[0]),
                chance_words(chance.range_frac[1]),
                say(chance.tenth_v, D::Voltage)
            ),
        )
        .numbers(D::Voltage, p.at_once_v, limit, p.at_once_v - limit)
        .mend("limit the drive current while the wheel spins up, shorten and thicken the battery wires, start each match with a fresh battery".into()),
    ]
}

pub(super) fn charge(e: &FrameEvidence) -> Vec<Verdict> {
    let (Some(p), Some(power)) = (e.power, e.frame.power.as_ref()) else {
        return Vec::new();
    };
    let say = |v, d| e.project.say(v, d);
    let Some(matches) = p.matches_count else {
        return vec![Verdict::unknown(
            "charge",
            "frame.power.capacity",
            &format!(
                "read the ampere hours off the battery; a match takes {}",
                say(p.battery.charge_a_s, D::Charge)
            ),
        )];
    };
    let status = if matches < 1.0 {
        Status::Fails
    } else if matches < 2.0 {
        Status::Tight
    } else {
        Status::Holds
    };
    let usable = USABLE_SHARE * power.capacity_a_s.unwrap_or(f64::NAN);
    vec![
        Verdict::new(
            "charge",
            "",
            status,
            format!(
                "a match takes {} and {:.1} W h; {} of a charge can be used without harm, which is {matches:.1} matches",
                say(p.battery.charge_a_s, D::Charge),
                p.battery.source_j / 3600.0,
                say(USABLE_SHARE, D::Ratio)
            ),
        )
        .numbers(D::Charge, usable, p.battery.charge_a_s, usable - p.battery.charge_a_s)
        .mend("a fresh battery for each match, less idle current, or a larger battery".into()),
    ]
}

pub(super) fn wires(e: &FrameEvidence) -> Vec<Verdict> {
    let say = |v, d| e.project.say(v, d);
    let power = e.power;
    let drive = &e.project.machine.drive;
    let motors = f64::from(drive.motor_count.max(1)) * f64::from(e.report.chain.train.shaft_count.max(1));
    e.frame
        .wires
        .iter()
        .filter_map(|w| {
            // For warmth the average counts, for the drop the highest.
            let (steady_a, most_a) = match w.feeds {
                Feeds::Battery => power.map(|p| (p.rms_a, p.at_once_a))?,
                Feeds::Drive => e.base.map(|b| (b.push_a, b.push_a))?,
                Feeds::Launcher => {
                    let train = &e.volley?.train;
                    let other_a = e.project.machine.other_current_a;
                    let square = train.samples.iter().map(|s| (s.battery_a - other_a).powi(2)).sum::<f64>();
                    let mean_a = (square / train.samples.len().max(1) as f64).sqrt();
                    (mean_a / motors, ((train.peak_battery_a - other_a) / motors).max(0.0))
                }
            };
            let warm = wire_load(w.area_m2, w.length_m, steady_a);
            let drop_v = wire_load(w.area_m2, w.length_m, most_a).drop_v;
            // What is fused by the main breaker must bear what the breaker lets through for ever.
            let let_through = match (w.feeds, e.frame.power.as_ref()) {
                (Feeds::Battery, Some(p)) => Some((p.breaker_a, wire_load(w.area_m2, w.length_m, p.breaker_a).rise_k)),
                _ => None,
            };
            let unguarded = let_through.is_some_and(|(_, k)| !(k <= WIRE_K));
            let status = if !(warm.rise_k <= WIRE_K) || unguarded {
                Status::Fails
            } else if warm.rise_k > 0.5 * WIRE_K || drop_v > 0.5 {
                Status::Tight
            } else {
                Status::Holds
            };
            let rise = if warm.rise_k.is_finite() {
                format!("gets {:.0} K warmer than the air", warm.rise_k)
            } else {
                "gets hotter without end".to_string()
            };
            let which = match w.feeds {
                Feeds::Battery => "average of a match",
                Feeds::Launcher => "average of a volley",
                Feeds::Drive => "held",
            };
            let guarded = match let_through {
                Some((a, k)) if unguarded => {
                    let hot = if k.is_finite() { format!("{k:.0} K") } else { "endlessly".into() };
                    format!("; the breaker does not protect it: the {} that it lets through for ever would warm it by {hot}", say(a, D::Current))
                }
                Some((a, k)) => format!("; what the breaker lets through for ever, {}, warms it by {k:.0} K", say(a, D::Current)),
                None => String::new(),
            };
            Some(
                Verdict::new(
                    "wires",
                    &w.name,
                    status,
                    format!(
                        "{} of copper at {} ({which}) {rise}; it loses {} at {}{guarded}",
                        say(w.area_m2, D::Area),
                        say(steady_a, D::Current),
                        say(drop_v, D::Voltage),
                        say(most_a, D::Current)
                    ),
                )
                .mend("a thicker wire, two in parallel, a smaller breaker, or a lower current limit; bundles and sleeves run hotter".into()),
            )
        })
        .collect()
}
