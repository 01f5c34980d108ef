//! The hopper: floor, walls, plates put in and the rails of its chute, from the numbers that the feed is played with.

use std::f64::consts::PI;

use arcwright_model::feed::hopper::Hopper;
use arcwright_model::project::Project;

use super::build::{LEAST_MM, cross, drill, grown, label, label_within, line, number, polygon, rectangle};
use super::parts::{DEG, MM, Shop, common};
use super::rails::Rails;
use super::{Circle, Contour, Edge, Label, Layer, Point, Sheet, polar};

/// Space between two parts on one sheet.
pub(super) const BESIDE_MM: f64 = 20.0;
/// Rounding: corners nearer than this are one.
const SAME_MM: f64 = 1e-6;
/// Method: the rounding of a floor that slopes to the sides is no arc; points this far apart follow it to a hundredth of a millimetre.
const STEP_RAD: f64 = 2.0 * DEG;

/// The hopper's numbers, millimetres. Names as in [`Hopper`]; widths are halves.
pub(super) struct Plan {
    length: f64,
    half: f64,
    pub(super) chute: f64,
    /// Length of the part that narrows.
    narrows: f64,
    /// Angle of the walls that narrow, from the direction of the chute.
    funnel: f64,
    fillet: f64,
    /// How far the rounding runs along the two walls beside it.
    cut: f64,
    /// Length of a wall that narrows, without the rounding.
    slant: f64,
    side_slope: f64,
    bend: f64,
    wall: f64,
    /// From the mouth to where the floor of the chute is cut off: a piece's radius beyond the roller.
    pub(super) end: f64,
}

impl Plan {
    /// In words, what cannot be cut from these numbers.
    fn of(h: &Hopper, diameter: f64, shop: &Shop) -> Result<Plan, String> {
        let funnel = h.funnel_rad;
        let plan = Plan {
            length: h.length_m * MM,
            half: 0.5 * h.width_m * MM,
            chute: 0.5 * h.chute_width_m * MM,
            narrows: h.funnel_m() * MM,
            funnel,
            fillet: h.fillet_m * MM,
            cut: h.fillet_m * MM * (0.5 * funnel).tan(),
            slant: 0.5 * (h.width_m - h.chute_width_m) * MM / funnel.sin(),
            side_slope: h.side_slope_rad,
            bend: h.bend_rad,
            wall: h.wall_m * MM,
            end: (h.chute_m * MM + 0.5 * diameter).min(h.end_m() * MM),
        };
        if !(plan.half > plan.chute) || plan.narrows > plan.length {
            return Err("no hopper: it has no room for the part that narrows".into());
        }
        if plan.cut > plan.slant || plan.cut > plan.end {
            return Err(format!(
                "no hopper: its mouth cannot be rounded to {}, the walls beside it are too short",
                shop.say(plan.fillet)
            ));
        }
        Ok(plan)
    }

    /// Half the free width of the floor at the mouth, where its rounding has begun.
    fn mouth(&self) -> f64 {
        self.chute + self.fillet - (self.fillet * self.fillet - self.cut * self.cut).max(0.0).sqrt()
    }

    fn round_centre(&self) -> Point {
        [self.cut, self.chute + self.fillet]
    }

    /// Half the floor from a place of its rounding (an angle from the chute's wall on) to its far left corner.
    fn left_side(&self, from_rad: f64) -> Vec<Point> {
        let count = ((self.funnel - from_rad) / STEP_RAD).ceil().max(1.0) as usize;
        let mut out = Vec::new();
        if self.fillet > 0.0 {
            for i in 0..=count {
                let a = from_rad + (self.funnel - from_rad) * i as f64 / count as f64;
                out.push(polar(self.round_centre(), self.fillet, -0.5 * PI - a));
            }
        } else {
            out.push([0.0, self.chute]);
        }
        out.push([-self.narrows, self.half]);
        out.push([-self.length, self.half]);
        // Where a wall has no length left its two corners are one.
        out.dedup_by(|b, a| (b[0] - a[0]).hypot(b[1] - a[1]) < SAME_MM);
        out
    }

