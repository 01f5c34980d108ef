//! The wheel's shaft and what carries it.

use super::{FrameEvidence, Verdict};
use crate::frame::bearing::{
    BALL_EXPONENT, BALL_WEIBULL_EXPONENT, EASY_SPEED_RATIO, GREASE_SPEED_RATIO, bearing_life, speed_factor,
    system_life_s,
};
use crate::frame::bushing::{Bushing, BushingLoad, bushing_load};
use crate::frame::shaft::{Critical, Section, Shaft, ShaftStress, critical, shaft_stress};
use crate::launcher::PartShape;
use crate::launcher::wheel_stress::unbalance;
use crate::limits::Status;
use crate::project::{ShaftMaterial, Support, WheelShaft};
use crate::units::{Dimension as D, STANDARD_GRAVITY_MPS2};

/// Method: lumps of the shaft's own mass.
const LUMPS: usize = 16;
/// Judgement: seconds of running in a season, 50 hours.
const SEASON_S: f64 = 180_000.0;
/// Invented but usual: rise of temperature for each watt in a small plastic bushing in a plate.
const BUSHING_K_PER_W: f64 = 12.0;
/// Common practice, no source: run below this share of the first critical speed; soft side plates halve the computed one.
const CALM_SHARE: f64 = 0.5;
/// Share of the first critical speed above which a wheel shakes. Common practice, no source.
const SHAKE_SHARE: f64 = 0.8;
/// Judgement: a share of the squeeze that guide or wheel may give way by.
pub(super) const GIVE_SHARE: f64 = 0.05;

/// The wheel's shaft in figures, at the launcher's top speed.
#[derive(Clone, Debug, PartialEq)]
pub struct ShaftFigures {
    /// Speed reckoned with: the launcher's top.
    pub speed_radps: f64,
    /// Mass that turns with the shaft at its speed.
    pub wheel_kg: f64,
    /// Weight of it.
    pub weight_n: f64,
    /// Turning force of the lump at the rim.
    pub lump_n: f64,
    /// Pull of belt or chain.
    pub pull_n: f64,
    /// Force of the piece at a throw; 0 when nothing is thrown.
    pub piece_n: f64,
    /// Critical speed.
    pub critical: Critical,
    /// Steady load on the support that bears more: weight, lump and pull.
    pub steady_n: f64,
    /// The same during a throw.
    pub throw_n: f64,
    /// Deflection at the wheel during a throw.
    pub bend_m: f64,
    /// How far the lump swings the wheel to each side on stiff supports: the squeeze changes by it, turn after turn.
    pub shake_m: f64,
    /// Stress during a throw.
    pub stress: ShaftStress,
    /// What carries it.
    pub support: SupportFigures,
}

/// What carries the shaft, in figures.
#[derive(Clone, Debug, PartialEq)]
pub enum SupportFigures {
    /// Ball bearings.
    Ball {
        /// Life of both that nine in ten pairs outlast; `None` without the rating.
        life_s: Option<f64>,
        /// Turns a minute times mean diameter in millimetres; `None` without the outer diameter.
        speed_ratio: Option<f64>,
    },
    /// Plain bushings.
    Bushing {
        /// Load of the one that bears more.
        load: BushingLoad,
        /// The hottest it may get, less room temperature.
        room_k: f64,
    },
}

fn stuff(material: ShaftMaterial) -> (f64, f64, f64) {
    // Young's modulus, density and a stress that survives full reversal for ever, handbook values (from memory).
    match material {
        ShaftMaterial::Steel => (200e9, 7850.0, 200e6),
        ShaftMaterial::Aluminium => (69e9, 2700.0, 70e6),
    }
}

