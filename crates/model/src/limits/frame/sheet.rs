//! The guide's sheet between its ribs: how far it gives way, what that does to the squeeze, and other materials.

use std::f64::consts::TAU;

use super::rotating::GIVE_SHARE;
use super::{FrameEvidence, Verdict};
use crate::frame::sheet_span::{SheetSpan, sheet_stuff, span_m_per_n, thickness_for_m};
use crate::launcher::guide_quality::guide_quality;
use crate::launcher::sheet::{CurvedStrip, cold_bend, cold_bend_rule, metal_springback};
use crate::launcher::{GuideError, Layout, Passage};
use crate::limits::{Report, Status, fastest};
use crate::project::{Project, SheetMaterial};
use crate::shot::{Chain, Exit};
use crate::units::Dimension as D;

/// Handbook value of the plastics, from memory.
const POISSON: f64 = 0.37;

fn span_of(project: &Project, rib_m: f64, material: SheetMaterial, thickness_m: f64) -> SheetSpan {
    let stuff = sheet_stuff(material);
    SheetSpan {
        modulus_pa: stuff.modulus_pa * stuff.across_frac,
        poisson_ratio: POISSON,
        thickness_m,
        // The load spreads by about a rib's distance to each side of the wheel.
        width_m: project.machine.wheel.width_m + 2.0 * rib_m,
        rib_m,
        hold_frac: 0.5,
    }
}

/// How far the guide's sheet gives way under the piece.
#[derive(Clone, Debug, PartialEq)]
pub struct GuideGive {
    /// Force of the piece.
    pub piece_n: f64,
    /// By how much the sheet gives way between two ribs.
    pub give_m: f64,
    /// The same over the squeeze.
    pub squeeze_ratio: f64,
    /// Thickness of each material that gives way by a twentieth of the squeeze only, at these ribs.
    pub enough: Vec<(SheetMaterial, f64)>,
    /// Distance between ribs at which this sheet does.
    pub rib_m: f64,
}

impl GuideGive {
    /// `None` without a guide, its sheet, its ribs or a throw.
    pub fn of(e: &FrameEvidence) -> Option<GuideGive> {
        let Layout::Guide(_) = e.project.machine.layout else {
            return None;
        };
        let (sheet, rib_m, piece_n) = (e.project.machine.sheet?, e.frame.guide_ribs_m?, e.piece_n?);
        let span =
            |material: SheetMaterial, thickness_m: f64| span_of(e.project, rib_m, material, thickness_m);
        let now = span(sheet.material, sheet.thickness_m);
        let give_m = piece_n * span_m_per_n(&now);
        let squeeze_m = e.project.squeeze_m();
        let allowed_m = GIVE_SHARE * squeeze_m;
        let of = |m: SheetMaterial| {
            (
                m,
                thickness_for_m(&span(m, sheet.thickness_m), piece_n, allowed_m),
            )
        };
        Some(GuideGive {
            piece_n,
            give_m,
            squeeze_ratio: give_m / squeeze_m,
            enough: [
                SheetMaterial::Polycarbonate,
                SheetMaterial::Acrylic,
                SheetMaterial::Corrugated,
            ]
            .map(of)
            .to_vec(),
            // Give grows with the cube of the span and falls with the width that bears.
            rib_m: rib_m * (allowed_m / give_m).cbrt(),
        })
    }
}

pub(super) fn guide_give(e: &FrameEvidence) -> Vec<Verdict> {
    let Some(g) = GuideGive::of(e) else {
        return Vec::new();
    };
    let say = |v, d| e.project.say(v, d);
    let status = if g.squeeze_ratio > 2.0 * GIVE_SHARE {
        Status::Fails
    } else if g.squeeze_ratio > GIVE_SHARE {
        Status::Tight
    } else {
        Status::Holds
    };
    let enough = g.enough.first().map_or(f64::NAN, |(_, t)| *t);
    let limit = 2.0 * GIVE_SHARE * e.project.squeeze_m();
    vec![
        Verdict::new(
            "guide-give",
            "",
            status,
            format!(
                "the piece presses the sheet with {}: it gives way by {} between two ribs, {} of the squeeze",
                say(g.piece_n, D::Force),
                say(g.give_m, D::Length),
                say(g.squeeze_ratio, D::Ratio)
            ),
        )
        .numbers(D::Length, g.give_m, limit, limit - g.give_m)
        .mend(format!(
            "ribs every {} behind this sheet, or polycarbonate of {} on ribs as now (see `guide-bend` for how far it curves cold)",
            say(g.rib_m, D::Length),
            say(enough, D::Length)
        )),
    ]
}

