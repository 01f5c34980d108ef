//! The parts of a wheel pair: plates that hold both axles, the ramp between them, a guard for each wheel.

use std::f64::consts::{FRAC_PI_2, PI};

use arcwright_model::launcher::outline::{ElementRole, Outline, Shape};
use arcwright_model::project::Project;

use super::build::{arc_slot, cross, hole, label, line, number, rectangle, sheet_slot, ticks};
use super::parts::{DEG, GUARD_ROOM_MM, LEAST_GUARD_RAD, MM, SPINNING, Shop, common, mark, of_sheet, strip};
use super::{Circle, Layer, Point, Sheet, polar};

/// Physical: free space between a guard or a wheel and the ramp.
const CLEAR_MM: f64 = 3.0;
/// Judgement: a guard over more than this cannot be put around the wheel.
const MOST_GUARD_RAD: f64 = 340.0 * DEG;
/// Where the clamp of the tilt stands as the plate sees it: behind the lower wheel, below the ramp.
const CLAMP_RAD: f64 = 200.0 * DEG;

/// The pair as the plate lies on the table: the throw goes to the right, the lower axle is the origin.
pub(super) struct Pair {
    wheel: f64,
    axles: Vec<Point>,
    /// The piece's way between the wheels.
    from: Point,
    to: Point,
    piece: f64,
    /// Upper face of the ramp, back end and front end.
    ramp: [Point; 2],
    /// Half the angle over which a guard goes around its wheel.
    guard: f64,
    /// Radius and angles of the slot of the tilt, least and greatest tilt.
    tilt: Option<(f64, [f64; 2])>,
}

impl Pair {
    pub(super) fn of(project: &Project, shop: &Shop, shape: &Outline) -> Pair {
        let origin = shape.wheels.first().map_or([0.0; 2], |w| w.centre_m);
        let f = shape.exit_direction;
        let seen = |p: [f64; 2]| -> Point {
            let [x, y] = [(p[0] - origin[0]) * MM, (p[1] - origin[1]) * MM];
            [x * f[0] + y * f[1], y * f[0] - x * f[1]]
        };
        let wheel = shape.wheels.first().map_or(0.0, |w| w.radius_m * MM);
        let mut ramp = [[0.0; 2]; 2];
        for element in &shape.elements {
            if let (ElementRole::Ramp, Shape::Line { from_m, to_m }) = (element.role, element.shape) {
                ramp = [seen(from_m), seen(to_m)];
            }
        }
        // Where its front end would meet the wheel it is cut off before.
        let level = ramp[1][1];
        let near = level.abs().min((level - shop.sheet).abs());
        let room = (wheel + CLEAR_MM).powi(2) - near * near;
        ramp[1][0] = ramp[1][0].min(-room.max(0.0).sqrt());
        let outer = wheel + GUARD_ROOM_MM + shop.sheet;
        // Straight down from the axle a guard begins; it ends below the ramp on one side, and as high on the other.
        let top = level - shop.sheet - CLEAR_MM;
        let guard = (-top / outer).clamp(-1.0, 1.0).acos().min(0.5 * MOST_GUARD_RAD);
        let tilt = project.machine.knobs.tilt.and_then(|t| {
            let radius = outer + 4.0 * shop.hole + 8.0;
            let half = 0.5 * (t.high - t.low);
            let ends = [CLAMP_RAD - half, CLAMP_RAD + half];
            // Numbers stand outside the slot.
            let highest = (radius + 2.0 * shop.hole + 12.0) * ends[0].sin();
            (half > 1e-6 && highest < top && half < FRAC_PI_2).then_some((radius, [t.low, t.high]))
        });
        Pair {
            wheel,
            axles: shape.wheels.iter().map(|w| seen(w.centre_m)).collect(),
            from: seen(shape.start_m),
            to: seen(shape.exit_m),
            piece: 0.5 * project.piece.diameter_m * MM,
            ramp,
            guard,
            tilt,
        }
    }

    fn guard_inner(&self) -> f64 {
        self.wheel + GUARD_ROOM_MM
    }

    fn has_guard(&self) -> bool {
        2.0 * self.guard > LEAST_GUARD_RAD
    }

    /// In words, what is left out.
    pub(super) fn left_out(&self, project: &Project) -> Vec<String> {
        let mut out = Vec::new();
        if !self.has_guard() {
            out.push("no wheel guards: the piece's way leaves them no room; build a cover around the whole launcher".into());
        }
        let turns = project.machine.knobs.tilt.is_some_and(|t| t.high > t.low);
        if turns && self.tilt.is_none() {
            out.push("no slot for the tilt: there is no room for it behind the lower wheel".into());
        }
        out
    }

    /// All parts but the gauges.
    pub(super) fn sheets(&self, project: &Project, shop: &Shop) -> Vec<Sheet> {
        let mut out = vec![self.plate(project, shop), self.ramp_sheet(shop)];
        if self.has_guard() {
            out.push(self.guard_strip(shop));
        }
        out
    }