    /// Where along its rounding the mouth lies.
    fn mouth_rad(&self) -> f64 {
        if self.fillet > 0.0 {
            (self.cut / self.fillet).clamp(-1.0, 1.0).asin().min(self.funnel)
        } else {
            0.0
        }
    }

    /// Places of the kit's holes along the edge at the back, from its middle, as it is laid flat; none on the fold.
    fn back_row(&self, shop: &Shop) -> Vec<f64> {
        let mut out = row(2.0 * self.half * self.widened(), shop);
        out.retain(|y| self.side_slope == 0.0 || y.abs() > shop.hole + 5.0);
        out
    }

    /// Places of the kit's holes along the wall that narrows, as shares of its whole way from the wide end to the sharp
    /// corner of the mouth.
    fn funnel_row(&self, shop: &Shop) -> Vec<f64> {
        let straight = self.slant - self.cut;
        let each = row(straight, shop).into_iter();
        each.map(|x| (0.5 * straight + x) / self.slant).collect()
    }

    /// Places of the kit's holes along the chute, from the mouth.
    fn chute_row(&self, shop: &Shop) -> Vec<f64> {
        let each = row(self.end - self.cut, shop).into_iter();
        each.map(|x| 0.5 * (self.cut + self.end) + x).collect()
    }

    /// Widening of the sloping halves when they are laid flat.
    fn widened(&self) -> f64 {
        1.0 / self.side_slope.cos()
    }
}

/// The other half of a floor's edge, so that both together run around it counterclockwise.
fn both_sides(left: &[Point]) -> Vec<Point> {
    let right = left.iter().rev().map(|p| [p[0], -p[1]]);
    left.iter().copied().chain(right).collect()
}

/// Parts of the hopper, and in words what of it is left out. Nothing of either without a feed.
pub(super) fn parts(project: &Project, shop: &Shop) -> (Vec<Sheet>, Vec<String>) {
    let Some(h) = project.feed.map(|f| f.hopper) else {
        let none = "no hopper and no rails: [feed] is not in the file";
        return (Vec::new(), vec![none.into()]);
    };
    let plan = match Plan::of(&h, project.piece.diameter_m * MM, shop) {
        Ok(plan) => plan,
        Err(why) => return (Vec::new(), vec![why]),
    };
    let mut left_out = Vec::new();
    let rails = Rails::of(&h, &plan, shop).unwrap_or_else(|why| {
        left_out.push(why);
        None
    });
    let mut out = vec![floor(&h, &plan, shop, rails.as_ref()), walls(&plan, shop)];
    if h.plates.count() > 0 {
        out.push(plates(&h, shop));
    }
    if let Some(rails) = &rails {
        out.push(rails.sheet(project, &h, &plan, shop));
    }
    (out, left_out)
}

/// Places of the kit's holes along an edge, from its middle.
fn row(length: f64, shop: &Shop) -> Vec<f64> {
    let room = length - 2.0 * shop.margin;
    if !(room >= 0.0) || 0.5 * shop.margin < shop.hole + 1.0 {
        return Vec::new();
    }
    let count = (room / shop.pitch).floor().clamp(0.0, 200.0) as usize;
    (0..=count)
        .map(|i| shop.pitch * (i as f64 - 0.5 * count as f64))
        .collect()
}

