//! The mechanical setting as a ruler or a tape finds it.

use arcwright_model::launcher::Layout;
use arcwright_model::launcher::outline::outline;
use arcwright_model::project::Project;
use arcwright_model::shot::Chain;
use arcwright_model::units::Dimension as D;
use serde_json::{Value, json};

/// A length to measure.
#[derive(Clone, Debug, PartialEq)]
pub struct Measure {
    /// From where to where.
    pub what: &'static str,
    /// How long it is.
    pub length_m: f64,
}

/// What to measure, the least hidden first. An angle is checked by the place of the end that it moves.
pub fn measures(project: &Project) -> Vec<Measure> {
    let setting = &project.machine.setting;
    let launcher = Chain::of(project).launcher;
    let launcher = &launcher;
    let shape = outline(launcher, setting, project.piece.diameter_m);
    let axle = [0.0, launcher.axle_height_m];
    let m = |what, length_m| Measure { what, length_m };
    match &launcher.layout {
        Layout::Guide(g) => {
            let mut all = if g.entry_relief_m == 0.0 {
                vec![m("wheel to guide", g.gap_m)]
            } else {
                vec![
                    m("wheel to guide at its start", g.gap_at_m(0.0)),
                    m("wheel to guide at its end", g.gap_m),
                ]
            };
            if setting.reach_m > 0.0 {
                let [x, y] = shape.exit_m;
                all.push(m("guide's end to the plate's tip", setting.reach_m));
                all.push(m("plate moved forward from flush", setting.slide_m));
                all.push(m(
                    "plate's tip to the wheel's rim",
                    (x - axle[0]).hypot(y - axle[1]) - launcher.wheel_radius_m,
                ));
                all.push(m("plate's tip above the floor", y));
            }
            all.push(m("axle above the floor", axle[1]));
            all
        }
        Layout::Pair(p) => {
            let mut all = vec![m("between the wheels", p.gap_m)];
            if let Some(upper) = shape.wheels.get(1) {
                all.push(m("upper axle above the floor", upper.centre_m[1]));
                all.push(m("upper axle ahead of the lower", upper.centre_m[0] - axle[0]));
            }
            all.push(m("lower axle above the floor", axle[1]));
            all
        }
    }
}

/// The measures as JSON: what, how long, and in words.
pub fn json(project: &Project) -> Value {
    let all = measures(project);
    let each = all.iter();
    each.map(
        |m| json!({ "what": m.what, "length_m": m.length_m, "says": project.say(m.length_m, D::Length) }),
    )
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::project::{DEMOS, parse};

    fn of(name: &str) -> Project {
        let demo = DEMOS.iter().find(|d| d.name == name).unwrap_or(&DEMOS[0]);
        parse(demo.name, demo.text)
            .unwrap_or_else(|p| panic!("{p:?}"))
            .project
    }

    /// A plate that is flush and not tilted goes on along the tangent, so the axle, the guide's end and the tip make a
    /// right-angled triangle (Euclid, Elements I.47).
    #[test]
    fn the_tip_of_an_untilted_plate_lies_by_pythagoras() {
        let mut project = of("lantern");
        project.machine.setting.tilt_rad = 0.0;
        project.machine.setting.slide_m = 0.0;
        let launcher = Chain::of(&project).launcher;
        let Layout::Guide(g) = launcher.layout else {
            panic!("the demo has a guide")
        };
        let wheel = launcher.wheel_radius_m;
        let expected = (wheel + g.gap_m).hypot(project.machine.setting.reach_m) - wheel;
        let tip = |p: &Project| {
            let all = measures(p);
            all.iter()
                .find(|m| m.what.contains("rim"))
                .map_or(f64::NAN, |m| m.length_m)
        };
        let found = tip(&project);
        assert!((found - expected).abs() < 1e-9, "{found} {expected}");
        // Tilted toward the piece it comes nearer to the wheel: the ruler sees the tilt.
        project.machine.setting.tilt_rad = 0.14;
        assert!(tip(&project) < found - 0.003, "{}", tip(&project));
    }
}
