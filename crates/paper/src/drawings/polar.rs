//! Speed and push of a drive base by direction, seen from above; two bases side by side in one picture.

use arcwright_model::project::UnitSystem;

use super::WIDTH_PX;
use crate::geometry::{Point, usable};
use crate::marks::{TEXT_PX, arrow_head, heading, label_width_px};
use crate::place::fitted;
use crate::style::line_class;
use crate::svg::{Anchor, Svg};
use crate::units::{Scale, Units};

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct PolarPicture {
    /// Units shown.
    pub units: UnitSystem,
    /// The bases.
    pub bases: Vec<PolarBase>,
}

/// One base by direction, evenly around from straight ahead, left positive.
#[derive(Clone, Debug, PartialEq)]
pub struct PolarBase {
    /// Its name.
    pub name: String,
    /// Top speed.
    pub speed_mps: Vec<f64>,
    /// Push.
    pub force_n: Vec<f64>,
}

const TITLE: &str = "Speed and push by direction";
const HEIGHT_PX: f64 = 420.0;
const RADIUS_PX: f64 = 130.0;
const CENTRES_PX: [Point; 2] = [[164.0, 240.0], [476.0, 240.0]];
/// Below this share of the greatest a direction is none.
const NONE_SHARE: f64 = 1e-6;

/// Draws the picture.
pub fn draw(input: &PolarPicture) -> String {
    let units = Units::of(input.units);
    let mut svg = Svg::new("polar", WIDTH_PX, HEIGHT_PX);
    heading(&mut svg, TITLE, "from above, ahead is up; the longer, the more");
    let mut left = 16.0;
    for (i, base) in input.bases.iter().enumerate() {
        let name = fitted(&base.name, TEXT_PX, 250.0);
        svg.line(&line_class(i), [left, 70.0], [left + 26.0, 70.0]);
        svg.text("", [left + 32.0, 75.0], Anchor::Start, &name);
        left += 54.0 + label_width_px(&name);
    }
    type Of = fn(&PolarBase) -> &Vec<f64>;
    let sides: [(&str, &Scale, Of); 2] = [
        ("top speed", &units.speed, |b| &b.speed_mps),
        ("push", &units.force, |b| &b.force_n),
    ];
    for ((what, scale, of), centre) in sides.into_iter().zip(CENTRES_PX) {
        let most = greatest(input.bases.iter().map(of));
        if !(most > 0.0) {
            svg.text("m", centre, Anchor::Middle, &format!("no {what}"));
            continue;
        }
        for share in [0.5, 1.0] {
            svg.circle("g", centre, share * RADIUS_PX);
            let at = [
                centre[0] + 0.72 * share * RADIUS_PX,
                centre[1] + 0.72 * share * RADIUS_PX,
            ];
            svg.text("m sm halo", at, Anchor::Start, &scale.show(share * most));
        }
        svg.line(
            "g",
            [centre[0] - RADIUS_PX, centre[1]],
            [centre[0] + RADIUS_PX, centre[1]],
        );
        svg.line(
            "g",
            [centre[0], centre[1] + RADIUS_PX],
            [centre[0], centre[1] - RADIUS_PX],
        );
        arrow_head(
            &mut svg,
            "qf",
            [centre[0], centre[1] - RADIUS_PX - 12.0],
            [0.0, -1.0],
            9.0,
        );
        for (i, base) in input.bases.iter().enumerate() {
            ring(&mut svg, &line_class(i), centre, of(base), most);
        }
        svg.text(
            "b",
            [centre[0], HEIGHT_PX - 16.0],
            Anchor::Middle,
            &scale.named(what),
        );
    }
    svg.finish(TITLE, &words(input))
}

fn greatest<'a>(all: impl Iterator<Item = &'a Vec<f64>>) -> f64 {
    all.flatten().copied().filter(|v| usable(*v)).fold(0.0, f64::max)
}

/// A closed line through all directions, or a spoke for each direction where only some are there.
fn ring(svg: &mut Svg, class: &str, centre: Point, values: &[f64], most: f64) {
    let at = |i: usize, v: f64| -> Point {
        let angle = i as f64 / values.len() as f64 * std::f64::consts::TAU;
        let r = v / most * RADIUS_PX;
        // The picture's y runs down, and left is to the left of ahead.
        [centre[0] - r * angle.sin(), centre[1] - r * angle.cos()]
    };
    let there = |v: f64| usable(v) && v > NONE_SHARE * most;
    if values.iter().all(|v| there(*v)) {
        let points: Vec<Point> = values.iter().enumerate().map(|(i, v)| at(i, *v)).collect();
        svg.polygon(class, &points);
    } else {
        for (i, v) in values.iter().enumerate().filter(|(_, v)| there(**v)) {
            svg.line(class, centre, at(i, *v));
        }
    }
}

/// The picture in words.
pub fn words(input: &PolarPicture) -> String {
    let units = Units::of(input.units);
    let mut text = format!("{TITLE}.");
    for base in &input.bases {
        let n = base.speed_mps.len().min(base.force_n.len());
        if n == 0 {
            continue;
        }
        let at = |share: usize| {
            let i = n * share / 8;
            match (base.speed_mps.get(i), base.force_n.get(i)) {
                (Some(v), Some(f)) if *v > 0.0 => {
                    format!("{} and {}", units.speed.show(*v), units.force.show(*f))
                }
                _ => "none".to_string(),
            }
        };
        text.push_str(&format!(
            " {}: ahead {}, slantwise {}, to the side {}.",
            base.name.trim(),
            at(0),
            at(1),
            at(2)
        ));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture() -> PolarPicture {
        let spoke = |v: f64| (0..8).map(|i| if i % 4 == 0 { v } else { 0.0 }).collect();
        PolarPicture {
            units: UnitSystem::Metric,
            bases: vec![
                PolarBase {
                    name: "six".into(),
                    speed_mps: spoke(1.5),
                    force_n: spoke(100.0),
                },
                PolarBase {
                    name: "sideways".into(),
                    speed_mps: vec![1.5, 1.06, 1.5, 1.06, 1.5, 1.06, 1.5, 1.06],
                    force_n: vec![75.0, 44.0, 53.0, 44.0, 75.0, 44.0, 53.0, 44.0],
                },
            ],
        }
    }

    #[test]
    fn plain_wheels_have_two_spokes_and_rollers_a_ring() {
        let svg = draw(&picture());
        let said = words(&picture()).replace('\u{a0}', " ");
        assert!(
            said.contains("sideways: ahead 1.5 m/s and 75 N, slantwise 1.06 m/s and 44 N"),
            "{said}"
        );
        assert!(
            said.contains("six: ahead 1.5 m/s and 100 N, slantwise none, to the side none"),
            "{said}"
        );
        // A closed ring in each half; two spokes in each half and the line of the legend.
        assert_eq!(svg.matches("Z\" class=\"s c1 d1\"").count(), 2, "{svg}");
        assert_eq!(svg.matches("class=\"s c0 d0\"").count(), 5, "{svg}");
    }

    #[test]
    fn nothing_to_show_says_so() {
        let mut empty = picture();
        empty.bases.clear();
        assert!(draw(&empty).contains("no push"));
    }
}