fn floor(h: &Hopper, plan: &Plan, shop: &Shop, rails: Option<&Rails>) -> Sheet {
    let k = shop.kerf;
    let sloped = plan.side_slope > 0.0;
    let wide = plan.widened();
    let mut contours = Vec::new();
    // The chute's floor lies apart where the hopper's slopes to the sides and cannot go on into it.
    let apart = if sloped { BESIDE_MM } else { 0.0 };
    if sloped {
        let left: Vec<Point> = plan
            .left_side(plan.mouth_rad())
            .iter()
            .map(|p| [p[0], wide * p[1]])
            .collect();
        contours.push(polygon(Layer::Cut, &grown(&both_sides(&left), k)));
        contours.push(line(Layer::Bend, [-plan.length, 0.0], [0.0, 0.0]));
        let mut left = vec![[plan.end, plan.chute]];
        if plan.fillet > 0.0 {
            let count = (plan.mouth_rad() / STEP_RAD).ceil().max(1.0) as usize;
            left.extend((0..=count).map(|i| {
                let a = plan.mouth_rad() * i as f64 / count as f64;
                polar(plan.round_centre(), plan.fillet, -0.5 * PI - a)
            }));
        } else {
            left.push([0.0, plan.chute]);
        }
        let chute: Vec<Point> = both_sides(&left).iter().map(|p| [p[0] + apart, p[1]]).collect();
        contours.push(polygon(Layer::Cut, &grown(&chute, k)));
    } else {
        contours.push(flat_floor(plan, k));
        if plan.bend != 0.0 {
            let m = plan.mouth();
            contours.push(line(Layer::Bend, [0.0, -m], [0.0, m]));
        }
    }
    let mut circles: Vec<Circle> = Vec::new();
    let inset = 0.5 * shop.margin;
    let straight = plan.length - plan.narrows;
    if let Some(rails) = rails {
        for at in rails.ties(shop) {
            drill(&contours, &mut circles, [at[0] + apart, at[1]], shop.hole - k);
        }
    }
    for y in plan.back_row(shop) {
        drill(&contours, &mut circles, [-plan.length + inset, y], shop.hole - k);
    }
    for side in [-1.0, 1.0] {
        let mut one = |x: f64, y: f64| drill(&contours, &mut circles, [x, side * y], shop.hole - k);
        for along in row(straight, shop) {
            one(-plan.length + 0.5 * straight + along, plan.half * wide - inset);
        }
        // Beside the edge that narrows, at the same shares of it as in its wall.
        let deep = wide * (plan.half - plan.chute);
        let edge = plan.narrows.hypot(deep);
        for share in plan.funnel_row(shop) {
            one(
                (share - 1.0) * plan.narrows - inset * deep / edge,
                plan.half * wide - share * deep - inset * plan.narrows / edge,
            );
        }
        for x in plan.chute_row(shop) {
            one(x + apart, plan.chute - inset);
        }
    }
    let mut labels: Vec<Label> = vec![
        label([-0.5 * plan.length, 0.45 * plan.half], 6.0, "HOPPER FLOOR"),
        label(
            [-0.5 * plan.length, 0.45 * plan.half - 9.0],
            4.0,
            "upper face, launcher to the right",
        ),
        label([-plan.length + inset + 16.0, -0.5 * plan.half], 3.5, "BACK"),
        label(
            [-plan.length + 0.5 * straight, plan.half * wide - inset - 12.0],
            3.5,
            "SIDE",
        ),
        label(
            [-plan.length + 0.5 * straight, -plan.half * wide + inset + 8.0],
            3.5,
            "SIDE",
        ),
        label(
            [
                -0.5 * plan.narrows - inset - 22.0,
                0.5 * (plan.half + plan.chute) * wide - inset - 4.0,
            ],
            3.5,
            "FUNNEL",
        ),
        label(
            [
                -0.5 * plan.narrows - inset - 22.0,
                -0.5 * (plan.half + plan.chute) * wide + inset,
            ],
            3.5,
            "FUNNEL",
        ),
        label([0.5 * plan.end + apart, plan.chute - inset - 9.0], 3.5, "CHUTE"),
        label([0.5 * plan.end + apart, -plan.chute + inset + 5.0], 3.5, "CHUTE"),
    ];
    if sloped {
        let each = format!("fold, each side {} deg up", number(plan.side_slope / DEG));
        labels.push(label([-0.5 * plan.length, 2.0], 3.0, each));
        for x in [-10.0, apart + 10.0] {
            labels.push(label([x, -0.5 * plan.chute], 3.0, "MOUTH"));
        }
    } else if plan.bend != 0.0 {
        let way = if plan.bend > 0.0 { "down" } else { "up" };
        let text = format!("bend {} deg {way}", number(plan.bend.abs() / DEG));
        labels.push(label([24.0, -0.5 * plan.chute], 3.0, text));
    }
    if plan.fillet > 0.0 {
        let [x, y] = plan.round_centre();
        for side in [-1.0, 1.0] {
            circles.push(Circle {
                layer: Layer::Mark,
                centre_mm: [x + apart, side * y],
                radius_mm: plan.fillet,
            });
        }
    }
    let roller = h.roller.map(|_| h.chute_m * MM);
    if let Some(x) = roller.filter(|x| *x > 0.0 && *x < plan.end) {
        contours.push(line(
            Layer::Mark,
            [x + apart, -plan.chute],
            [x + apart, plan.chute],
        ));
        labels.push(label([x + apart - 14.0, -2.0], 3.0, "roller above"));
    }
    if let Some(s) = &h.stirrer {
        let [x, y] = s.hub_m();
        let at = [x * MM, y * MM * wide];
        contours.extend(cross(at, 6.0));
        circles.push(Circle {
            layer: Layer::Mark,
            centre_mm: at,
            radius_mm: s.radii_m()[1] * MM,
        });
        labels.push(label(
            [at[0], at[1] - s.radii_m()[1] * MM - 6.0],
            3.0,
            "stirrer's shaft",
        ));
    }
    if let Some(rails) = rails {
        for side in [-1.0, 1.0] {
            let y = side * rails.aside;
            contours.push(line(Layer::Mark, [rails.from + apart, y], [rails.to + apart, y]));
        }
    }
    Sheet {
        name: "hopper-floor",
        title: "Hopper floor, flat".into(),
        notes: floor_notes(h, plan, shop, rails.is_some()),
        contours,
        circles,
        labels,
    }
}

