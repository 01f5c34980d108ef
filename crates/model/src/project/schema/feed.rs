//! Keys of the feed: hopper, chute, roller, stirrer, bands.

use super::brief::{ANY, DEG, EXACT, q, row};
use super::reach::NOWHERE;
use super::{Access, Entry, Kind, Need, When};
use crate::feed::hopper::{Arrival, Hopper};
use crate::project::Project;
use crate::units::Dimension as D;
use crate::units::show::Scale::{Auto, Small};

/// A field of the hopper.
macro_rules! hopper {
    ($($path:ident).+) => {
        Access {
            get: |p, _| p.feed.map(|f| f.hopper.$($path).+),
            set: |p, _, v| p.feed.as_mut().map(|f| f.hopper.$($path).+ = v).is_some(),
        }
    };
}
/// A field of a part that the hopper may have.
macro_rules! part {
    ($part:ident, $field:ident) => {
        Access {
            get: |p, _| p.feed.and_then(|f| f.hopper.$part).map(|x| x.$field),
            set: |p, _, v| {
                p.feed
                    .as_mut()
                    .and_then(|f| f.hopper.$part.as_mut())
                    .map(|x| x.$field = v)
                    .is_some()
            },
        }
    };
}

const COUNT: Access = Access {
    get: |p, _| p.feed.map(|f| f64::from(f.piece_count)),
    set: |p, _, v| p.feed.as_mut().map(|f| f.piece_count = v as u32).is_some(),
};

/// A field of a plate in a list.
macro_rules! plate {
    ($field:ident) => {
        Access {
            get: |p, i| p.feed.and_then(|f| f.hopper.plates.get(i).map(|x| x.$field)),
            set: |p, i, v| {
                let plate = p.feed.as_mut().and_then(|f| f.hopper.plates.get_mut(i));
                plate.map(|x| x.$field = v).is_some()
            },
        }
    };
}

const PADDLES: Access = Access {
    get: |p, _| {
        p.feed
            .and_then(|f| f.hopper.roller)
            .map(|r| f64::from(r.paddle_count))
    },
    set: |p, _, v| {
        let roller = p.feed.as_mut().and_then(|f| f.hopper.roller.as_mut());
        roller.map(|r| r.paddle_count = v as u32).is_some()
    },
};

/// Common practice, no source: walls half as high again as a piece.
const WALL_OVER_DIAMETER: f64 = 1.5;
/// Common practice, no source: room for one piece between mouth and roller.
const CHUTE_OVER_DIAMETER: f64 = 1.5;
/// Judgement: how far from the mark a hand lets go, as a share of the diameter.
const SPREAD_OVER_DIAMETER: f64 = 0.25;
/// Common practice, no source: a feed roller presses lightly.
const SQUEEZE_OVER_DIAMETER: f64 = 0.07;
/// Judgement: a paddle that reaches well behind a piece and bends out of its way.
const PADDLE_OVER_DIAMETER: f64 = 0.15;
/// Common practice, no source: a roller a little narrower than the chute.
const ROLLER_OVER_CHUTE: f64 = 0.8;

fn diameter(p: &Project) -> f64 {
    p.piece.diameter_m
}

fn of_hopper(p: &Project, read: fn(&Hopper) -> f64) -> f64 {
    p.feed.map_or(f64::NAN, |f| read(&f.hopper))
}

fn half_length(p: &Project) -> f64 {
    0.5 * of_hopper(p, |h| h.length_m)
}

fn set_reverse(p: &mut Project, yes: bool) {
    if let Some(s) = p.feed.as_mut().and_then(|f| f.hopper.stirrer.as_mut()) {
        s.reverses = yes;
    }
}

fn set_arrival(p: &mut Project, _: usize, word: &str) -> bool {
    let arrival = match word {
        "dropped" => Arrival::Dropped,
        "poured" => Arrival::Poured,
        "intake" => Arrival::Intake,
        _ => return false,
    };
    let feed = p.feed.as_mut();
    feed.map(|f| f.hopper.loading.arrival = arrival).is_some()
}

