//! Throws that are alike: fewer steps, because few of them tell the error of all.
//!
//! The error of a flight in few steps is a smooth function of the throw. In a cloud of throws
//! about one a polynomial of degree two knows it to a few per cent (see [`super::pilots`]), and
//! another of the same terms foretells the time of the crossing to a millisecond. A lane then takes two steps, both in
//! proportion to the foretold time so that nothing jumps from throw to throw; the error is taken off, and a
//! parabola leads onto the plane. A lane that the polynomials do not foretell, because it is far
//! from the others or not like them, is left to the usual way.

use super::block::{BLOCK, Block, Course, Group, fate, load3, store3};
use super::lanes::Vector;
use super::stages::{Cells, GROUP, Spin, acceleration, cooper_verner, dot};

/// What may differ from lane to lane and the flight depends on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Trait {
    VelocityX,
    VelocityY,
    VelocityZ,
    GravityY,
    GravityZ,
    NormalX,
    NormalY,
    NormalZ,
    Distance,
    WindAlongNormal,
    Drag,
    Lift,
    Level,
    Reynolds,
}

impl Trait {
    pub(super) const ALL: [Trait; 14] = [
        Trait::VelocityX,
        Trait::VelocityY,
        Trait::VelocityZ,
        Trait::GravityY,
        Trait::GravityZ,
        Trait::NormalX,
        Trait::NormalY,
        Trait::NormalZ,
        Trait::Distance,
        Trait::WindAlongNormal,
        Trait::Drag,
        Trait::Lift,
        Trait::Level,
        Trait::Reynolds,
    ];

    /// Its numbers in a group that has not flown yet.
    #[inline(always)]
    pub(super) fn of(self, group: &Group) -> &Cells {
        match self {
            Trait::VelocityX => &group.vx,
            Trait::VelocityY => &group.vy,
            Trait::VelocityZ => &group.vz,
            Trait::GravityY => &group.gravity_y,
            Trait::GravityZ => &group.gravity_z,
            Trait::NormalX => &group.nx,
            Trait::NormalY => &group.ny,
            Trait::NormalZ => &group.nz,
            Trait::Distance => &group.g_start,
            Trait::WindAlongNormal => &group.wind_n,
            Trait::Drag => &group.drag,
            Trait::Lift => &group.lift,
            Trait::Level => &group.level,
            Trait::Reynolds => &group.reynolds,
        }
    }
}

/// Most traits that a polynomial takes.
const MOST_TRAITS: usize = Trait::ALL.len();

/// What the polynomials give: time of the crossing, and error along the axes of the lane for each unit of the
/// sixth power of the time over its mean.
pub(super) const GIVEN: usize = 4;

/// What a trait says beyond what some terms say of it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Measure {
    pub(super) of: Trait,
    /// Value in the middle of the cloud.
    pub(super) mean: f64,
    /// 1 over the unit: for a term the spread of what is left.
    pub(super) per_unit: f64,
    /// Units to add for each unit of the terms before.
    pub(super) known: Vec<f64>,
}

impl Measure {
    /// In units, from the terms before.
    #[inline(always)]
    fn take<V: Vector>(&self, b: &Group, first: usize, terms: &[V]) -> V {
        let mut own = (V::load(self.of.of(b), first) - V::splat(self.mean)) * V::splat(self.per_unit);
        for (term, c) in terms.iter().zip(&self.known) {
            own = term.ma(V::splat(*c), own);
        }
        own
    }
}

/// One trait in the polynomials.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Term {
    pub(super) measure: Measure,
    pub(super) straight: [f64; GIVEN],
    /// With this trait and each after it.
    pub(super) square: Vec<[f64; GIVEN]>,
}

/// What is known of throws that are alike.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Cloud {
    pub(super) terms: Vec<Term>,
    /// Traits that the polynomials do without, because the pilots hardly differ in them.
    pub(super) rest: Vec<Measure>,
    /// Most that a throw may differ in one of those.
    pub(super) most_rest: f64,
    pub(super) middle: [f64; GIVEN],
    /// 1 over the mean time of the crossing.
    pub(super) per_time: f64,
    /// Parts of the foretold time that the steps take.
    pub(super) steps: Vec<f64>,
    /// Square of the greatest distance from the middle, in spreads of the terms.
    pub(super) farthest2: f64,
    /// Greatest difference between a time and what was foretold.
    pub(super) latest_s: f64,
    /// Slowest passage through the plane.
    pub(super) slowest_mps: f64,
}

