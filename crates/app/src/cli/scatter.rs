//! `scatter`: how much throws differ, why, and what would help.

use arcwright_model::aim::Miss;
use arcwright_model::project::Project;
use arcwright_model::scatter::{
    Budget, Cause, CauseShare, Lever, NoScatter, Remedy, SamplePlan, ScatterPlan, SpotReport, SpotResult,
    report,
};
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::say::{name, table, wrap};
use super::source::ByShots;
use super::{Answer, Common, FAILS, FINE, Refusal, check, learned, source};
pub(super) use crate::tasks::tables::percent;
use crate::tasks::tables::scatter as scatter_table;
use crate::tasks::{json, pictures};

#[derive(Args)]
pub struct ScatterArgs {
    #[command(flatten)]
    common: Common,
    #[command(flatten)]
    by: ByShots,
    /// Seed of the random numbers: the same seed gives the same figures on any machine
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Most throws from each spot
    #[arg(long, value_name = "N", default_value_t = 65_536, value_parser = clap::value_parser!(u32).range(2048..=16_777_216))]
    throws: u32,
    /// Stop when the hit chance is known to within this, such as "0.1 %"
    #[arg(long, value_name = "SHARE", default_value = "0.1 %")]
    within: String,
    /// Leave out what would help
    #[arg(long)]
    no_remedies: bool,
    /// Take timing and sideways place of the pieces from the project's feed
    #[arg(long)]
    fed: bool,
    /// Write the error budget as a picture to this file
    #[arg(long, value_name = "FILE")]
    budget_svg: Option<std::path::PathBuf>,
}

pub fn run(args: &ScatterArgs) -> Result<Answer, Refusal> {
    let mut source = source::load(&args.common)?;
    source.learn(&args.by);
    let fed = super::feed::by_feed(&mut source.project, args.fed)?;
    let source = source;
    let project = &source.project;
    let within = source::quantity("--within", &args.within, D::Ratio)?;
    if !(within > 0.0 && within < 0.5) {
        return Err(Refusal::input(format!(
            "wrong input [out-of-range]: --within is \"{}\", and must be above 0 and below 50 %\n  fix write for example --within \"0.5 %\"\n",
            args.within
        )));
    }
    let plan = ScatterPlan {
        sample: SamplePlan {
            seed: args.seed,
            most_count: args.throws as usize,
            until_frac: within,
        },
        with_untested: true,
        with_budget: true,
        with_remedies: !args.no_remedies,
    };
    let spots = report(project, &plan);
    source::write_picture(&args.common, || pictures::scatter(project, &spots))?;
    if let Some(path) = &args.budget_svg {
        pictures::write_file(path, &pictures::budget(project, &spots)).map_err(|f| Refusal::finding(&f))?;
    }
    let code = if spots.iter().all(|s| s.result.is_ok()) {
        FINE
    } else {
        FAILS
    };
    if args.common.json {
        return Ok(Answer {
            text: format!("{:#}\n", json::scatter(project, &plan, &spots, &source.basis)),
            code,
        });
    }
    let mut text = check::title(&source);
    text.push_str(&fed);
    text.push_str(&words(project, &spots));
    text.push_str(&learned::scatter_words(&source));
    Ok(Answer { text, code })
}

/// What the columns of the table mean; in the middle what is said of the setpoint before test shots, or after them.
const LEGEND: [&str; 2] = [
    "`hit` is the share of throws that go in without touching the rim, once the setpoint is right; \
the range beside it is the sampling alone.",
    "Two throws of three cross within one `sd` of the mean. Half of all throws cross within `R50` \
of the middle they scatter around, 95 of 100 within `R95`.",
];
const BEFORE_SHOTS: &str =
    "`untested` is the same for the first throws, before any test shot has corrected the setpoint.";
const AFTER_SHOTS: &str = "`after the shots` is the same with what the test shots left open: how sure the setpoint \
and the direction are.";