fn floor_notes(h: &Hopper, plan: &Plan, shop: &Shop, has_rails: bool) -> Vec<String> {
    let deg = |a: f64| number(a.abs() / DEG);
    let mut notes = common(shop, "1");
    notes.push(format!(
        "Seen from above. Fasten it {} deg down toward the launcher. The walls stand outside its edges, each against the edge that has its name; countersink what is screwed from above.",
        deg(h.slope_rad)
    ));
    if plan.side_slope > 0.0 {
        notes.push(format!(
            "Fold the hopper's half along the middle so that each side rises {} deg to its wall, or cut it there and join. The floor of the chute is a piece of its own and stays flat; at the mouth it lies level with the fold.",
            deg(plan.side_slope)
        ));
    }
    if plan.bend != 0.0 {
        let way = if plan.bend > 0.0 { "down" } else { "up" };
        let how = if plan.side_slope > 0.0 {
            "The floor of the chute goes on from the mouth"
        } else {
            "Bend the chute along the line at the mouth"
        };
        notes.push(format!("{how} {} deg farther {way}.", deg(plan.bend)));
    }
    if plan.fillet > 0.0 {
        notes.push(format!(
            "The dashed circles beside the mouth are posts, round bar or tube of {}, square to the floor; the walls beside them end where they touch.",
            shop.say(2.0 * plan.fillet)
        ));
    }
    notes.push(format!(
        "The chute is cut {} beyond the mouth, half a piece past the roller; join your launcher's ramp there without a step.",
        shop.say(plan.end)
    ));
    if has_rails {
        notes.push(
            "Rails lie on the marked lines of the chute, tied through the holes beside them; see the sheet of the rails."
                .into(),
        );
    }
    notes
}

