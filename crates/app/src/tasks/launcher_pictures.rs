//! Pictures of the launcher: from the side, and the forces along its guide.

use arcwright_model::launcher::guide_quality::guide_quality;
use arcwright_model::launcher::outline::{ElementRole, outline};
use arcwright_model::launcher::{Layout, PassageSample, Release, Setting};
use arcwright_model::project::Project;
use arcwright_model::shot::{Chain, Exit};
use arcwright_paper::drawings::{guide_force, side_view};

use super::throw::Thrown;

/// What the side view gets: the launcher at a setting and a wheel speed, and a passage if there is one.
pub(super) fn side_of(
    project: &Project,
    chain: &Chain,
    setting: &Setting,
    wheel_radps: f64,
    passage: Option<(&Exit, &[PassageSample])>,
) -> side_view::SideView {
    let shape = outline(&chain.launcher, setting, project.piece.diameter_m);
    let upper = match chain.launcher.layout {
        Layout::Guide(_) => 0.0,
        // The upper wheel of a pair turns the other way.
        Layout::Pair(p) => -p.upper_speed_ratio * wheel_radps,
    };
    let wheels = shape
        .wheels
        .iter()
        .zip([wheel_radps, upper])
        .map(|(w, turning_radps)| side_view::Wheel {
            centre_m: w.centre_m,
            radius_m: w.radius_m,
            turning_radps,
        })
        .collect();
    let mut parts: Vec<side_view::Part> = Vec::new();
    for e in &shape.elements {
        let role = match e.role {
            ElementRole::Ramp => side_view::Role::Ramp,
            ElementRole::Guide => side_view::Role::Guide,
            ElementRole::Bend | ElementRole::Hood => side_view::Role::Hood,
        };
        // Bend and plate are one part to a person.
        match parts.last_mut() {
            Some(last) if last.role == role => last.line_m.extend(e.polyline_m().into_iter().skip(1)),
            _ => parts.push(side_view::Part {
                role,
                line_m: e.polyline_m(),
            }),
        }
    }
    side_view::SideView {
        units: project.units,
        wheels,
        parts,
        piece_diameter_m: project.piece.diameter_m,
        trace: passage.map_or_else(Vec::new, |p| p.1.to_vec()),
        setting: *setting,
        exit: passage.map(|(e, _)| side_view::Exit {
            speed_mps: e.speed_mps,
            angle_rad: e.angle_rad,
            spin_radps: e.spin_radps,
        }),
    }
}

/// Forces and slip of a release along the guide.
pub(super) fn force_of(project: &Project, chain: &Chain, release: &Release) -> String {
    let (gap_m, pair) = match chain.launcher.layout {
        Layout::Guide(g) => (g.gap_m, false),
        Layout::Pair(p) => (p.gap_m, true),
    };
    let squeeze_m = project.piece.diameter_m - gap_m;
    guide_force::draw(&guide_force::GuideForce {
        units: project.units,
        trace: release.trace.clone(),
        peak_n: release.peak_guide_n,
        pair,
        steady: Some(guide_force::SteadySqueeze {
            squeeze_m,
            force_n: arcwright_model::launcher::planar::press_force(&chain.body, squeeze_m),
        }),
        squeeze: (chain.launcher.guide_error.is_stated())
            .then(|| guide_quality(&chain.launcher, &chain.body, &release.trace))
            .flatten()
            .map(|q| guide_force::SqueezeAlong::of(&q, &chain.launcher)),
    })
}

/// The launcher with the piece passing through.
pub fn side(project: &Project, t: &Thrown) -> String {
    side_view::draw(&side_input(project, t))
}

/// The launcher alone, at a wheel speed at which no piece comes through.
pub fn side_empty(project: &Project, wheel_radps: f64) -> side_view::SideView {
    side_of(
        project,
        &Chain::of(project),
        &project.machine.setting,
        wheel_radps,
        None,
    )
}

/// What the picture of a throw is drawn from, and where it can be taken hold of.
pub fn side_input(project: &Project, t: &Thrown) -> side_view::SideView {
    side_of(
        project,
        &t.chain,
        &t.setting,
        t.wheel_radps,
        Some((&t.exit, &t.release.trace)),
    )
}

/// Forces and slip along the guide.
pub fn force(project: &Project, t: &Thrown) -> String {
    force_of(project, &t.chain, &t.release)
}
