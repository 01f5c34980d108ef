//! Rails on the floor of the chute, which keep the piece in its middle.

use std::f64::consts::PI;

use arcwright_model::feed::hopper::{Hopper, RAIL_RADIUS_M};
use arcwright_model::project::Project;

use super::build::{LEAST_MM, label, rectangle};
use super::hopper::{BESIDE_MM, Plan};
use super::parts::{MM, Shop, common};
use super::{Contour, Edge, Layer, Point, Sheet};

/// Common practice, no source: a jig that slides into the chute, both sides together.
const JIG_PLAY_MM: f64 = 1.0;
/// Height of the jig over the rails.
const JIG_MM: f64 = 30.0;
/// Common practice, no source: from a rail's end to where it is tied down.
const TIE_MM: f64 = 15.0;

/// Two rods on the floor of the chute.
pub(super) struct Rails {
    /// From the middle of the chute to the middle of a rail.
    pub(super) aside: f64,
    radius: f64,
    pub(super) from: f64,
    pub(super) to: f64,
}

impl Rails {
    /// None where none are asked for; in words why they cannot be laid.
    pub(super) fn of(h: &Hopper, plan: &Plan, shop: &Shop) -> Result<Option<Rails>, String> {
        if !(h.rail_gap_m > 0.0) {
            return Ok(None);
        }
        let radius = RAIL_RADIUS_M * MM;
        let rails = Rails {
            aside: 0.5 * h.rail_gap_m * MM + radius,
            radius,
            // As far back as those of the simulation.
            from: 0.25 * h.chute_m * MM,
            to: plan.end,
        };
        let room = plan.chute - 0.5 * JIG_PLAY_MM - LEAST_MM - rails.aside - radius;
        if room < 0.0 || h.rail_gap_m * MM < LEAST_MM + 2.0 * shop.kerf {
            return Err(format!(
                "no rails: {} between them leave no room for a jig in a chute of {}",
                shop.say(h.rail_gap_m * MM),
                shop.say(2.0 * plan.chute)
            ));
        }
        Ok(Some(rails))
    }

    /// Holes for ties on both sides of each rail, near both of its ends.
    pub(super) fn ties(&self, shop: &Shop) -> Vec<Point> {
        let off = self.radius + shop.hole + 1.0;
        let inner = self.aside - off;
        // Where they lie close together, one hole in the middle serves both.
        let across = if inner < shop.hole + 1.0 {
            vec![-self.aside - off, 0.0, self.aside + off]
        } else {
            vec![-self.aside - off, -inner, inner, self.aside + off]
        };
        let ends = [self.from + TIE_MM, self.to - TIE_MM];
        let along = if ends[1] - ends[0] > 4.0 * shop.hole {
            ends.to_vec()
        } else {
            vec![0.5 * (self.from + self.to)]
        };
        along
            .iter()
            .flat_map(|x| across.iter().map(move |y| [*x, *y]))
            .collect()
    }

    /// The rods at full length, and the jig that holds them while they are tied down.
    pub(super) fn sheet(&self, project: &Project, h: &Hopper, plan: &Plan, shop: &Shop) -> Sheet {
        let k = shop.kerf;
        let length = self.to - self.from;
        let half = plan.chute - 0.5 * JIG_PLAY_MM;
        // A bridge that stands on the floor, with an arch over each rail.
        let to = |to_mm: Point| Edge::Line { to_mm };
        let start_mm = [-half - k, -k];
        let mut edges = Vec::new();
        let arch = self.radius - k;
        for side in [-1.0, 1.0] {
            let middle = side * self.aside;
            edges.push(to([middle - arch, -k]));
            edges.push(to([middle - arch, self.radius]));
            edges.push(Edge::Arc {
                centre_mm: [middle, self.radius],
                sweep_rad: -PI,
            });
            edges.push(to([middle + arch, -k]));
        }
        edges.extend([
            to([half + k, -k]),
            to([half + k, JIG_MM + k]),
            to([-half - k, JIG_MM + k]),
            to(start_mm),
        ]);
        let mut contours = vec![Contour {
            layer: Layer::Cut,
            start_mm,
            edges,
            closed: true,
        }];
        let mut labels = vec![label([0.0, 0.6 * JIG_MM], 5.0, "RAIL JIG x 2")];
        // The rods at full length, as they lie side by side in the chute.
        let top = -BESIDE_MM - 2.0 * self.aside;
        for side in [0.0, 1.0] {
            let y = top + 2.0 * self.aside * side;
            contours.push(rectangle(
                Layer::Mark,
                [-half, y - self.radius],
                [-half + length, y + self.radius],
            ));
        }
        labels.push(label(
            [-half + 0.5 * length, top + self.aside - 2.0],
            4.0,
            format!("RAIL x 2, {}", shop.say(length)),
        ));
        let diameter = project.piece.diameter_m;
        let seat = h.seat_m(0.5 * diameter) * MM;
        let mut notes = common(shop, "2 jigs");
        notes.push(format!(
        "Rails: 2 rods of {}, {} long, drawn at full size to be marked off; {} free between them. Round the ends that the piece meets first.",
        shop.say(2.0 * self.radius),
        shop.say(length),
        shop.say(h.rail_gap_m * MM)
    ));
        notes.push(format!(
        "They begin {} beyond the mouth. Stand a jig over both near each end, push it against both walls, tie the rods down through the floor's holes, take the jigs out.",
        shop.say(self.from)
    ));
        notes.push(if seat > 0.5 * diameter * MM + 1e-6 {
            format!(
                "A piece then runs with its middle {} above the floor; set the roller by that.",
                shop.say(seat)
            )
        } else {
            "A piece still touches the floor between them; they only keep it in the middle.".into()
        });
        Sheet {
            name: "chute-rails",
            title: "Rails that centre the piece, and their jig".into(),
            notes,
            contours,
            circles: vec![],
            labels,
        }
    }
}