/// The passage over a sheet that gives way between its ribs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GivingGuide {
    /// Mean force of the piece on a guide that does not give way.
    pub stiff_n: f64,
    /// Force half way between two ribs.
    pub force_n: f64,
    /// Squeeze at a rib.
    pub at_rib_m: f64,
    /// Squeeze half way between two ribs.
    pub between_m: f64,
    /// Exit speed.
    pub exit_mps: f64,
    /// Exit speed over a guide that does not give way.
    pub stiff_mps: f64,
}

/// Convergence: halvings of the bracket of the force, to rounding.
const HALVINGS: usize = 60;

/// Force between two ribs on a sheet that gives way, from that on a stiff one.
///
/// ```text
/// F = F0 ((S − c F)/S)^e        S: squeeze, c: give at mid span for each newton, e: the piece's exponent
/// ```
///
/// The piece's own law of force and squeeze; derived.
fn yielding_n(stiff_n: f64, squeeze_m: f64, give_m_per_n: f64, exponent: f64) -> f64 {
    let left = |force_n: f64| ((squeeze_m - give_m_per_n * force_n) / squeeze_m).max(0.0);
    let (mut low, mut high) = (0.0, stiff_n);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if middle < stiff_n * left(middle).powf(exponent) {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Sends the piece over a guide that gives way by `give_m_per_n` between ribs, with force and squeeze in balance.
///
/// ```text
/// gap(s) = gap + a (1 − cos(2π s/rib)),  a = c F/2        F: force between ribs
/// ```
///
/// c is the give at mid span \[timoshenko-plates\]; F from the mean force on the stiff guide, less what the squeeze loses by the
/// give. A guide that is stated as uneven keeps its own error and is only widened by a. `None` where nothing comes through.
pub fn giving_guide(
    project: &Project,
    chain: &Chain,
    wheel_radps: f64,
    give_m_per_n: f64,
    rib_m: f64,
) -> Option<GivingGuide> {
    let setting = &project.machine.setting;
    let run = |a_m: f64| -> Option<(f64, f64)> {
        let mut moved = chain.clone();
        let Layout::Guide(guide) = &mut moved.launcher.layout else {
            return None;
        };
        guide.gap_m += a_m;
        if !moved.launcher.guide_error.is_stated() {
            moved.launcher.guide_error = GuideError::Wave {
                amplitude_m: a_m,
                wavelength_m: rib_m,
                // Narrowest at a rib: one stands at the start.
                phase_rad: -0.25 * TAU,
            };
        }
        let Passage::Thrown(release) = moved.release(setting, wheel_radps, true) else {
            return None;
        };
        let quality = guide_quality(&moved.launcher, &moved.body, &release.trace)?;
        Some((quality.force_mean_n, Exit::of(&release).speed_mps))
    };
    let squeeze_m = project.squeeze_m();
    let (stiff_n, stiff_mps) = run(0.0)?;
    let exponent = chain.body.stiffness_exponent;
    let force_n = yielding_n(stiff_n, squeeze_m, give_m_per_n, exponent);
    let (_, exit_mps) = run(0.5 * give_m_per_n * force_n)?;
    Some(GivingGuide {
        stiff_n,
        force_n,
        at_rib_m: squeeze_m,
        between_m: squeeze_m - give_m_per_n * force_n,
        exit_mps,
        stiff_mps,
    })
}

/// A sheet material on the same ribs and the same arc.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SheetChoice {
    /// Material.
    pub material: SheetMaterial,
    /// Thickness.
    pub thickness_m: f64,
    /// Radius that the arc asks for.
    pub radius_m: f64,
    /// Smallest radius to which it is curved cold; `None` where no rule is published.
    pub least_radius_m: Option<f64>,
    /// Stress of the outer face in that curve.
    pub stress_pa: f64,
    /// Moment that holds the curve.
    pub holding_nm: f64,
    /// Share of the curve that stays when it is let go; 0 springs back whole.
    pub kept_ratio: f64,
    /// Give between two ribs under the piece's greatest force.
    pub give_m: f64,
    /// The passage with that give in the gap.
    pub giving: Option<GivingGuide>,
    /// Thickness that would give way by a twentieth of the squeeze.
    pub enough_m: f64,
    /// Mass of the sheet along the arc.
    pub mass_kg: f64,
}

/// Materials of the guide's sheet by the same numbers, at the thickness of the file; empty without a guide, its sheet, its ribs or a
/// throw.
pub fn sheet_choices(project: &Project, report: &Report) -> Vec<SheetChoice> {
    let (Layout::Guide(guide), Some(sheet)) = (project.machine.layout, project.machine.sheet) else {
        return Vec::new();
    };
    let ribs_m = project.frame.as_ref().and_then(|f| f.guide_ribs_m);
    let best = fastest(&report.aims).and_then(|a| a.best());
    let (Some(rib_m), Some(best)) = (ribs_m, best) else {
        return Vec::new();
    };
    let Passage::Thrown(release) = report
        .chain
        .release(&project.machine.setting, best.wheel_radps, false)
    else {
        return Vec::new();
    };
    let piece_n = release.peak_guide_n;
    let radius_m = guide.radius_m(0.5 * project.machine.wheel.diameter_m);
    [
        SheetMaterial::Polycarbonate,
        SheetMaterial::Acrylic,
        SheetMaterial::Corrugated,
    ]
    .map(|material| {
        let span = span_of(project, rib_m, material, sheet.thickness_m);
        let stuff = sheet_stuff(material);
        let strip = CurvedStrip {
            thickness_m: sheet.thickness_m,
            inside_radius_m: radius_m,
            width_m: span.width_m,
            modulus_pa: span.modulus_pa,
            poisson_ratio: POISSON,
        };
        let rule = cold_bend_rule(material);
        let bend = cold_bend(&strip, rule.map_or(f64::NAN, |r| r.least_ratio));
        let give_m_per_n = span_m_per_n(&span);
        SheetChoice {
            material,
            thickness_m: sheet.thickness_m,
            radius_m,
            least_radius_m: rule.map(|_| bend.least_radius_m),
            stress_pa: stuff.modulus_pa * bend.strain_frac,
            holding_nm: bend.holding_nm,
            kept_ratio: metal_springback(radius_m, sheet.thickness_m, stuff.yield_pa, stuff.modulus_pa)
                .formed_ratio,
            give_m: piece_n * give_m_per_n,
            giving: giving_guide(project, &report.chain, best.wheel_radps, give_m_per_n, rib_m),
            enough_m: thickness_for_m(&span, piece_n, GIVE_SHARE * project.squeeze_m()),
            mass_kg: stuff.density_kgpm3 * sheet.thickness_m * span.width_m * radius_m * guide.wrap_rad,
        }
    })
    .to_vec()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A straight law is two springs in a row: F = F0/(1 + c F0/S). A stiff sheet leaves the force, a soft one takes it, and the
    /// squeeze never turns round.
    #[test]
    fn sheet_and_piece_share_the_squeeze_as_springs_in_a_row() {
        let (f0, s, c) = (60.0, 0.012, 1e-4);
        let found = yielding_n(f0, s, c, 1.0);
        assert!((found / (f0 / (1.0 + c * f0 / s)) - 1.0).abs() < 1e-12, "{found}");
        assert!((yielding_n(f0, s, 1e-12, 1.5) / f0 - 1.0).abs() < 1e-6);
        let soft = yielding_n(f0, s, 1.0, 1.5);
        assert!(soft > 0.0 && 1.0 * soft < s);
    }
}