impl ShaftFigures {
    /// `None` where the file does not describe the shaft.
    pub fn of(e: &FrameEvidence) -> Option<ShaftFigures> {
        let s = e.frame.shaft.as_ref()?;
        let speed_radps = e.report.chain.top_radps;
        let (modulus_pa, density, _) = stuff(s.material);
        let shaft = Shaft {
            modulus_pa,
            section: Section::Round {
                diameter_m: s.diameter_m,
            },
            span_m: s.span_m,
        };
        let wheel_kg: f64 = e
            .project
            .machine
            .parts
            .iter()
            .filter(|p| p.speed_ratio == 1.0)
            .map(|p| match p.shape {
                PartShape::Annulus { mass_kg, .. } | PartShape::Ring { mass_kg, .. } => {
                    mass_kg * f64::from(p.count)
                }
                PartShape::Known { .. } => 0.0,
            })
            .sum();
        let radius_m = 0.5 * e.project.machine.wheel.diameter_m;
        let weight_n = wheel_kg * STANDARD_GRAVITY_MPS2;
        let lump_n = unbalance(0.0063, wheel_kg, speed_radps, s.lump_kg, radius_m).lump_n;
        let piece_n = e.piece_n.unwrap_or(0.0);
        let steady = [(s.wheel_at_m, weight_n + lump_n), (s.pull_at_m, s.pull_n)];
        let throwing = [
            (s.wheel_at_m, weight_n + lump_n + piece_n),
            (s.pull_at_m, s.pull_n),
        ];
        let more = |loads: &[(f64, f64)]| {
            shaft
                .supports_n(loads)
                .iter()
                .fold(0.0_f64, |m, f| m.max(f.abs()))
        };
        let drive = &e.project.machine.drive;
        let torque_nm = drive.motor.stall_nm * drive.gear_ratio * f64::from(drive.motor_count);
        let (steady_n, throw_n) = (more(&steady), more(&throwing));
        Some(ShaftFigures {
            speed_radps,
            wheel_kg,
            weight_n,
            lump_n,
            pull_n: s.pull_n,
            piece_n,
            critical: critical(&shaft, &masses(s, density, &shaft, wheel_kg)),
            steady_n,
            throw_n,
            bend_m: shaft.deflection_m(s.wheel_at_m, &throwing).abs(),
            shake_m: lump_n * shaft.influence_m_per_n(s.wheel_at_m, s.wheel_at_m),
            stress: shaft_stress(shaft.greatest_nm(&throwing), torque_nm, s.diameter_m),
            support: carried(
                s,
                speed_radps,
                steady_n,
                throw_n,
                shaft.supports_n(&throwing),
                e.project.site.temperature_k,
            ),
        })
    }
}

fn masses(s: &WheelShaft, density_kgpm3: f64, shaft: &Shaft, wheel_kg: f64) -> Vec<(f64, f64)> {
    let low = s.wheel_at_m.min(s.pull_at_m).min(0.0);
    let high = s.wheel_at_m.max(s.pull_at_m).max(s.span_m);
    let each = density_kgpm3 * shaft.section.figures().area_m2 * (high - low) / LUMPS as f64;
    (0..LUMPS)
        .map(|i| (low + (high - low) * (i as f64 + 0.5) / LUMPS as f64, each))
        .chain([(s.wheel_at_m, wheel_kg)])
        .collect()
}

fn carried(
    s: &WheelShaft,
    speed_radps: f64,
    steady_n: f64,
    throw_n: f64,
    both_n: [f64; 2],
    air_k: f64,
) -> SupportFigures {
    match s.support {
        Support::Ball => SupportFigures::Ball {
            // The piece presses for a small part of the time; to reckon with it always is the careful side.
            life_s: s.rating_n.map(|c| {
                let lives: Vec<f64> = both_n
                    .iter()
                    .map(|f| {
                        bearing_life(c, f.abs().max(f64::MIN_POSITIVE), BALL_EXPONENT, speed_radps).life_s
                    })
                    .filter(|l| l.is_finite())
                    .collect();
                if lives.is_empty() {
                    bearing_life(c, throw_n, BALL_EXPONENT, speed_radps).life_s
                } else {
                    system_life_s(&lives, BALL_WEIBULL_EXPONENT)
                }
            }),
            speed_ratio: s
                .outer_m
                .map(|o| speed_factor(s.diameter_m, o, speed_radps).printed_ratio),
        },
        Support::Bushing => {
            let limits = s.bushing.limits();
            SupportFigures::Bushing {
                load: bushing_load(&Bushing {
                    load_n: steady_n,
                    bore_m: s.diameter_m,
                    length_m: s.bushing_m,
                    speed_radps,
                    friction_coeff: limits.friction_coeff,
                    thermal_k_per_w: BUSHING_K_PER_W,
                    limit_pa_mps: limits.product_pa_mps,
                }),
                room_k: limits.hottest_k - air_k,
            }
        }
    }
}