/// Floor of hopper and chute in one, with true arcs at the mouth.
fn flat_floor(plan: &Plan, k: f64) -> Contour {
    let half_turn = (0.5 * plan.funnel).tan();
    let (far, side, chute) = (plan.length + k, plan.half + k, plan.chute + k);
    let shoulder = -plan.narrows + k * half_turn;
    let to = |to_mm: Point| Edge::Line { to_mm };
    let start_mm = [plan.end + k, -chute];
    let mut edges = vec![to([plan.end + k, chute])];
    // The cutter goes outside the floor, so that the rounding is drawn smaller.
    let radius = plan.fillet - k;
    let [x, y] = plan.round_centre();
    let touch = [x - radius * plan.funnel.sin(), y - radius * plan.funnel.cos()];
    let round = radius > 0.0;
    if round {
        edges.push(to([x, chute]));
        edges.push(Edge::Arc {
            centre_mm: [x, y],
            sweep_rad: -plan.funnel,
        });
    } else {
        edges.push(to([k * half_turn, chute]));
    }
    let around = [[shoulder, side], [-far, side], [-far, -side], [shoulder, -side]];
    edges.extend(around.map(to));
    if round {
        edges.push(to([touch[0], -touch[1]]));
        edges.push(Edge::Arc {
            centre_mm: [x, -y],
            sweep_rad: -plan.funnel,
        });
    } else {
        edges.push(to([k * half_turn, -chute]));
    }
    edges.push(to(start_mm));
    Contour {
        layer: Layer::Cut,
        start_mm,
        edges,
        closed: true,
    }
}

/// Panels are laid one above the other; each is drawn once, seen from outside.
fn walls(plan: &Plan, shop: &Shop) -> Sheet {
    let (k, t, inset) = (shop.kerf, shop.plate, 0.5 * shop.margin);
    // The foot lies below the floor's upper face by its thickness.
    let height = plan.wall + t;
    let rise = plan.side_slope.tan();
    let mut contours: Vec<Contour> = Vec::new();
    let mut circles: Vec<Circle> = Vec::new();
    let mut labels: Vec<Label> = Vec::new();
    let mut low = 0.0;
    let straight = plan.length - plan.narrows;
    let mut panel = |name: &str, corners: &[Point], floor: &[Point], holes: &[Point]| {
        let up = |p: &Point| [p[0], p[1] + low];
        let corners: Vec<Point> = corners.iter().map(up).collect();
        contours.push(polygon(Layer::Cut, &grown(&corners, k)));
        let meets: Vec<Point> = floor.iter().map(up).collect();
        for pair in meets.windows(2) {
            if let [a, b] = pair {
                contours.push(line(Layer::Mark, *a, *b));
            }
        }
        for at in holes.iter().map(up) {
            drill(&contours, &mut circles, at, shop.hole - k);
        }
        let middle = 0.5
            * (corners.iter().map(|p| p[0]).fold(f64::INFINITY, f64::min)
                + corners.iter().map(|p| p[0]).fold(f64::NEG_INFINITY, f64::max));
        labels.push(label([middle, low + t + 0.6 * plan.wall], 6.0, name));
        low += height + BESIDE_MM;
    };
    // Behind the ends of the side walls.
    let back = plan.half + t;
    let wide = plan.widened();
    let holes: Vec<Point> = plan
        .back_row(shop)
        .into_iter()
        .map(|s| [back + s / wide, t + inset + s.abs() * plan.side_slope.sin()])
        .collect();
    panel(
        "BACK x 1",
        &[[0.0, 0.0], [2.0 * back, 0.0], [2.0 * back, height], [0.0, height]],
        &[
            [t, t + plan.half * rise],
            [back, t],
            [2.0 * back - t, t + plan.half * rise],
        ],
        &holes,
    );
    if straight > LEAST_MM {
        let at = t + plan.half * rise;
        let holes: Vec<Point> = row(straight, shop)
            .into_iter()
            .map(|x| [0.5 * straight + x, at + inset])
            .collect();
        panel(
            "SIDE x 2",
            &[[0.0, 0.0], [straight, 0.0], [straight, height], [0.0, height]],
            &[[0.0, at], [straight, at]],
            &holes,
        );
    }
    let slant = plan.slant - plan.cut;
    if slant > LEAST_MM {
        let aside = |share: f64| plan.half + (plan.chute - plan.half) * share;
        let near = aside(slant / plan.slant);
        let holes: Vec<Point> = plan
            .funnel_row(shop)
            .into_iter()
            .map(|share| [share * plan.slant, t + inset + aside(share) * rise])
            .collect();
        panel(
            "FUNNEL x 2",
            &[[0.0, 0.0], [slant, 0.0], [slant, height], [0.0, height]],
            &[[0.0, t + plan.half * rise], [slant, t + near * rise]],
            &holes,
        );
    }
    let chute = chute_wall(plan, t);
    let holes: Vec<Point> = plan.chute_row(shop).into_iter().map(|x| [x, t + inset]).collect();
    panel("CHUTE x 2", &chute, &[[plan.cut, t], [plan.end, t]], &holes);
    let mut notes = common(shop, "BACK and 2 of each other panel, one of them turned over");
    notes.push("The thin line is where the upper face of the floor meets the wall; what is below it covers the floor's edge.".into());
    notes.push(format!(
        "BACK closes behind both SIDE walls. FUNNEL stands {} deg from the direction of the chute. Round the upper edges; hands reach in there.",
        number(plan.funnel / DEG)
    ));
    if plan.bend != 0.0 {
        notes.push("The slanting end of CHUTE is at the mouth and meets FUNNEL.".into());
    }
    Sheet {
        name: "hopper-walls",
        title: "Walls of hopper and chute".into(),
        notes,
        contours,
        circles,
        labels,
    }
}

