//! Stress of turning in wheels and printed parts.

use super::{FrameEvidence, Verdict};
use crate::launcher::PartShape;
use crate::launcher::wheel_stress::{Disc, WheelMaterial, allowable_speed, rotating_disc};
use crate::limits::{Status, at_most};
use crate::project::Project;
use crate::units::Dimension as D;

/// Method: the bore of a disc that no shaft is known of; however small, it doubles the stress of a solid one.
const PIN_HOLE_M: f64 = 1e-5;

/// A part that turns, at the launcher's top speed.
#[derive(Clone, Debug, PartialEq)]
pub struct RimFigures {
    /// Its place in the file's list, from 0.
    pub index: usize,
    /// Disc, annulus or ring.
    pub kind: &'static str,
    /// What it is, with its size, in words.
    pub what: String,
    /// Material.
    pub material: WheelMaterial,
    /// Rim speed.
    pub rim_mps: f64,
    /// Greatest hoop stress.
    pub stress_pa: f64,
    /// Stress to stay below.
    pub design_pa: f64,
    /// Rim speed at which it reaches that.
    pub most_mps: f64,
}

/// Parts whose material is written, at a speed of the wheel.
pub fn rims(project: &Project, top_radps: f64) -> Vec<RimFigures> {
    let shaft_m = project.shaft().map(|s| 0.5 * s.diameter_m);
    let parts = project.machine.parts.iter().enumerate();
    parts
        .filter_map(|(index, p)| {
            let material = p.material?;
            let stuff = material.stuff();
            let speed_radps = top_radps * p.speed_ratio;
            let (what, outer_m, stress_pa, most_mps) = match p.shape {
                PartShape::Annulus { outer_m, inner_m, .. } => {
                    let disc = Disc {
                        density_kgpm3: stuff.density_kgpm3,
                        poisson_ratio: stuff.poisson_ratio,
                        outer_m,
                        bore_m: if inner_m > 0.0 {
                            inner_m
                        } else {
                            shaft_m.unwrap_or(PIN_HOLE_M).min(0.5 * outer_m)
                        },
                    };
                    let what = if inner_m > 0.0 { "annulus" } else { "disc" };
                    let stress = rotating_disc(&disc, speed_radps);
                    let most = allowable_speed(&disc, stuff.design_pa);
                    (what, outer_m, stress.bore_hoop_pa, most.rim_mps)
                }
                // A thin ring that nothing holds: σ = ρ v² \[timoshenko-goodier\].
                PartShape::Ring { radius_m, .. } => {
                    let mps = speed_radps * radius_m;
                    let stress_pa = stuff.density_kgpm3 * mps * mps;
                    (
                        "ring",
                        radius_m,
                        stress_pa,
                        (stuff.design_pa / stuff.density_kgpm3).sqrt(),
                    )
                }
                PartShape::Known { .. } => return None,
            };
            Some(RimFigures {
                index,
                kind: what,
                what: format!(
                    "{} {what} of {}",
                    material.word(),
                    project.say(2.0 * outer_m, D::Length)
                ),
                material,
                rim_mps: speed_radps * outer_m,
                stress_pa,
                design_pa: stuff.design_pa,
                most_mps,
            })
        })
        .collect()
}

pub(super) fn rim_stress(e: &FrameEvidence) -> Vec<Verdict> {
    let say = |v| e.project.say(v, D::Speed);
    let all = rims(e.project, e.report.chain.top_radps);
    let alike = |r: &RimFigures| {
        all.iter()
            .filter(|o| (o.kind, o.material) == (r.kind, r.material))
            .count()
    };
    all.iter()
        .map(|r| {
            let mut subject = format!("{} {}", r.material.word(), r.kind);
            if alike(r) > 1 {
                subject.push_str(&format!(" {}", r.index + 1));
            }
            let status: Status = at_most(r.stress_pa, r.design_pa);
            let printed = if r.material == WheelMaterial::Printed {
                "; printed layers part at their weakest line, so weigh it, look for cracks, and keep it behind the guard"
            } else {
                ""
            };
            Verdict::new(
                "rim-stress",
                &subject,
                status,
                format!(
                    "its rim runs at {}: {:.2} MPa at the bore or in the ring, {:.0} MPa to stay below, which it would reach at {}; keyways and screws double it{printed}",
                    say(r.rim_mps),
                    r.stress_pa / 1e6,
                    r.design_pa / 1e6,
                    say(r.most_mps)
                ),
            )
            .numbers(D::Speed, r.rim_mps, r.most_mps, r.most_mps - r.rim_mps)
            .mend(format!(
                "cap the wheel speed so that this rim stays below {}, or make it of something stronger or smaller",
                say(r.most_mps)
            ))
        })
        .collect()
}
