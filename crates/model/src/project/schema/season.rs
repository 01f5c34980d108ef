//! Keys of the season: how a match goes, what it scores, what could be done next.

use super::brief::{ANY, DEG, EXACT, q, row};
use super::reach::NOWHERE;
use super::{Access, Entry, Kind, Need, When};
use crate::project::{BaseKind, Project};
use crate::units::Dimension as D;
use crate::units::show::Scale::{Auto, Large, Small};

/// A number of the season.
macro_rules! at {
    ($field:ident) => {
        Access {
            get: |p, _| p.season.as_ref().map(|s| s.$field),
            set: |p, _, v| p.season.as_mut().map(|s| s.$field = v).is_some(),
        }
    };
}
/// A number of the season that may be absent.
macro_rules! maybe {
    ($field:ident) => {
        Access {
            get: |p, _| p.season.as_ref().and_then(|s| s.$field),
            set: |p, _, v| p.season.as_mut().map(|s| s.$field = Some(v)).is_some(),
        }
    };
}
/// A whole number of the season.
macro_rules! count {
    ($field:ident) => {
        Access {
            get: |p, _| p.season.as_ref().map(|s| f64::from(s.$field)),
            set: |p, _, v| p.season.as_mut().map(|s| s.$field = v as u32).is_some(),
        }
    };
}
/// A number of a change.
macro_rules! each {
    ($field:ident) => {
        Access {
            get: |p, i| p.season.as_ref().and_then(|s| s.changes.get(i)).map(|c| c.$field),
            set: |p, i, v| {
                p.season
                    .as_mut()
                    .and_then(|s| s.changes.get_mut(i))
                    .map(|c| c.$field = v)
                    .is_some()
            },
        }
    };
}
/// A number of a change that may be absent.
macro_rules! maybe_each {
    ($field:ident) => {
        Access {
            get: |p, i| {
                p.season
                    .as_ref()
                    .and_then(|s| s.changes.get(i))
                    .and_then(|c| c.$field)
            },
            set: |p, i, v| {
                p.season
                    .as_mut()
                    .and_then(|s| s.changes.get_mut(i))
                    .map(|c| c.$field = Some(v))
                    .is_some()
            },
        }
    };
}

const CHANGED_MOTORS: Access = Access {
    get: |p, i| {
        p.season
            .as_ref()
            .and_then(|s| s.changes.get(i))
            .and_then(|c| c.motor_count.map(f64::from))
    },
    set: |p, i, v| {
        let change = p.season.as_mut().and_then(|s| s.changes.get_mut(i));
        change.map(|c| c.motor_count = Some(v as u32)).is_some()
    },
};

fn set_spot(p: &mut Project, _: usize, word: &str) {
    if let Some(season) = p.season.as_mut() {
        season.spot = word.to_string();
    }
}

fn name_change(p: &mut Project, i: usize, word: &str) {
    if let Some(change) = p.season.as_mut().and_then(|s| s.changes.get_mut(i)) {
        change.name = word.to_string();
    }
}

fn set_changed_spot(p: &mut Project, i: usize, word: &str) {
    if let Some(change) = p.season.as_mut().and_then(|s| s.changes.get_mut(i)) {
        change.spot = word.to_string();
    }
}

fn set_changed_drive(p: &mut Project, i: usize, word: &str) -> bool {
    let Some(kind) = BaseKind::of(word) else {
        return false;
    };
    let change = p.season.as_mut().and_then(|s| s.changes.get_mut(i));
    change.map(|c| c.drive = Some(kind)).is_some()
}

fn set_order(p: &mut Project, i: usize, word: &str) -> bool {
    let sorted = match word {
        "as-called" => true,
        "by-chance" => false,
        _ => return false,
    };
    let change = p.season.as_mut().and_then(|s| s.changes.get_mut(i));
    change.map(|c| c.sorted = Some(sorted)).is_some()
}

fn set_season_order(p: &mut Project, _: usize, word: &str) -> bool {
    let sorted = match word {
        "as-called" => true,
        "by-chance" => false,
        _ => return false,
    };
    p.season.as_mut().map(|s| s.sorted = sorted).is_some()
}

