//! Flat plates that are put into a hopper.

/// A rectangle of sheet. Its length lies along the chute, its width across, before it is turned and tilted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plate {
    /// From the mouth of the chute back to its middle.
    pub before_mouth_m: f64,
    /// Its middle to the left of that of the hopper.
    pub aside_m: f64,
    /// Its middle above the floor.
    pub height_m: f64,
    /// Length.
    pub length_m: f64,
    /// Width.
    pub width_m: f64,
    /// Turned to the left about a line square to the floor, after it was tilted.
    pub turn_rad: f64,
    /// Its front end tilted up.
    pub tilt_rad: f64,
}

/// Judgement: a plate less steep than this carries pieces rather than leading them.
const UNDER_RAD: f64 = 45.0 * std::f64::consts::PI / 180.0;

impl Plate {
    /// A plate of which nothing is known yet.
    pub const BLANK: Plate = Plate {
        before_mouth_m: f64::NAN,
        aside_m: f64::NAN,
        height_m: f64::NAN,
        length_m: f64::NAN,
        width_m: f64::NAN,
        turn_rad: f64::NAN,
        tilt_rad: f64::NAN,
    };

    /// The four corners in order around it.
    pub fn corners_m(&self) -> [[f64; 3]; 4] {
        let (st, ct) = (libm::sin(self.tilt_rad), libm::cos(self.tilt_rad));
        let (sn, cn) = (libm::sin(self.turn_rad), libm::cos(self.turn_rad));
        let (a, b) = (0.5 * self.length_m, 0.5 * self.width_m);
        [[-a, -b], [a, -b], [a, b], [-a, b]].map(|[along, across]| {
            let (x, y, z) = (along * ct, across, along * st);
            [
                x * cn - y * sn - self.before_mouth_m,
                x * sn + y * cn + self.aside_m,
                z + self.height_m,
            ]
        })
    }

    /// Does it carry pieces, like a ramp, rather than lead them, like a wall?
    pub fn lies_under(&self) -> bool {
        libm::cos(self.tilt_rad).abs() > libm::cos(UNDER_RAD)
    }
}

/// Most plates that a hopper can have.
pub const MOST_COUNT: usize = 12;
/// Room for [`MOST_COUNT`] plates.
type List = [Plate; 12];

/// The plates of a hopper.
#[derive(Clone, Copy, Debug)]
pub struct Plates {
    list: List,
    count: usize,
}

impl Default for Plates {
    fn default() -> Plates {
        Plates::blank(0)
    }
}

impl PartialEq for Plates {
    fn eq(&self, other: &Plates) -> bool {
        self.iter().eq(other.iter())
    }
}

impl Plates {
    /// As many plates, of which nothing is known yet; at most [`MOST_COUNT`].
    pub fn blank(count: usize) -> Plates {
        Plates {
            list: [Plate::BLANK; 12],
            count: count.min(MOST_COUNT),
        }
    }

    /// These plates; those after [`MOST_COUNT`] are left out.
    pub fn of(plates: &[Plate]) -> Plates {
        let mut all = Plates::blank(plates.len());
        for (slot, p) in all.list.iter_mut().zip(plates) {
            *slot = *p;
        }
        all
    }

    /// One after the other.
    pub fn iter(&self) -> impl Iterator<Item = &Plate> {
        self.list.iter().take(self.count)
    }

    /// How many.
    pub fn count(&self) -> usize {
        self.count
    }

    /// The one at a place.
    pub fn get(&self, index: usize) -> Option<&Plate> {
        self.list.get(index).filter(|_| index < self.count)
    }

    /// The one at a place, to be changed.
    pub fn get_mut(&mut self, index: usize) -> Option<&mut Plate> {
        let is_there = index < self.count;
        self.list.get_mut(index).filter(|_| is_there)
    }
}