/// Flies every lane of a block that is like the cloud to the plane. Afterwards the others have the fate
/// [`fate::CAREFUL`].
#[inline(always)]
pub(super) fn fly_cloud<V: Vector, const CURVE: bool, const ACROSS: bool>(
    b: &mut Block,
    course: &Course,
    cloud: &Cloud,
) {
    let used = b.count.min(BLOCK).div_ceil(GROUP);
    for group in b.groups.iter_mut().take(used) {
        let mut first = 0;
        while first < GROUP {
            fly_some::<V, CURVE, ACROSS>(group, course, cloud, first);
            first += V::LANES;
        }
    }
}

#[inline(always)]
fn fly_some<V: Vector, const CURVE: bool, const ACROSS: bool>(
    b: &mut Group,
    course: &Course,
    cloud: &Cloud,
    first: usize,
) {
    macro_rules! load {
        ($name:ident) => {
            V::load(&b.$name, first)
        };
    }
    let n = V::splat;
    let zero = n(0.0);
    let mut z = [zero; MOST_TRAITS];
    let mut far2 = zero;
    for (i, term) in cloud.terms.iter().enumerate() {
        let own = term.measure.take(b, first, &z);
        far2 = own.ma(own, far2);
        z[i] = own;
    }
    let mut like = far2.le(n(cloud.farthest2));
    for rest in &cloud.rest {
        like = V::both(like, rest.take(b, first, &z).abs().le(n(cloud.most_rest)));
    }
    let [time, x, y, w] = cloud.middle;
    let mut given = [n(time), n(x), n(y), n(w)];
    for (i, term) in cloud.terms.iter().enumerate() {
        let [time, x, y, w] = term.straight;
        let mut sum = [n(time), n(x), n(y), n(w)];
        let later = z.get(i..).unwrap_or_default();
        for (z, square) in later.iter().zip(&term.square) {
            for (sum, c) in sum.iter_mut().zip(square) {
                *sum = z.ma(n(*c), *sum);
            }
        }
        for (given, sum) in given.iter_mut().zip(sum) {
            *given = z[i].ma(sum, *given);
        }
    }
    let [time, ex, ey, ez] = given;
    let ratio = time * n(cloud.per_time);
    let square = ratio * ratio;
    let size = square * square * square;

    let c = b.constants::<V>(first);
    let mut v = load3::<V>([&b.vx, &b.vy, &b.vz], first);
    let (mut r, mut e) = ([zero; 3], n(1.0));
    let mut k = acceleration::<V, CURVE, ACROSS>(v, c.spun(e), &c);
    for part in &cloud.steps {
        let h = n(*part) * time;
        let spin = Spin::over(e, h, course.decay_rate);
        let (path, speed) = cooper_verner::<V, CURVE, ACROSS>(&v, &k, h, &spin, &c);
        for i in 0..3 {
            r[i] = r[i] + path[i];
            v[i] = v[i] + speed[i];
        }
        e = spin.whole;
        k = acceleration::<V, CURVE, ACROSS>(v, c.spun(e), &c);
    }
    let error = [ex, ey, ez];
    for i in 0..3 {
        r[i] = error[i].ma(size, r[i]);
    }
    let normal = load3::<V>([&b.nx, &b.ny, &b.nz], first);
    let wind_n = load!(wind_n);
    let gap = load!(g_start) + wind_n.ma(time, dot(normal, r));
    let rate = dot(normal, v) + wind_n;
    let half = n(0.5);
    // gap + rate s + ½ bend s² = 0 as it rises; not a number where the parabola misses the plane.
    let root = rate.ma(rate, n(-2.0) * gap * dot(normal, k)).root();
    let late = (n(-2.0) * gap).over(rate + root);
    for i in 0..3 {
        r[i] = late.ma((half * k[i]).ma(late, v[i]), r[i]);
        v[i] = k[i].ma(late, v[i]);
    }
    let like = V::both(like, late.abs().le(n(cloud.latest_s)));
    let like = V::both(like, n(cloud.slowest_mps).le(rate));
    // A throw that starts beyond the plane has crossed it before the start, if at all.
    let like = V::both(like, zero.lt(time + late));
    let like = V::both(like, load!(fate).le(n(fate::FLIES)));
    (time + late).store(&mut b.t, first);
    store3(r, [&mut b.x, &mut b.y, &mut b.z], first);
    store3(v, [&mut b.vx, &mut b.vy, &mut b.vz], first);
    V::pick(like, n(fate::ARRIVES), n(fate::CAREFUL)).store(&mut b.fate, first);
}