/// Rows of the season.
#[rustfmt::skip]
pub(super) const ENTRIES: &[Entry] = &[
    row("season.match", q(D::Time, Large), Need::Required, When::Always, [5.0, 7200.0], EXACT, "\"150 s\"",
        "Length of a match, the opening with it.", at!(match_s)),
    row("season.opening", q(D::Time, Large), Need::Default(0.0, 0.0), When::Always, [0.0, 7200.0], EXACT, "\"20 s\"",
        "Time at its start in which the robot works by itself.", at!(opening_s)),
    row("season.piece_points", q(D::Number, Auto), Need::Required, When::Always, [0.0, 1e6], EXACT, "3",
        "Points for a piece that goes in.", at!(piece_points_count)),
    row("season.opening_points", q(D::Number, Auto), Need::Optional, When::Always, [0.0, 1e6], EXACT, "6",
        "Points for a piece that goes in during the opening; as any other if not written.", maybe!(opening_points_count)),
    row("season.preload", Kind::Count, Need::Default(0.0, 0.0), When::Always, [0.0, 100.0], EXACT, "3",
        "Pieces on board at the start.", count!(preload_count)),
    row("season.pattern_points", q(D::Number, Auto), Need::Default(0.0, 0.0), When::Always, [0.0, 1e6], EXACT, "4",
        "Points besides for a volley that is all in, and in the order of colours called.", at!(pattern_points_count)),
    row("season.colours", Kind::Count, Need::Default(1.0, 0.0), When::Always, [1.0, 12.0], EXACT, "3",
        "Colours of the pieces, equally many of each.", count!(colour_count)),
    row("season.order", Kind::Choice(&["by-chance", "as-called"], set_season_order), Need::Optional, When::Always, ANY, EXACT, "\"by-chance\"",
        "Do the pieces come in the order called? By chance if not written.", NOWHERE),
    row("season.spot", Kind::Text(set_spot), Need::Optional, When::Always, ANY, EXACT, "\"middle\"",
        "Spot from which it throws; the one that hits most often if not written.", NOWHERE),
    row("season.away", q(D::Length, Large), Need::Default(3.0, 0.0), When::Always, [0.0, 100.0], EXACT, "\"3 m\"",
        "Way from where pieces are collected to the spot.", at!(away_m)),
    row("season.bearing", q(D::Angle, Auto), Need::Default(90.0 * DEG, 0.0), When::Always, [0.0, 180.0 * DEG], EXACT, "\"90 deg\"",
        "Direction of that way from where the launcher points; a base that cannot drive sideways turns by it, twice.", at!(bearing_rad)),
    row("season.collect", q(D::Time, Auto), Need::Required, When::Always, [0.0, 600.0], EXACT, "\"2.5 s\"",
        "Time to pick up one piece.", at!(collect_s)),
    row("season.load", q(D::Time, Auto), Need::Default(0.0, 0.0), When::Always, [0.0, 600.0], EXACT, "\"1 s\"",
        "Time for each volley besides: waiting, handing over, aiming by eye.", at!(load_s)),
    row("season.varies", q(D::Ratio, Auto), Need::Default(0.25, 0.0), When::Always, [0.0, 3.0], EXACT, "\"25 %\"",
        "How much these times differ: standard deviation over mean.", at!(varies_frac)),
    row("season.spoiled", q(D::Ratio, Auto), Need::Default(0.1, 0.0), When::Always, [0.0, 1.0], EXACT, "\"10 %\"",
        "Share of throws that a match spoils though they would hit on the practice floor: hurry, a push, a worn piece.", at!(spoiled_frac)),
    row("season.jam", q(D::Ratio, Auto), Need::Default(0.05, 0.0), When::Always, [0.0, 1.0], EXACT, "\"5 %\"",
        "Chance that a volley wedges in the feed.", at!(jam_frac)),
    row("season.jam_time", q(D::Time, Auto), Need::Default(6.0, 0.0), When::Always, [0.0, 600.0], EXACT, "\"6 s\"",
        "Time that a wedge costs; its pieces are thrown after it.", at!(jam_s)),
    row("season.penalty_points", q(D::Number, Auto), Need::Default(0.0, 0.0), When::Always, [0.0, 1e6], EXACT, "5",
        "Points that a penalty takes.", at!(penalty_points_count)),
    row("season.penalty", q(D::Ratio, Auto), Need::Default(0.0, 0.0), When::Always, [0.0, 1.0], EXACT, "\"2 %\"",
        "Chance of a penalty in each round of collecting and throwing.", at!(penalty_frac)),
    row("season.end_points", q(D::Number, Auto), Need::Default(0.0, 0.0), When::Always, [0.0, 1e6], EXACT, "10",
        "Points of the task at the end.", at!(end_points_count)),
    row("season.end_time", q(D::Time, Auto), Need::Default(0.0, 0.0), When::Always, [0.0, 7200.0], EXACT, "\"8 s\"",
        "Time kept free for it.", at!(end_s)),
    row("season.end_chance", q(D::Ratio, Auto), Need::Default(1.0, 0.0), When::Always, [0.0, 1.0], EXACT, "\"80 %\"",
        "Chance that it works.", at!(end_frac)),
    row("season.beat", q(D::Number, Auto), Need::Optional, When::Always, [0.0, 1e6], EXACT, "60",
        "A score to beat.", maybe!(beat_points_count)),

    row("season.change[].name", Kind::Text(name_change), Need::Required, When::Always, ANY, EXACT, "\"floor intake\"",
        "What it is called.", NOWHERE),
    row("season.change[].days", q(D::Number, Auto), Need::Required, When::Always, [0.05, 1000.0], EXACT, "4",
        "Days of work.", each!(days_count)),
    row("season.change[].money", q(D::Number, Auto), Need::Default(0.0, 0.0), When::Always, [0.0, 1e9], EXACT, "60",
        "Money it costs, in your currency.", each!(money_count)),
    row("season.change[].unsure", q(D::Ratio, Auto), Need::Default(0.5, 0.0), When::Always, [0.0, 1.0], EXACT, "\"50 %\"",
        "How far the effect may turn out smaller or larger than written, as a share of it.", each!(unsure_frac)),
    row("season.change[].drive", Kind::Choice(&["four", "six", "sideways"], set_changed_drive), Need::Optional, When::Always, ANY, EXACT, "\"sideways\"",
        "Another drive base.", NOWHERE),
    row("season.change[].motors", Kind::Count, Need::Optional, When::Always, [1.0, 12.0], EXACT, "4",
        "Motors of the base then.", CHANGED_MOTORS),
    row("season.change[].collect", q(D::Time, Auto), Need::Optional, When::Always, [0.0, 600.0], EXACT, "\"1 s\"",
        "Time to pick up one piece then.", maybe_each!(collect_s)),
    row("season.change[].load", q(D::Time, Auto), Need::Optional, When::Always, [0.0, 600.0], EXACT, "\"0.5 s\"",
        "Time for each volley besides, then.", maybe_each!(load_s)),
    row("season.change[].varies", q(D::Ratio, Auto), Need::Optional, When::Always, [0.0, 3.0], EXACT, "\"15 %\"",
        "How much times differ then.", maybe_each!(varies_frac)),
    row("season.change[].jam", q(D::Ratio, Auto), Need::Optional, When::Always, [0.0, 1.0], EXACT, "\"1 %\"",
        "Chance that a volley wedges then.", maybe_each!(jam_frac)),
    row("season.change[].misses", q(D::Ratio, Auto), Need::Optional, When::Always, [0.0, 3.0], EXACT, "\"60 %\"",
        "Misses that are left, as a share of those now.", maybe_each!(misses_frac)),
    row("season.change[].interval", q(D::Time, Small), Need::Optional, When::Always, [0.01, 60.0], EXACT, "\"0.4 s\"",
        "Time between throws then.", maybe_each!(interval_s)),
    row("season.change[].order", Kind::Choice(&["by-chance", "as-called"], set_order), Need::Optional, When::Always, ANY, EXACT, "\"as-called\"",
        "Do the pieces come in the order called then?", NOWHERE),
    row("season.change[].spot", Kind::Text(set_changed_spot), Need::Optional, When::Always, ANY, EXACT, "\"near\"",
        "Spot from which it throws then.", NOWHERE),
];
