//! Keys of the colour order.

use super::brief::{ANY, EXACT, q, row};
use super::reach::{NOWHERE, at};
use super::{Access, Entry, Kind, Need, When};
use crate::project::Project;
use crate::units::Dimension as D;
use crate::units::show::Scale::{Auto, Large};

fn set_stock(p: &mut Project, _: usize, text: &str) {
    p.order.stock = text.to_string();
}

fn set_wanted(p: &mut Project, _: usize, text: &str) {
    p.order.wanted = text.to_string();
}

/// Rows of the order.
#[rustfmt::skip]
pub(super) const ENTRIES: &[Entry] = &[
    row("order.stock", Kind::Text(set_stock), Need::Required, When::Always, ANY, EXACT, "\"8 amber, 8 teal, 8 plum\"",
        "Pieces of each colour from which a load is picked up at random.", NOWHERE),
    row("order.wanted", Kind::Text(set_wanted), Need::Required, When::Always, ANY, EXACT, "\"amber, teal, plum, teal\"",
        "The colours in the order in which they are to be thrown.", NOWHERE),
    row("order.sensor_error", q(D::Ratio, Auto), Need::Default(0.02, 0.0), When::Always, [0.0, 1.0], EXACT, "\"2 %\"",
        "Chance that the colour sensor takes a piece for another colour: show it a hundred.", at!(order.sensor_error_frac)),
    row("order.aside_time", q(D::Time, Large), Need::Default(0.5, 0.0), When::Always, [0.0, 60.0], EXACT, "\"0.5 s\"",
        "Time to set a piece aside in a pocket.", at!(order.aside_s)),
    row("order.back_time", q(D::Time, Large), Need::Default(0.4, 0.0), When::Always, [0.0, 60.0], EXACT, "\"0.4 s\"",
        "Time to bring it back from there.", at!(order.back_s)),
    row("order.turn_time", q(D::Time, Large), Need::Default(0.3, 0.0), When::Always, [0.0, 60.0], EXACT, "\"0.3 s\"",
        "Time to turn a carousel by one place.", at!(order.turn_s)),
];