/// Wall of the chute along its floor, its first edge that of the wall before it, its foot under the floor.
fn chute_wall(plan: &Plan, t: f64) -> Vec<Point> {
    let (sin, cos) = plan.bend.sin_cos();
    let head = [plan.cut * cos - plan.wall * sin, plan.cut * sin + plan.wall * cos];
    // Along the first edge, which goes through the corner of floor and wall.
    let lean = (head[0] - plan.cut) / head[1];
    let at = |z: f64| plan.cut + lean * z;
    if at(plan.wall) < plan.end - LEAST_MM {
        vec![
            [at(-t), 0.0],
            [plan.end, 0.0],
            [plan.end, plan.wall + t],
            [at(plan.wall), plan.wall + t],
        ]
    } else {
        // Rising so steeply that the first edge meets the end.
        let top = (plan.end - plan.cut) / lean;
        vec![[at(-t), 0.0], [plan.end, 0.0], [plan.end, top + t]]
    }
}

fn plates(h: &Hopper, shop: &Shop) -> Sheet {
    let k = shop.kerf;
    let mut contours = Vec::new();
    let mut labels = Vec::new();
    let mut notes = common(shop, "1 of each");
    let mut low = 0.0;
    for (i, p) in h.plates.iter().enumerate() {
        let (length, width) = (p.length_m * MM, p.width_m * MM);
        contours.push(rectangle(
            Layer::Cut,
            [-k, low - k],
            [length + k, low + width + k],
        ));
        let name = format!("PLATE {}", i + 1);
        let (middle, most) = ([0.5 * length, low + 0.5 * width], 4f64.min(0.5 * width));
        let mut text = label_within(middle, most, name, 0.9 * length);
        text.at_mm[1] -= 0.5 * text.height_mm;
        labels.push(text);
        notes.push(format!(
            "PLATE {}: its middle {} before the mouth, {} to the left, {} above the floor; tilted {} deg, then turned {} deg to the left.",
            i + 1,
            shop.say(p.before_mouth_m * MM),
            shop.say(p.aside_m * MM),
            shop.say(p.height_m * MM),
            number(p.tilt_rad / DEG),
            number(p.turn_rad / DEG)
        ));
        low += width + BESIDE_MM;
    }
    Sheet {
        name: "hopper-plates",
        title: "Plates put into the hopper".into(),
        notes,
        contours,
        circles: vec![],
        labels,
    }
}