/// Everything in words.
pub fn words(project: &Project, spots: &[SpotReport]) -> String {
    let mut text = String::new();
    text.push_str("Scatter of a volley's throws, each spot at the setpoint that centres them\n");
    text.push_str(&table(&scatter_table(project, spots).named(name)));
    for s in spots {
        match &s.result {
            Ok(r) => text.push_str(&format!("\n{}\n", spot_words(project, &s.spot, r))),
            Err(why) => text.push_str(&format!(
                "\n{}\n  {}\n",
                name(&s.spot),
                wrap(&no_words(project, why), 112, "  ")
            )),
        }
    }
    let shown = project.throws.shown.is_some();
    let missing = if shown { Vec::new() } else { not_stated(project) };
    if !missing.is_empty() {
        let said = format!(
            "Taken as exact, since no spread is written: {}. Measure ten of each and write the sd: the real scatter is larger than this.",
            missing.join(", ")
        );
        text.push_str(&format!("\n  {}\n", wrap(&said, 112, "  ")));
    }
    let middle = if shown { AFTER_SHOTS } else { BEFORE_SHOTS };
    let legend = [LEGEND[0], middle, LEGEND[1]].join(" ");
    text.push_str(&format!("\n  {}\n", wrap(&legend, 112, "  ")));
    text
}

fn no_words(project: &Project, why: &NoScatter) -> String {
    match why {
        NoScatter::NoSetpoint { miss: m, slips } => {
            let how = match m {
                Miss::Refused(why) => (*why).to_string(),
                Miss::BelowRim => "even at top speed the piece stays below the rim".to_string(),
                Miss::Short { by_m } => {
                    format!("top speed falls {} short", project.say(*by_m, D::Length))
                }
                Miss::Beyond { by_m } => {
                    format!(
                        "the slowest throw that clears the rim lands {} too far",
                        project.say(*by_m, D::Length)
                    )
                }
            };
            let grip = if *slips {
                ". The piece still slips on the wheel when it leaves: more squeeze or a grippier wheel comes first"
            } else {
                ""
            };
            format!(
                "no scatter, because no wheel speed centres a throw: {how}{grip}. `arcwright check` says what would mend it"
            )
        }
        NoScatter::NoThrow(why) => format!("no scatter, because {why}"),
    }
}

/// A share in words a person would say.
pub fn share_words(x: f64) -> String {
    const NAMED: [(f64, &str); 7] = [
        (0.25, "a quarter"),
        (1.0 / 3.0, "a third"),
        (0.5, "half"),
        (2.0 / 3.0, "two thirds"),
        (0.75, "three quarters"),
        (0.9, "nine tenths"),
        (0.98, "nearly all"),
    ];
    /// Physical: nobody hears a difference smaller than this.
    const NEAR: f64 = 0.035;
    NAMED
        .iter()
        .find(|(v, _)| (x - v).abs() < NEAR)
        .map_or_else(|| format!("{:.0} %", 100.0 * x), |(_, w)| (*w).to_string())
}

fn spot_words(project: &Project, spot: &str, r: &SpotResult) -> String {
    let mut out: Vec<String> = Vec::new();
    let c = &r.centred;
    let shift = c.setpoint_radps / r.aimed_radps - 1.0;
    /// Physical: a correction smaller than this is lost among other things.
    const WORTH_SAYING: f64 = 5e-4;
    if shift.abs() > WORTH_SAYING {
        let by = format!(
            "`aim` takes a wheel held steadily: {}. Throws of a volley cross {} {} on average",
            project.say(r.aimed_radps, D::AngularSpeed),
            project.say((r.aimed.along_m.value.abs() * 1e3).round() / 1e3, D::Length),
            if r.aimed.along_m.value > 0.0 {
                "too far"
            } else {
                "short"
            },
        );
        let new = project.say(c.setpoint_radps, D::AngularSpeed);
        out.push(format!(
            "{by}{}",
            advice(&new, &signed_percent(shift), r.aimed.hit.frac, c.hit.frac)
        ));
    }
    if let Some(m) = &r.matched {
        for (ratio, which) in [(m.along_ratio, "along"), (m.across_ratio, "across")] {
            if ratio < 1.0 {
                out.push(format!(
                    "The shots scattered less {which} than the file says: what it writes counts for {} here.",
                    percent(ratio)
                ));
            }
        }
    }
    if let Some(b) = &r.budget {
        for across in [false, true] {
            if let Some(line) = budget_words(project, r, b, across) {
                out.push(line);
            }
        }
    }
    let mut text = format!("{}\n", name(spot));
    for line in out {
        text.push_str(&format!("  {}\n", wrap(&line, 112, "  ")));
    }
    text.trim_end().to_string()
}