    /// Plate that holds both axles, the ramp and the guards.
    fn plate(&self, project: &Project, shop: &Shop) -> Sheet {
        let k = shop.kerf;
        let mut contours = Vec::new();
        let mut circles = Vec::new();
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        let mut take = |p: Point, room: f64| {
            for i in 0..2 {
                low[i] = low[i].min(p[i] - room);
                high[i] = high[i].max(p[i] + room);
            }
        };
        for at in &self.axles {
            take(*at, self.guard_inner() + shop.sheet + shop.margin);
            circles.push(Circle {
                layer: Layer::Mark,
                centre_mm: *at,
                radius_mm: self.wheel,
            });
            match project.cut.axle_hole_m {
                Some(d) => circles.push(hole(*at, 0.5 * d * MM - k)),
                None => contours.extend(cross(*at, 8.0)),
            }
        }
        take(self.ramp[0], shop.margin);
        contours.push(rectangle(
            Layer::Cut,
            [low[0] - k, low[1] - k],
            [high[0] + k, high[1] + k],
        ));
        let [back, front] = self.ramp;
        contours.push(rectangle(
            Layer::Cut,
            [back[0] + k, back[1] - shop.sheet + k],
            [front[0] - k, front[1] - k],
        ));
        if self.has_guard() {
            let trim = k / self.guard_inner();
            let radii = [self.guard_inner() + k, self.guard_inner() + shop.sheet - k];
            // Down from the lower axle, up from the upper.
            for (at, middle) in self.axles.iter().zip([-FRAC_PI_2, FRAC_PI_2]) {
                let ends = [middle - self.guard + trim, middle + self.guard - trim];
                contours.push(sheet_slot(*at, radii, ends));
            }
        }
        for side in [-self.piece, self.piece] {
            contours.push(line(
                Layer::Mark,
                [self.from[0], self.from[1] + side],
                [high[0], self.to[1] + side],
            ));
        }
        let inset = 0.5 * shop.margin;
        if inset > shop.hole + 1.0 {
            for y in [low[1] + inset, high[1] - inset] {
                let count = ((high[0] - low[0] - 2.0 * inset) / shop.pitch)
                    .floor()
                    .clamp(0.0, 200.0) as usize;
                let first = 0.5 * (low[0] + high[0] - shop.pitch * count as f64);
                for i in 0..=count {
                    circles.push(hole([first + shop.pitch * i as f64, y], shop.hole - k));
                }
            }
        }
        let mut labels = vec![
            label([0.5 * (back[0] + front[0]), back[1] + 4.0], 3.5, "ramp"),
            label(
                [0.5 * (back[0] + front[0]), back[1] + 0.5 * self.piece],
                6.0,
                "SIDE PLATE",
            ),
        ];
        let mut notes = common(shop, "2, one of them turned over");
        notes.push(format!(
            "Holds both axles, {} apart; plates stand {} apart. The throw goes to the right; the two long lines are the piece, the dashed circles the wheels.",
            shop.say(self.apart()),
            shop.say(shop.inside)
        ));
        notes.push("The ramp's sheet stands in the straight slot, its upper face at the slot's upper side; the guards stand in the round ones.".into());
        notes.push(SPINNING.into());
        if let Some((radius, [least, most])) = self.tilt {
            let half = 0.5 * (most - least);
            contours.push(arc_slot(
                [0.0; 2],
                radius,
                [CLAMP_RAD - half, CLAMP_RAD + half],
                shop.hole - k,
            ));
            let step = project.machine.knobs.tilt.map_or(0.0, |t| t.step);
            for tick in ticks([least, most], step, radius + 2.0 * shop.hole, DEG) {
                let a = self.clamp_rad(tick.value);
                let at = polar([0.0; 2], radius, a);
                mark(&mut contours, &mut labels, at, a, shop.hole, &tick);
            }
            let a = self.clamp_rad(least);
            let [x, y] = polar([0.0; 2], radius, a);
            notes.push(format!(
                "The plates turn about the lower axle. A bolt fixed to the frame clamps them through the round slot behind the wheel; its middle stands at the tilt in degrees. Place it with the plates at {} deg: {} behind the axle along the throw, {} below it square to the throw.",
                number(least / DEG),
                shop.say(-x),
                shop.say(-y)
            ));
        }
        Sheet {
            name: "side-plate",
            title: "Side plate of the wheel pair".into(),
            notes,
            contours,
            circles,
            labels,
        }
    }

    /// Where on the plate a bolt fixed to the frame stands at a tilt: the plate turns down, the bolt seems to turn up behind.
    fn clamp_rad(&self, tilt: f64) -> f64 {
        let middle = self.tilt.map_or(0.0, |(_, [least, most])| 0.5 * (least + most));
        CLAMP_RAD + tilt - middle
    }

    /// Distance between the axles.
    fn apart(&self) -> f64 {
        match self.axles[..] {
            [a, b, ..] => (b[0] - a[0]).hypot(b[1] - a[1]),
            _ => 0.0,
        }
    }

    fn ramp_sheet(&self, shop: &Shop) -> Sheet {
        let length = self.ramp[1][0] - self.ramp[0][0];
        Sheet {
            name: "ramp",
            title: "Ramp between the side plates, flat".into(),
            notes: vec![
                format!("Cut 1. {}", of_sheet(shop, "sheet")),
                "Both long edges stand in the straight slots through the side plates. Round the edge at which the piece comes in.".into(),
            ],
            ..strip(shop, length, Layer::Mark, "RAMP")
        }
    }

    fn guard_strip(&self, shop: &Shop) -> Sheet {
        let length = 2.0 * self.guard * (self.guard_inner() + 0.5 * shop.sheet);
        Sheet {
            name: "wheel-guard",
            title: "Guard around the open side of each wheel, flat".into(),
            notes: vec![
                format!("Cut 2, one for each wheel. {}", of_sheet(shop, "sheet")),
                format!(
                    "Rolled over {} deg to an inner radius of {}, {} clear of the wheel; the edges stand in the round slots of the side plates. They end beside the piece's way: those openings stay dangerous, keep hands away.",
                    number(2.0 * self.guard * 180.0 / PI),
                    shop.say(self.guard_inner()),
                    shop.say(GUARD_ROOM_MM)
                ),
            ],
            ..strip(shop, length, Layer::Bend, "WHEEL GUARD")
        }
    }
}