fn load_words(e: &FrameEvidence, f: &ShaftFigures) -> String {
    let say = |v| e.project.say(v, D::Force);
    let mut parts = vec![
        format!("weight {}", say(f.weight_n)),
        format!("imbalance {}", say(f.lump_n)),
    ];
    if f.pull_n > 0.0 {
        parts.push(format!("belt or chain {}", say(f.pull_n)));
    }
    parts.join(", ")
}

pub(super) fn shaft_speed(e: &FrameEvidence) -> Vec<Verdict> {
    let Some(f) = ShaftFigures::of(e) else {
        return Vec::new();
    };
    let say = |v| e.project.say(v, D::AngularSpeed);
    let (top, first) = (f.speed_radps, f.critical.exact_radps);
    let share = top / first;
    let status = if !(share < SHAKE_SHARE) {
        Status::Fails
    } else if share > CALM_SHARE {
        Status::Tight
    } else {
        Status::Holds
    };
    vec![
        Verdict::new(
            "shaft-speed",
            "",
            status,
            format!(
                "top speed {}, first critical speed {} on stiff supports; soft side plates may halve that",
                say(top),
                say(first)
            ),
        )
        .numbers(
            D::AngularSpeed,
            top,
            SHAKE_SHARE * first,
            SHAKE_SHARE * first - top,
        )
        .mend("a thicker shaft, supports closer together, the wheel between them and not beyond".into()),
    ]
}

pub(super) fn shaft_bend(e: &FrameEvidence) -> Vec<Verdict> {
    let (Some(f), Some(s)) = (ShaftFigures::of(e), e.frame.shaft.as_ref()) else {
        return Vec::new();
    };
    let (_, _, endures_pa) = stuff(s.material);
    // A keyway or a screw's dimple doubles the stress.
    let found = 2.0 * f.stress.equivalent_pa;
    let say = |v, d| e.project.say(v, d);
    let give_limit = GIVE_SHARE * e.project.squeeze_m();
    let status = if found > endures_pa {
        Status::Fails
    } else if found > 0.5 * endures_pa || f.bend_m > give_limit {
        Status::Tight
    } else {
        Status::Holds
    };
    vec![
        Verdict::new(
            "shaft-bend",
            "",
            status,
            format!(
                "{:.0} MPa at a notch in a throw, {:.0} MPa endured turn after turn; the wheel gives way by {} while the piece passes",
                found / 1e6,
                endures_pa / 1e6,
                say(f.bend_m, D::Length)
            ),
        )
        .mend("a thicker shaft or a shorter span; clamp the hub in place of a screw on a flat".into()),
    ]
}

