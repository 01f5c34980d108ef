//! The feed of a project: its pieces, and what is wrong with its hopper, in words.

use super::{Feed, Project};
use crate::feed::hopper::Pieces;
use crate::feed::lint::{Fault, Lint, lints};
use crate::feed::plate::MOST_COUNT;
use crate::finding::Finding;
use crate::units::Dimension as D;
use crate::units::show;

/// A fault of the hopper, in words.
#[derive(Clone, Debug, PartialEq)]
pub struct HopperFault {
    /// What and how to mend it.
    pub finding: Finding,
    /// The numbers and the place.
    pub lint: Lint,
}

/// More plates in the hopper than there is room for.
pub(super) fn too_many(plates: usize) -> Option<Finding> {
    (plates > MOST_COUNT).then(|| {
        Finding::new(
            "too-many",
            format!("feed.plate[{MOST_COUNT}]"),
            format!("there are {plates} plates in the hopper; {MOST_COUNT} are the most"),
            "leave out those that pieces hardly meet",
        )
    })
}

impl Project {
    /// The pieces of a load; `None` where no feed is described.
    pub fn feed_pieces(&self) -> Option<Pieces> {
        let feed = self.feed?;
        let sd = |key: &str| self.spreads.get(key).map_or(0.0, |s| s.sd());
        Some(Pieces {
            count: feed.piece_count,
            diameter_m: self.piece.diameter_m,
            diameter_sd_m: sd("piece.diameter"),
            mass_kg: self.piece.mass_kg,
            mass_sd_kg: sd("piece.mass"),
            inertia_coeff: self.piece.inertia_coeff,
            press_npm: self.piece.stiffness_npm,
            bounce_coeff: self.piece.bounce_coeff,
        })
    }

    /// Everything wrong with the hopper, what is impossible first.
    pub fn hopper_faults(&self) -> Vec<HopperFault> {
        let (Some(feed), Some(pieces)) = (self.feed, self.feed_pieces()) else {
            return Vec::new();
        };
        lints(&feed.hopper, &pieces)
            .into_iter()
            .map(|lint| HopperFault {
                finding: self.words_of(&feed, &lint),
                lint,
            })
            .collect()
    }

    fn words_of(&self, feed: &Feed, lint: &Lint) -> Finding {
        let [found, allowed] = show::pair(
            lint.found_m,
            lint.allowed_m,
            D::Length,
            show::Scale::Small,
            self.units,
        );
        let piece = self.say(self.piece.diameter_m, D::Length);
        let length = |v: f64| show::text(v, D::Length, show::Scale::Small, self.units);
        let (code, key, what, fix) = match lint.fault {
            Fault::ChuteNarrow => (
                "chute-narrow",
                "feed.chute_width",
                format!("the chute is {found} wide and a piece {piece}: it does not go through"),
                format!("make it {} or more", length(1.05 * self.piece.diameter_m)),
            ),
            Fault::ChuteWide => (
                "chute-wide",
                "feed.chute_width",
                format!(
                    "the chute is {found} wide, between one and two pieces of {piece}: two can wedge beside each other"
                ),
                format!("make it {allowed} or narrower, so that one piece has play and two have no room"),
            ),
            Fault::ChuteOverHopper => (
                "chute-over-hopper",
                "feed.chute_width",
                format!("the chute is {found} wide and the hopper {allowed}"),
                "a hopper is at least as wide as its chute".to_string(),
            ),
            Fault::FunnelLong => (
                "funnel-long",
                "feed.funnel",
                format!("the walls that lead to the mouth are {found} long and the hopper {allowed}"),
                "make the funnel blunter (a greater angle), the hopper longer or narrower".to_string(),
            ),
            Fault::FilletLarge => (
                "fillet-large",
                "feed.fillet",
                format!("a rounding of {found} has no room on the walls beside the mouth"),
                format!("make it {allowed} or less"),
            ),
            Fault::WallLow => (
                "wall-low",
                "feed.wall_height",
                format!("the walls are {found} high, less than a piece of {piece}: pieces can jump out"),
                format!("make them {allowed} or higher"),
            ),
            Fault::SweepThroughWall => (
                "stirrer-hits-wall",
                "feed.stirrer.length",
                format!("the arm is {found} long and meets a wall at {allowed}"),
                format!(
                    "make it shorter than {allowed}, move the shaft with `from_mouth` and `offset`, or let it `swing` through a part of the turn"
                ),
            ),
            Fault::TipGap => (
                "stirrer-tip-gap",
                "feed.stirrer.length",
                format!(
                    "between the end of the arm and a wall there are {found}: a piece of {piece} is squeezed there and can stall the arm"
                ),
                format!(
                    "leave {allowed} or more, or write `reverse = true` so that a stalled arm turns back"
                ),
            ),
            Fault::HubGap => (
                "stirrer-hub-gap",
                "feed.stirrer.offset",
                format!(
                    "between the hub and a wall there are {found}: a piece of {piece} does not pass there"
                ),
                format!("leave {allowed} or more, or close the gap"),
            ),
            Fault::DropBlocked => (
                "drop-blocked",
                "feed.drop_from_mouth",
                format!(
                    "where pieces are dropped in there are {found} to what stands there, and a piece needs {allowed}"
                ),
                "drop them where there is room: change `drop_from_mouth`, or `drop_height` above the stirrer"
                    .to_string(),
            ),
            Fault::RollerMisses => (
                "roller-misses",
                "feed.roller.squeeze",
                format!("the roller presses the piece by {found}: it does not grip"),
                format!("press it by {allowed} or more"),
            ),
            Fault::RollerWide => (
                "roller-wide",
                "feed.roller.width",
                format!("the roller is {found} wide and the chute {allowed}"),
                "make it narrower than the chute".to_string(),
            ),
            Fault::RailsIdle => (
                "rails-idle",
                "feed.rail_gap",
                format!("the rails are {found} apart: a piece of {piece} rests on the floor between them"),
                format!("put them about {allowed} apart"),
            ),
            Fault::PlateBlocks => (
                "plate-blocks",
                "feed.plate[].from_mouth",
                format!("a plate leaves {found} in the chute, and a piece is {piece}: none comes past it"),
                "move the plate out of the chute, lift it over the pieces, or tilt it flat so that they roll on it"
                    .to_string(),
            ),
            Fault::Piled => (
                "pieces-piled",
                "feed.pieces",
                format!(
                    "{} pieces do not lie side by side on a floor {found} long: some lie on top of others",
                    feed.piece_count
                ),
                format!("make the hopper {allowed} long, or wider, or load fewer"),
            ),
        };
        let key = key.replace("[]", &format!("[{}]", lint.plate));
        Finding::new(code, key, what, fix)
    }
}
