//! Does the wheel bridge the holes and the seam of the piece, or fall into them?

use super::{Evidence, Status, Verdict};
use crate::launcher::bite::{
    BiteStudy, OVER_RATIO, Surface, WheelSet, bridging_gap_m, bridging_width_m, study,
};
use crate::project::{Project, Way};
use crate::units::Dimension::{Length, Ratio};

/// Method: orientations looked at. They fill all orientations evenly; four times as many move the figure found
/// for the first demo by about 1 %.
pub const THROWS_COUNT: usize = 128;

/// Above this share of the squeeze the wheel is called to fall into the holes. Judgement: a squeeze that
/// swings by a tenth within one turn of the piece swings force and friction as much.
const FALLS_RATIO: f64 = 0.1;

/// Method: wheels side by side that the mend tries.
const MOST_CLOSE_COUNT: u32 = 4;

pub(super) fn bite(e: &Evidence) -> Vec<Verdict> {
    let p = e.project;
    let Some(skin) = p.skin() else { return Vec::new() };
    let (wheels, squeeze) = (p.wheel_set(), p.squeeze_m());
    let found = study(&skin, &wheels, squeeze, THROWS_COUNT);
    let limit = OVER_RATIO * squeeze;
    let status = if !(found.p95_m <= FALLS_RATIO * squeeze) {
        Status::Fails
    } else if found.p95_m > limit {
        Status::Tight
    } else {
        Status::Holds
    };
    let verdict = Verdict::new("bite", "", status, why(p, &wheels, &found, status)).numbers(
        Length,
        found.p95_m,
        limit,
        limit - found.p95_m,
    );
    if status == Status::Holds {
        return vec![verdict];
    }
    vec![verdict.mend(mend(p, &skin, &wheels, limit))]
}

fn why(p: &Project, wheels: &WheelSet, found: &BiteStudy, status: Status) -> String {
    let squeeze = p.squeeze_m();
    let (bridges, falls, meets) = if wheels.count > 1 {
        ("bridge", "fall into", "drop a little into")
    } else {
        ("bridges", "falls into", "drops a little into")
    };
    let does = match status {
        Status::Holds => bridges,
        Status::Tight => meets,
        Status::Fails | Status::Unknown => falls,
    };
    let depth = found.p95_m.max(0.0);
    format!(
        "{} {does} {}: at the deepest place of a throw {} {} in 95 of 100 throws, {} of the {} squeeze",
        wheels_words(p, wheels),
        gaps_words(p),
        if status == Status::Holds {
            "no more than"
        } else {
            "up to"
        },
        p.say(depth, Length),
        p.say(depth / squeeze, Ratio),
        p.say(squeeze, Length)
    )
}

/// "the 40 mm wheel", "the 2 wheels of 8 mm with 10 mm between".
fn wheels_words(p: &Project, wheels: &WheelSet) -> String {
    let width = p.say(wheels.width_m, Length);
    if wheels.count < 2 {
        return format!("the {width} wheel");
    }
    format!(
        "the {} wheels of {width} with {} between",
        wheels.count,
        p.say(wheels.gap_m, Length)
    )
}

/// "the 14 mm holes", "the 2 mm seam", or both.
fn gaps_words(p: &Project) -> String {
    let holes = p.piece.holes.map(|h| {
        let one = if h.count == 1 { "hole" } else { "holes" };
        format!("the {} {one}", p.say(h.diameter_m, Length))
    });
    let seam = p
        .piece
        .seam
        .map(|s| format!("the {} seam", p.say(s.width_m, Length)));
    holes.into_iter().chain(seam).collect::<Vec<_>>().join(" and ")
}

fn mend(p: &Project, skin: &Surface, wheels: &WheelSet, limit_m: f64) -> String {
    let squeeze = p.squeeze_m();
    let said = |v: f64, way| p.say(p.written(v, Length, way), Length);
    let mut ways = Vec::new();
    if let Some(width) = bridging_width_m(skin, wheels, squeeze, limit_m, THROWS_COUNT) {
        ways.push(format!("one wheel of {} or wider", said(width, Way::Up)));
    }
    let close = (2..=MOST_CLOSE_COUNT).find_map(|count| {
        bridging_gap_m(skin, wheels, squeeze, limit_m, THROWS_COUNT, count).map(|gaps| (count, gaps))
    });
    if let Some((count, [least, most])) = close {
        let each = p.say(wheels.width_m, Length);
        let between = if least > 0.0 {
            format!("{} to {}", said(least, Way::Up), said(most, Way::Down))
        } else {
            format!("no more than {}", said(most, Way::Down))
        };
        ways.push(format!("{count} of {each} with {between} between"));
    }
    if ways.is_empty() {
        return "no wheel bridges them at this squeeze: more squeeze spreads the load over more of the skin, \
                and so does a larger wheel"
            .into();
    }
    format!("use {}", ways.join(", or "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::project::Holes;
    use crate::project::blank::{Outfit, project};

    fn lantern(width_m: f64) -> Project {
        let mut p = project(&Outfit::default());
        p.piece.diameter_m = 0.112;
        p.piece.holes = Some(Holes {
            count: 38,
            diameter_m: 0.014,
        });
        p.machine.wheel.diameter_m = 0.096;
        p.machine.wheel.width_m = width_m;
        p.machine.wheel.gap_m = 0.0;
        if let crate::launcher::Layout::Guide(g) = &mut p.machine.layout {
            g.gap_m = 0.1;
        }
        p
    }

    #[test]
    fn the_mend_names_a_width_and_gaps_that_do_bridge() {
        let p = lantern(0.006);
        let skin = p.skin().unwrap();
        let limit = OVER_RATIO * 0.012;
        let text = mend(&p, &skin, &p.wheel_set(), limit);
        let numbers: Vec<f64> = text
            .split(|c: char| !(c.is_ascii_digit() || c == '.'))
            .filter_map(|w| w.parse().ok())
            .collect();
        let [width, count, each, low, high] = numbers[..] else {
            panic!("{text}")
        };
        let p95 = |w: &WheelSet| study(&skin, w, 0.012, THROWS_COUNT).p95_m;
        let with = |width_m: f64, count, gap_m| WheelSet {
            width_m: 1e-3 * width_m,
            count,
            gap_m: 1e-3 * gap_m,
            ..p.wheel_set()
        };
        assert!(
            p95(&with(width, 1, 0.0)) <= limit && p95(&with(width - 1.0, 1, 0.0)) > limit,
            "{text}"
        );
        assert_eq!(each, 6.0, "{text}");
        assert!(
            p95(&with(6.0, count as u32, low)) <= limit && p95(&with(6.0, count as u32, high)) <= limit,
            "{text}"
        );
    }

    #[test]
    fn the_words_count_the_wheels_and_name_what_they_meet() {
        let mut p = lantern(0.04);
        assert_eq!(wheels_words(&p, &p.wheel_set()), "the 40 mm wheel");
        p.machine.wheel.count = 2;
        p.piece.seam = Some(crate::project::SeamGroove {
            width_m: 0.002,
            depth_m: 0.001,
        });
        assert_eq!(gaps_words(&p), "the 14 mm holes and the 2 mm seam");
        assert!(wheels_words(&p, &p.wheel_set()).ends_with("with 0 mm between"));
    }
}