/// Rows of the feed.
#[rustfmt::skip]
pub(super) const ENTRIES: &[Entry] = &[
    row("feed.pieces", Kind::Count, Need::From(|p| f64::from(p.limits.volley_count.clamp(1, 40)), "`limits.volley`, at most 40"), When::Feed, [1.0, 40.0], EXACT, "4",
        "Pieces in the hopper when it is full.", COUNT),
    row("feed.length", q(D::Length, Small), Need::Required, When::Feed, [0.01, 5.0], EXACT, "\"340 mm\"",
        "Length of the floor, from the back wall to the mouth of the chute.", hopper!(length_m)),
    row("feed.width", q(D::Length, Small), Need::Required, When::Feed, [0.01, 5.0], EXACT, "\"300 mm\"",
        "Width of the hopper.", hopper!(width_m)),
    row("feed.chute_width", q(D::Length, Small), Need::Required, When::Feed, [0.005, 5.0], EXACT, "\"120 mm\"",
        "Free width of the chute, one piece wide.", hopper!(chute_width_m)),
    row("feed.slope", q(D::Angle, Auto), Need::Required, When::Feed, [0.0, 60.0 * DEG], EXACT, "\"12 deg\"",
        "Slope of the floor, down toward the chute.", hopper!(slope_rad)),
    row("feed.side_slope", q(D::Angle, Auto), Need::Default(0.0, 0.0), When::Feed, [0.0, 45.0 * DEG], EXACT, "\"8 deg\"",
        "Slope of the floor from both side walls down to the middle; 0 is flat.", hopper!(side_slope_rad)),
    row("feed.chute_bend", q(D::Angle, Auto), Need::Default(0.0, 0.0), When::Feed, [-45.0 * DEG, 60.0 * DEG], EXACT, "\"15 deg\"",
        "By how much the floor of the chute is steeper than that of the hopper; negative rises.", hopper!(bend_rad)),
    row("feed.wall_height", q(D::Length, Small), Need::From(|p| WALL_OVER_DIAMETER * diameter(p), "1.5 of the piece's diameter"), When::Feed, [0.005, 5.0], EXACT, "\"170 mm\"",
        "Height of the walls.", hopper!(wall_m)),
    row("feed.funnel", q(D::Angle, Auto), Need::Default(45.0 * DEG, 0.0), When::Feed, [5.0 * DEG, 90.0 * DEG], EXACT, "\"45 deg\"",
        "Angle of the walls that lead to the mouth, from the direction of the chute; 90 deg is a square front.", hopper!(funnel_rad)),
    row("feed.fillet", q(D::Length, Small), Need::Default(0.0, 0.0), When::Feed, [0.0, 1.0], EXACT, "\"20 mm\"",
        "Radius to which the edges of the mouth are rounded.", hopper!(fillet_m)),
    row("feed.chute_length", q(D::Length, Small), Need::From(|p| CHUTE_OVER_DIAMETER * diameter(p), "1.5 of the piece's diameter"), When::Feed, [0.0, 5.0], EXACT, "\"170 mm\"",
        "From the mouth to below the roller.", hopper!(chute_m)),
    row("feed.rail_gap", q(D::Length, Small), Need::Default(0.0, 0.0), When::Feed, [0.0, 1.0], EXACT, "\"28 mm\"",
        "Free width between two rails of 8 mm rod on the floor of the chute, which centre the piece; 0 without rails.", hopper!(rail_gap_m)),
    row("feed.friction", q(D::Number, Auto), Need::Default(0.3, 0.0), When::Feed, [0.0, 2.0], EXACT, "0.3",
        "Friction of a piece on walls and floor: the tangent of the slope at which one that cannot roll starts to slip.", hopper!(friction_coeff)),
    row("feed.piece_friction", q(D::Number, Auto), Need::Default(0.3, 0.0), When::Feed, [0.0, 2.0], EXACT, "0.3",
        "Friction of one piece on another.", hopper!(piece_friction_coeff)),
    row("feed.rolling", q(D::Number, Auto), Need::Default(0.01, 0.0), When::Feed, [0.0, 0.5], EXACT, "0.01",
        "Rolling resistance: the tangent of the slope on which a piece just keeps rolling.", hopper!(rolling_coeff)),
    row("feed.arrive", Kind::Choice(&["dropped", "poured", "intake"], set_arrival), Need::Optional, When::Feed, ANY, EXACT, "\"dropped\"",
        "How pieces come: dropped one by one by a person, poured in all at once, or brought over the back wall by an intake. `dropped` if not written.", NOWHERE),
    row("feed.intake_speed", q(D::Speed, Auto), Need::Default(1.0, 0.0), When::Feed, [0.0, 10.0], EXACT, "\"1 m/s\"",
        "Speed toward the chute with which an intake lets them go; others do not use it.", hopper!(loading.intake_mps)),
    row("feed.drop_aside", q(D::Length, Small), Need::Default(0.0, 0.0), When::Feed, [0.0, 2.0], EXACT, "\"60 mm\"",
        "Pieces are let go alternately this far to the left and to the right of the middle.", hopper!(loading.aside_m)),
    row("feed.drop_from_mouth", q(D::Length, Small), Need::From(half_length, "half of `length`"), When::Feed, [0.0, 5.0], EXACT, "\"170 mm\"",
        "Where pieces are dropped in: from the mouth of the chute back.", hopper!(loading.before_mouth_m)),
    row("feed.drop_spread", q(D::Length, Small), Need::From(|p| SPREAD_OVER_DIAMETER * diameter(p), "a quarter of the piece's diameter"), When::Feed, [0.0, 1.0], EXACT, "\"28 mm\"",
        "How far from that place they are let go, as a standard deviation along and across.", hopper!(loading.spread_m)),
    row("feed.drop_height", q(D::Length, Small), Need::From(diameter, "the piece's diameter"), When::Feed, [0.0, 3.0], EXACT, "\"112 mm\"",
        "Height above the floor from which they fall.", hopper!(loading.height_m)),
    row("feed.drop_every", q(D::Time, Small), Need::Default(0.5, 0.0), When::Feed, [0.01, 60.0], EXACT, "\"0.5 s\"",
        "Time from one to the next.", hopper!(loading.every_s)),

    row("feed.roller.diameter", q(D::Length, Small), Need::Required, When::FeedRoller, [0.005, 1.0], EXACT, "\"50 mm\"",
        "Diameter of the feed roller above the chute.", part!(roller, diameter_m)),
    row("feed.roller.speed", q(D::Speed, Auto), Need::Required, When::FeedRoller, [0.01, 20.0], EXACT, "\"0.8 m/s\"",
        "Speed of its rim; the piece moves at half of it.", part!(roller, rim_mps)),
    row("feed.roller.width", q(D::Length, Small), Need::From(|p| ROLLER_OVER_CHUTE * of_hopper(p, |h| h.chute_width_m), "0.8 of `chute_width`"), When::FeedRoller, [0.001, 1.0], EXACT, "\"90 mm\"",
        "Its width.", part!(roller, width_m)),
    row("feed.roller.squeeze", q(D::Length, Small), Need::From(|p| SQUEEZE_OVER_DIAMETER * diameter(p), "0.07 of the piece's diameter"), When::FeedRoller, [-0.1, 0.4], EXACT, "\"8 mm\"",
        "How much it presses the piece together against the floor of the chute.", part!(roller, squeeze_m)),
    row("feed.roller.torque", q(D::Torque, Auto), Need::Default(0.8, 0.0), When::FeedRoller, [0.001, 200.0], EXACT, "\"0.8 N m\"",
        "Torque at standstill, after the gears.", part!(roller, torque_nm)),
    row("feed.roller.friction", q(D::Number, Auto), Need::Default(0.8, 0.0), When::FeedRoller, [0.01, 5.0], EXACT, "0.8",
        "Friction of a piece on it.", part!(roller, friction_coeff)),
    row("feed.roller.paddles", Kind::Count, Need::Default(0.0, 0.0), When::FeedRoller, [0.0, 24.0], EXACT, "3",
        "Paddles on it, strips along its width; pieces meet their rounded edges.", PADDLES),
    row("feed.roller.paddle_height", q(D::Length, Small), Need::From(|p| PADDLE_OVER_DIAMETER * diameter(p), "0.15 of the piece's diameter"), When::FeedRoller, [0.0, 0.5], EXACT, "\"17 mm\"",
        "How far they stand out from it.", part!(roller, paddle_m)),

    row("feed.stirrer.length", q(D::Length, Small), Need::Required, When::FeedStirrer, [0.005, 2.0], EXACT, "\"80 mm\"",
        "From the middle of the shaft to the end of the arm.", part!(stirrer, length_m)),
    row("feed.stirrer.from_mouth", q(D::Length, Small), Need::From(half_length, "half of `length`"), When::FeedStirrer, [-1.0, 5.0], EXACT, "\"160 mm\"",
        "From the mouth of the chute back to the shaft.", part!(stirrer, before_mouth_m)),
    row("feed.stirrer.offset", q(D::Length, Small), Need::Default(0.0, 0.0), When::FeedStirrer, [-2.0, 2.0], EXACT, "\"40 mm\"",
        "Shaft to the left of the middle.", part!(stirrer, offset_m)),
    row("feed.stirrer.height", q(D::Length, Small), Need::From(|p| 0.5 * diameter(p), "half of the piece's diameter"), When::FeedStirrer, [0.0, 2.0], EXACT, "\"56 mm\"",
        "Middle of the arm above the floor.", part!(stirrer, height_m)),
    row("feed.stirrer.thickness", q(D::Length, Small), Need::Default(0.012, 0.0), When::FeedStirrer, [0.001, 0.2], EXACT, "\"12 mm\"",
        "Thickness of the arm; the hub is taken as twice as thick.", part!(stirrer, thickness_m)),
    row("feed.stirrer.speed", q(D::AngularSpeed, Auto), Need::Required, When::FeedStirrer, [-100.0, 100.0], EXACT, "\"48 rpm\"",
        "Speed without load, to the left as seen from above; negative turns to the right.", part!(stirrer, speed_radps)),
    row("feed.stirrer.torque", q(D::Torque, Auto), Need::Required, When::FeedStirrer, [0.001, 200.0], EXACT, "\"1 N m\"",
        "Torque at standstill, after the gears.", part!(stirrer, torque_nm)),
    row("feed.stirrer.reverse", Kind::Flag(set_reverse), Need::Optional, When::FeedStirrer, ANY, EXACT, "true",
        "Does it turn back for a moment when it stalls? false if not written.", NOWHERE),
    row("feed.stirrer.swing", q(D::Angle, Auto), Need::Default(0.0, 0.0), When::FeedStirrer, [0.0, 340.0 * DEG], EXACT, "\"0 deg\"",
        "Angle over which it swings to and fro; 0 turns round and round.", part!(stirrer, swing_rad)),
    row("feed.stirrer.middle", q(D::Angle, Auto), Need::Default(180.0 * DEG, 0.0), When::FeedStirrer, [-180.0 * DEG, 180.0 * DEG], EXACT, "\"180 deg\"",
        "Middle of the swing, from the direction of the chute to the left; without a swing, where it is parked while loading.", part!(stirrer, middle_rad)),

    row("feed.bands.tension", q(D::Force, Auto), Need::Required, When::FeedBands, [0.01, 1000.0], EXACT, "\"6 N\"",
        "Pull of each of the two elastic bands, from the edge of the mouth back to the side wall, when nothing leans on it.", part!(bands, tension_n)),
    row("feed.bands.stiffness", q(D::Stiffness, Auto), Need::Default(60.0, 0.0), When::FeedBands, [0.0, 1e5], EXACT, "\"60 N/m\"",
        "How much its pull grows with its length.", part!(bands, stiffness_npm)),
    row("feed.bands.reach", q(D::Length, Small), Need::From(|p| of_hopper(p, Hopper::usual_reach_m), "the length that narrows and `chute_width`"), When::FeedBands, [0.0, 5.0], EXACT, "\"200 mm\"",
        "From the mouth of the chute back to where they end on the side walls.", part!(bands, reach_m)),
    row("feed.bands.height", q(D::Length, Small), Need::From(|p| 0.5 * diameter(p), "half of the piece's diameter"), When::FeedBands, [0.0, 5.0], EXACT, "\"56 mm\"",
        "Height above the floor.", part!(bands, height_m)),

    row("feed.plate[].from_mouth", q(D::Length, Small), Need::Required, When::Always, [-2.0, 5.0], EXACT, "\"250 mm\"",
        "From the mouth of the chute back to the middle of the plate; negative lies in the chute.", plate!(before_mouth_m)),
    row("feed.plate[].aside", q(D::Length, Small), Need::Default(0.0, 0.0), When::Always, [-3.0, 3.0], EXACT, "\"100 mm\"",
        "Its middle to the left of the middle of the hopper.", plate!(aside_m)),
    row("feed.plate[].height", q(D::Length, Small), Need::Required, When::Always, [0.0, 3.0], EXACT, "\"60 mm\"",
        "Its middle above the floor.", plate!(height_m)),
    row("feed.plate[].length", q(D::Length, Small), Need::Required, When::Always, [0.001, 5.0], EXACT, "\"120 mm\"",
        "Length along the chute, before it is tilted and turned.", plate!(length_m)),
    row("feed.plate[].width", q(D::Length, Small), Need::Required, When::Always, [0.001, 5.0], EXACT, "\"120 mm\"",
        "Width across.", plate!(width_m)),
    row("feed.plate[].tilt", q(D::Angle, Auto), Need::Default(0.0, 0.0), When::Always, [-90.0 * DEG, 90.0 * DEG], EXACT, "\"-20 deg\"",
        "Its front end up; 90 deg stands square to the floor.", plate!(tilt_rad)),
    row("feed.plate[].turn", q(D::Angle, Auto), Need::Default(0.0, 0.0), When::Always, [-180.0 * DEG, 180.0 * DEG], EXACT, "\"45 deg\"",
        "Turned to the left, after it was tilted.", plate!(turn_rad)),
];