/// What to do with a setpoint that centres the throws: to set it, unless the share that goes in falls with it.
fn advice(setpoint: &str, shift: &str, now_frac: f64, then_frac: f64) -> String {
    let (then, now) = (percent(then_frac), percent(now_frac));
    if then == now {
        format!(", so set {setpoint} ({shift}).")
    } else if then_frac > now_frac {
        format!(", so set {setpoint} ({shift}): hit {then} instead of {now}.")
    } else {
        format!(
            "; {setpoint} ({shift}) centres them. It does not buy hits, though: {then} go in there, {now} as `aim` has it."
        )
    }
}

fn signed_percent(x: f64) -> String {
    format!("{}{:.1} %", if x < 0.0 { "-" } else { "+" }, 100.0 * x.abs())
}

/// The greatest causes in one direction, and what would halve the first.
fn budget_words(project: &Project, r: &SpotResult, b: &Budget, across: bool) -> Option<String> {
    /// Physical: a cause below this is not among the great ones.
    const GREAT: f64 = 0.12;
    let of = |c: &CauseShare| {
        if across {
            c.across.total.value
        } else {
            c.along.total.value
        }
    };
    let mut causes: Vec<&CauseShare> = b.causes.iter().filter(|c| of(c) >= GREAT).collect();
    causes.sort_by(|x, y| of(y).total_cmp(&of(x)));
    let first = causes.first()?;
    let sd = if across {
        r.centred.across_sd_m.value
    } else {
        r.centred.along_sd_m.value
    };
    let list: Vec<String> = causes
        .iter()
        .map(|c| {
            format!(
                "{} is {}{}",
                share_words(of(c)),
                c.cause.words(),
                which_throws(r, c.cause)
            )
        })
        .collect();
    let mut text = format!(
        "{} ({}): {}.",
        if across { "Across" } else { "Along" },
        project.say((sd * 1e4).round() / 1e4, D::Length),
        list.join(", ")
    );
    /// Physical: shares that add up to more than this look like a mistake unless explained.
    const MUCH: f64 = 1.1;
    if causes.iter().map(|c| of(c)).sum::<f64>() > MUCH {
        text.push_str(" (More than the whole: some do harm only together, and that counts for each.)");
    }
    let own: Vec<&Remedy> = r
        .remedies
        .iter()
        .filter(|m| m.cause == first.cause)
        .take(3)
        .collect();
    if !own.is_empty() {
        let all: Vec<String> = own.iter().map(|m| remedy_words(project, m)).collect();
        let (halving, less): (Vec<_>, Vec<_>) = own.iter().zip(all).partition(|(m, _)| m.halves);
        let join = |v: Vec<(&&Remedy, String)>| v.into_iter().map(|p| p.1).collect::<Vec<_>>().join(", or ");
        if !halving.is_empty() {
            text.push_str(&format!(" Halved by {}.", join(halving)));
        }
        if !less.is_empty() {
            text.push_str(&format!(" Less by {}.", join(less)));
        }
    }
    Some(text)
}

/// Which throws of the volley the wheel-speed share comes from.
fn which_throws(r: &SpotResult, cause: Cause) -> String {
    if cause != Cause::Wheel {
        return String::new();
    }
    let places = &r.centred.places;
    let n = places.len().max(1) as f64;
    let mean = places.iter().map(|p| p.speed_error_frac).sum::<f64>() / n;
    let total: f64 = places.iter().map(|p| (p.speed_error_frac - mean).powi(2)).sum();
    /// Physical: places that make this much of the differences between the throws are named.
    const NAMED: f64 = 0.3;
    let mut named: Vec<String> = places
        .iter()
        .enumerate()
        .filter(|(_, p)| total > 0.0 && (p.speed_error_frac - mean).powi(2) > NAMED * total)
        .map(|(i, p)| format!("throw {} {}", i + 1, signed_percent(p.speed_error_frac - mean)))
        .collect();
    if named.is_empty() {
        return String::new();
    }
    let last = named.pop().unwrap_or_default();
    let text = if named.is_empty() {
        last
    } else {
        format!("{} and {last}", named.join(", "))
    };
    format!(" (above all {text} against the mean of the volley)")
}

