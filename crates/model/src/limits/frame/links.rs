//! Chains, belts and gears between two shafts.

use super::{FrameEvidence, Verdict};
use crate::frame::transmission::{
    BeltPair, ChainPair, ENGAGED_COUNT, belt_centre_m, belt_run, chain_centre_m, chain_links_count,
    chain_ripple_frac, gear_centre_m, pull, sprocket_m,
};
use crate::limits::Status;
use crate::project::{Link, LinkKind};
use crate::units::Dimension as D;

/// Common practice, no source: a chain or belt bears this share of its pitch of wrong centre distance without a tensioner.
const SLACK_SHARE: f64 = 0.05;
/// Common practice, no source: spur gears run with up to this share of a module more than their centre distance.
const GEAR_AIR: f64 = 0.15;
/// Fewer teeth than this make a chain's speed pulse by more than about 2 %.
const SMOOTH_COUNT: u32 = 17;
/// Slack side over working pull: a chain hangs, a belt is set by feel. Common practice, no source.
const CHAIN_SLACK: f64 = 0.1;
const BELT_SLACK: f64 = 0.5;

pub(super) fn links(e: &FrameEvidence) -> Vec<Verdict> {
    e.frame
        .links
        .iter()
        .map(|l| match l.kind {
            LinkKind::Chain => chain(e, l),
            LinkKind::Belt => belt(e, l),
            LinkKind::Gears => gears(e, l),
        })
        .collect()
}

/// What the torque pulls with, in words.
fn pull_words(e: &FrameEvidence, l: &Link, pitch_diameter_m: f64, slack: f64) -> String {
    l.torque_nm.map_or(String::new(), |t| {
        let p = pull(t, pitch_diameter_m, slack);
        format!(
            "; it pulls with {} and its shafts feel {}",
            e.project.say(p.working_n, D::Force),
            e.project.say(p.shaft_n, D::Force)
        )
    })
}

/// Off by how much, and whether it runs so.
fn fitting(e: &FrameEvidence, l: &Link, right_m: f64, why: String, extra: Status) -> Verdict {
    let off_m = l.centre_m - right_m;
    let status = if off_m.abs() > SLACK_SHARE * l.pitch_m {
        Status::Tight
    } else {
        Status::Holds
    };
    Verdict::new("links", &l.name, status.max(extra), why)
        .numbers(
            D::Length,
            l.centre_m,
            right_m,
            SLACK_SHARE * l.pitch_m - off_m.abs(),
        )
        .mend(format!(
            "drill the shafts {} apart, or give one a slot or a tensioner for {}",
            e.project.say(right_m, D::Length),
            e.project.say(off_m.abs(), D::Length)
        ))
}

fn too_close(e: &FrameEvidence, l: &Link) -> Verdict {
    Verdict::new(
        "links",
        &l.name,
        Status::Fails,
        format!(
            "at {} its two wheels overlap or nothing reaches around them",
            e.project.say(l.centre_m, D::Length)
        ),
    )
    .mend("move the shafts apart, or take smaller wheels".into())
}

fn chain(e: &FrameEvidence, l: &Link) -> Verdict {
    let (a, b) = (f64::from(l.driver_count), f64::from(l.driven_count));
    let pair = ChainPair {
        pitch_m: l.pitch_m,
        teeth_a_count: a,
        teeth_b_count: b,
    };
    let [da, db] = [a, b].map(|z| sprocket_m(l.pitch_m, z));
    if !(l.centre_m > 0.5 * (da + db) + l.pitch_m) {
        return too_close(e, l);
    }
    // A chain closes on an even number of links.
    let count = 2.0 * (0.5 * chain_links_count(&pair, l.centre_m)).round();
    let Some(right_m) = chain_centre_m(&pair, count) else {
        return too_close(e, l);
    };
    let few = l.driver_count.min(l.driven_count);
    let ripple = if few < SMOOTH_COUNT {
        format!(
            "; {few} teeth make its speed pulse by {}",
            e.project.say(chain_ripple_frac(f64::from(few)), D::Ratio)
        )
    } else {
        String::new()
    };
    let why = format!(
        "{count:.0} links, and the shafts {} apart for them, {} now{}{ripple}",
        e.project.say(right_m, D::Length),
        e.project.say(l.centre_m, D::Length),
        pull_words(e, l, da, CHAIN_SLACK)
    );
    fitting(e, l, right_m, why, Status::Holds)
}

fn belt(e: &FrameEvidence, l: &Link) -> Verdict {
    let pair = BeltPair {
        pitch_m: l.pitch_m,
        small_count: f64::from(l.driver_count.min(l.driven_count)),
        large_count: f64::from(l.driver_count.max(l.driven_count)),
    };
    let driver_m = f64::from(l.driver_count) * l.pitch_m / std::f64::consts::PI;
    let touching_m = 0.5 * (pair.small_count + pair.large_count) * l.pitch_m / std::f64::consts::PI;
    let Some(run) = belt_run(&pair, l.centre_m).filter(|_| l.centre_m > touching_m) else {
        return too_close(e, l);
    };
    let count = (run.length_m / l.pitch_m).round();
    let Some(right_m) = belt_centre_m(&pair, count) else {
        return too_close(e, l);
    };
    let extra = if run.engaged_count < ENGAGED_COUNT {
        Status::Fails
    } else {
        Status::Holds
    };
    let why = format!(
        "a belt of {count:.0} teeth, and the shafts {} apart for it, {} now; {:.1} teeth of the smaller pulley carry, {ENGAGED_COUNT} are wanted{}",
        e.project.say(right_m, D::Length),
        e.project.say(l.centre_m, D::Length),
        run.engaged_count,
        pull_words(e, l, driver_m, BELT_SLACK)
    );
    fitting(e, l, right_m, why, extra)
}

fn gears(e: &FrameEvidence, l: &Link) -> Verdict {
    let right_m = gear_centre_m(l.pitch_m, f64::from(l.driver_count), f64::from(l.driven_count));
    let off_m = l.centre_m - right_m;
    let status = if (0.0..=GEAR_AIR * l.pitch_m).contains(&off_m) {
        Status::Holds
    } else {
        Status::Fails
    };
    let say = |v| e.project.say(v, D::Length);
    let how = if off_m < 0.0 {
        "they jam"
    } else if status == Status::Fails {
        "their teeth barely meet"
    } else {
        "they run with a little air"
    };
    Verdict::new(
        "links",
        &l.name,
        status,
        format!(
            "gears of module {} belong {} apart, {} now: {how}",
            say(l.pitch_m),
            say(right_m),
            say(l.centre_m)
        ),
    )
    .numbers(D::Length, l.centre_m, right_m, GEAR_AIR * l.pitch_m - off_m.abs())
    .mend(format!(
        "drill the shafts {} apart and a tenth of a millimetre more",
        say(right_m)
    ))
}