pub(super) fn support(e: &FrameEvidence) -> Vec<Verdict> {
    let (Some(f), Some(s)) = (ShaftFigures::of(e), e.frame.shaft.as_ref()) else {
        return Vec::new();
    };
    let say = |v, d| e.project.say(v, d);
    let loads = load_words(e, &f);
    match &f.support {
        SupportFigures::Bushing { load, room_k } => vec![bushing(e, s, &f, load, *room_k, &loads)],
        SupportFigures::Ball { life_s, speed_ratio } => {
            let life = life_s.map(|l| {
                let hours = l / 3600.0;
                if hours > 1e5 {
                    "over 100 000 hours before fatigue".to_string()
                } else {
                    format!("{hours:.0} hours before fatigue (nine pairs in ten last longer)")
                }
            });
            let speed = speed_ratio.map(|r| {
                let words = if r <= EASY_SPEED_RATIO {
                    "easy for ordinary grease"
                } else if r <= GREASE_SPEED_RATIO {
                    "for high-speed grease"
                } else {
                    "beyond grease"
                };
                format!("speed factor {r:.0} mm/min, {words}")
            });
            let (Some(life), Some(speed)) = (life, speed) else {
                return vec![Verdict::unknown(
                    "support",
                    if s.rating_n.is_none() {
                        "frame.shaft.rating"
                    } else {
                        "frame.shaft.outer_diameter"
                    },
                    &format!(
                        "look up C and the outer diameter of the ball bearing; it bears {} steadily ({loads}) and {} in a throw",
                        say(f.steady_n, D::Force),
                        say(f.throw_n, D::Force)
                    ),
                )];
            };
            let (life_s, ratio) = (life_s.unwrap_or(0.0), speed_ratio.unwrap_or(f64::INFINITY));
            let status = if life_s < SEASON_S || ratio > GREASE_SPEED_RATIO {
                Status::Fails
            } else if life_s < 5.0 * SEASON_S || ratio > EASY_SPEED_RATIO {
                Status::Tight
            } else {
                Status::Holds
            };
            vec![
                Verdict::new(
                    "support",
                    "",
                    status,
                    format!(
                        "ball bearing at {}, {} in a throw ({loads}, piece {}): {life}; {speed}. Dirt, dents and rust decide before fatigue does",
                        say(f.speed_radps, D::AngularSpeed),
                        say(f.throw_n, D::Force),
                        say(f.piece_n, D::Force)
                    ),
                )
                .mend("a larger bearing, a lighter or better balanced wheel, less belt pull".into()),
            ]
        }
    }
}

fn bushing(
    e: &FrameEvidence,
    s: &WheelShaft,
    f: &ShaftFigures,
    load: &BushingLoad,
    room_k: f64,
    loads: &str,
) -> Verdict {
    let say = |v, d| e.project.say(v, d);
    let limits = s.bushing.limits();
    let throw_pa = f.throw_n / (s.diameter_m * s.bushing_m);
    let mut failing = Vec::new();
    let product = |v: f64| format!("{:.2} MPa m/s", v / 1e6);
    if load.limit_ratio > 1.0 {
        failing.push(format!(
            "pressure times speed is {}, {:.1} times the {} that {} bears",
            product(load.product_pa_mps),
            load.limit_ratio,
            product(limits.product_pa_mps),
            s.bushing.word()
        ));
    }
    if let Some(v) = limits.rub_mps.filter(|v| load.rub_mps > *v) {
        failing.push(format!(
            "it rubs at {}, {} at the most",
            say(load.rub_mps, D::Speed),
            say(v, D::Speed)
        ));
    }
    if let Some(p) = limits.pressure_pa.filter(|p| throw_pa > *p) {
        failing.push(format!(
            "a throw presses with {:.1} MPa, {:.0} at the most",
            throw_pa / 1e6,
            p / 1e6
        ));
    }
    if load.rise_k > room_k {
        failing.push(format!(
            "{:.1} W of rubbing warm it by about {:.0} K, {:.0} K at the most",
            load.heat_w, load.rise_k, room_k
        ));
    }
    let nearest = load.limit_ratio.max(load.rise_k / room_k);
    let (status, why) = if !failing.is_empty() {
        (Status::Fails, failing.join("; "))
    } else {
        let status = if nearest > 0.7 {
            Status::Tight
        } else {
            Status::Holds
        };
        (
            status,
            format!(
                "pressure times speed is {} of the {} that {} bears, {:.1} W warm it by about {:.0} K",
                product(load.product_pa_mps),
                product(limits.product_pa_mps),
                s.bushing.word(),
                load.heat_w,
                load.rise_k
            ),
        )
    };
    Verdict::new(
        "support",
        "",
        status,
        format!(
            "plain bushing at {} with {} steadily ({loads}): {why}",
            say(f.speed_radps, D::AngularSpeed),
            say(f.steady_n, D::Force)
        ),
    )
    .numbers(D::Ratio, load.limit_ratio, 1.0, 1.0 - load.limit_ratio)
    .mend(format!(
        "ball bearings; this bushing bears {} at this speed, or {} at this load, and a thinner shaft would not help",
        say(load.most_n, D::Force),
        say(f.speed_radps / load.limit_ratio.max(f64::MIN_POSITIVE), D::AngularSpeed)
    ))
}