/// One remedy in words: what to do, and what the throws would do then.
pub fn remedy_words(project: &Project, m: &Remedy) -> String {
    let ft = |d: D| {
        m.from_to.map_or(String::new(), |[a, b]| {
            format!(" ({} to {})", project.say(a, d), project.say(b, d))
        })
    };
    let more = |x: f64| format!("{:.0} % more", 100.0 * (x - 1.0));
    let what = match m.lever {
        Lever::Inertia => format!("{} inertia at the wheel{}", more(m.amount), ft(D::Inertia)),
        Lever::Interval => format!(
            "{} more between throws{}",
            project.say(m.amount, D::Time),
            ft(D::Time)
        ),
        Lever::ReadyBand => format!("a narrower ready band{}", ft(D::Ratio)),
        Lever::Gain => format!("{} proportional gain{}", more(m.amount), ft(D::ProportionalGain)),
        Lever::Integral => format!("less integral gain{}", ft(D::IntegralGain)),
        Lever::SortMass => "pieces sorted by mass (half the spread)".into(),
        Lever::SortSize => "pieces sorted by size (half the spread)".into(),
        Lever::SortStiffness => "pieces sorted by stiffness (half the spread)".into(),
        Lever::Clean => "clean, dry pieces and wheel (half the spread of friction)".into(),
        Lever::Feed => "a feed twice as even".into(),
        Lever::Rails => "rails that centre the piece twice as well".into(),
        Lever::LineUp => "lining up twice as well (a mark on the floor, a stop, a sight)".into(),
        Lever::Stand => "standing on the spot twice as exactly".into(),
        Lever::Squeeze => format!("more squeeze{}", ft(D::Length)),
        Lever::Width => format!("a wheel {} times as wide{}", m.amount, ft(D::Length)),
        Lever::TrueGuide => "a guide twice as true to its arc".into(),
    };
    let spin = match (m.lever, m.spin_up_s) {
        (Lever::Inertia, Some(s)) => format!(", spin-up {}", project.say(s, D::Time)),
        _ => String::new(),
    };
    format!("{what} [hit {}{spin}]", percent(m.hit_frac))
}

/// Usual causes for which the file gives no spread.
fn not_stated(project: &Project) -> Vec<String> {
    let mut out = Vec::new();
    for (key, words) in [("piece.mass", "mass"), ("piece.diameter", "diameter")] {
        if !project.spreads.contains_key(key) {
            out.push(format!("{words} (`{key}`)"));
        }
    }
    let heading =
        (0..project.spots.len()).any(|i| project.spreads.contains_key(&format!("spot[{i}].heading")));
    if !heading {
        out.push("heading (`heading` of each spot)".into());
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_never_misses_is_a_hundred_per_cent() {
        assert_eq!(percent(1.0), "100 %");
        assert_eq!(percent(0.99972), "over 99.9 %");
        assert_eq!(percent(0.9993), "99.9 %");
        assert_eq!(percent(0.0), "0 %");
        assert_eq!(percent(1e-4), "under 0.1 %");
    }

    #[test]
    fn a_setpoint_that_costs_hits_is_not_advised() {
        assert_eq!(
            advice("2659 rpm", "-0.3 %", 0.79, 0.82),
            ", so set 2659 rpm (-0.3 %): hit 82 % instead of 79 %."
        );
        let worse = advice("2659 rpm", "-0.3 %", 0.021, 0.017);
        assert!(!worse.contains("so set"), "{worse}");
        assert!(
            worse.contains("1.7 % go in there, 2.1 % as `aim` has it"),
            "{worse}"
        );
    }

    #[test]
    fn shares_are_said_as_people_say_them() {
        assert_eq!(share_words(0.66), "two thirds");
        assert_eq!(share_words(0.51), "half");
        assert_eq!(share_words(0.42), "42 %");
        assert_eq!(share_words(0.99), "nearly all");
    }
}
