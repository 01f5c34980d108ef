//! A check between matches in plain words.

use arcwright_model::floor::drift::{Chart, DriftCheck, run_lengths};
use arcwright_model::floor::telemetry::{Dip, Dips, Shift};
use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;

use super::drift::{
    Drift, Misses, Verdict, WORTH_FRAC, change_words, in_ten, look_at, numbers, ordinary, to_do,
};
use crate::store::LoggedShot;

/// What a check says, each part a few lines.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Says {
    /// The answer, and what keeps it from being one.
    pub verdict: String,
    /// What it rests on, and what it could have found.
    pub basis: String,
    /// What is most likely; empty where nothing has changed.
    pub likely: String,
    /// What to do; empty where there is nothing to do.
    pub to_do: String,
}

impl Says {
    /// The answer, what is likely and what to do, line by line without the spaces that set them in.
    pub fn lines(&self) -> Vec<String> {
        trimmed(&[&self.verdict, &self.likely, &self.to_do])
    }

    /// What the answer rests on, line by line.
    pub fn basis_lines(&self) -> Vec<String> {
        trimmed(&[&self.basis])
    }
}

fn trimmed(parts: &[&str]) -> Vec<String> {
    let lines = parts.iter().flat_map(|part| part.lines());
    lines
        .map(|l| l.trim().to_string())
        .filter(|l| !l.is_empty())
        .collect()
}

/// Everything in plain words.
pub fn says(project: &Project, d: &Drift) -> Says {
    let which = format!(
        "shot{} {} against what the {} before taught",
        if d.later.len() == 1 { "" } else { "s" },
        numbers(&d.later),
        d.earlier.len()
    );
    let mut says = Says {
        verdict: match d.verdict {
            Verdict::Changed => format!("Something has changed: {which}.\n"),
            Verdict::NotShown => format!("No change shown: {which}.\n"),
            Verdict::TooLittle => format!("Too little to say: {which}.\n"),
        },
        ..Says::default()
    };
    if !d.fitted.confident {
        for note in d.fitted.diagnostics.iter().filter(|n| n.forbids_confidence) {
            says.verdict
                .push_str(&format!("  {}\n  fix {}\n", note.what, note.fix));
        }
    }
    match (&d.check, &d.misses) {
        (Some(c), _) => measured_words(project, d, c, &mut says),
        (None, Some(m)) => miss_words(project, m, d.later.len(), &mut says.basis),
        (None, None) => says.basis.push_str(
            "  Nothing was measured, and by what was learned hits and misses say nothing here: say how far each misses, such as `long 12cm`.\n",
        ),
    }
    if d.verdict == Verdict::Changed {
        says.to_do.push_str("\nWhat to do, the least work first\n");
        for (i, line) in to_do(d, project).iter().enumerate() {
            says.to_do.push_str(&format!("  {}. {line}.\n", i + 1));
        }
        says.to_do.push_str(
            "  Battery off before hands go near the wheel; eye protection on; nobody in line with it.\n",
        );
    } else if d.verdict == Verdict::TooLittle {
        says.to_do
            .push_str("  Throw five, and say how far each misses.\n");
    }
    says
}

fn measured_words(project: &Project, d: &Drift, c: &DriftCheck, says: &mut Says) {
    let text = &mut says.basis;
    text.push_str("  Sd is one standard deviation: scatter, reading and doubt of what was learned together");
    text.push_str(&if d.seen.along_sd_m.is_finite() {
        format!("; along about {}.\n", project.say(d.seen.along_sd_m, D::Length))
    } else {
        ".\n".into()
    });
    if c.alarms.iter().any(|a| a.chart == Chart::Spread) {
        text.push_str("  They scatter more than the earlier ones did.\n");
    }
    let [quiet, one, two] = run_lengths(c.watch);
    text.push_str(&format!(
        "  With nothing changed, a check like this calls in about {:.0} of 100. Left running, one chart with this limit calls falsely once in {quiet:.0} shots; it finds a shift of one sd after {one:.1} shots, of two after {two:.1}.\n",
        (100.0 * c.false_alarm_frac).round()
    ));
    if d.verdict == Verdict::Changed {
        let text = &mut says.likely;
        text.push_str("\nMost likely\n");
        for e in c.ranked.iter().filter(|e| e.share_frac >= WORTH_FRAC) {
            text.push_str(&format!(
                "  {}: {}; look at {}.\n",
                in_ten(e.share_frac),
                change_words(project, e),
                look_at(e).join(", ")
            ));
        }
        if c.ranked.first().is_some_and(|e| ordinary(&d.fitted, e)) {
            text.push_str("  That is no more than one day differs from the next: nothing need be broken.\n");
        }
    } else {
        text.push_str(&findable_words(project, c));
    }
}

fn findable_words(project: &Project, c: &DriftCheck) -> String {
    let f = &c.findable;
    let mut parts = Vec::new();
    if let Some(x) = f.speed_frac {
        parts.push(format!("of speed by {}", project.say(x, D::Ratio)));
    }
    if let Some(x) = f.angle_rad {
        parts.push(format!("of the angle by {}", project.say(x, D::Angle)));
    }
    if let Some(x) = f.heading_rad {
        parts.push(format!("of the heading by {}", project.say(x, D::Angle)));
    }
    let count = c.shots;
    if parts.is_empty() {
        return format!(
            "  {count} such shots find no lasting change four times out of five, however large: throw more.\n"
        );
    }
    format!(
        "  {count} such shots find a change four times out of five from this size on: {}. A smaller one may be there.\n",
        parts.join(", ")
    )
}

fn miss_words(project: &Project, m: &Misses, shots: usize, text: &mut String) {
    let say = |v: f64| project.say(v, D::Ratio);
    let [usual, feared] = m.rates_frac;
    text.push_str(&format!(
        "  {} of {shots} missed; by what was learned {} of throws do. It is watched for {}.\n",
        m.missed,
        say(usual),
        say(feared)
    ));
    text.push_str(&format!(
        "  Only hits and misses are known. Such a watch calls falsely once in {:.0} shots and needs {:.0} to find the change; with every miss measured it takes {:.0}.\n",
        m.watch.false_alarm_every_count, m.watch.found_after_count, m.watch.measured_found_after_count
    ));
}

/// The throws of the log whose wheel speed was measured before and after.
pub fn dips_of(logged: &[LoggedShot]) -> Dips {
    let dips = logged.iter().filter_map(|l| {
        let (before_radps, after_radps) = (l.shot.before_radps?, l.shot.after_radps?);
        Some(Dip {
            time_s: f64::NAN,
            before_radps,
            before_sd_radps: 0.0,
            after_radps,
            after_sd_radps: 0.0,
            dip_frac: 1.0 - after_radps / before_radps,
            recovery_s: None,
            battery_v: l.shot.battery_v,
            lowest_v: None,
        })
    });
    Dips {
        dips: dips.collect(),
        noise_radps: 0.0,
        step_radps: 0.0,
        smallest_radps: 0.0,
    }
}

/// Heads of [`shift_rows`].
pub const SHIFTS_HEAD: [&str; 5] = ["", "then", "now", "change, 95 of 100 such pairs", ""];

/// What two logs have in common, in the columns of [`SHIFTS_HEAD`].
pub fn shift_rows(project: &Project, shifts: &[Shift]) -> Vec<Vec<String>> {
    let say = |v: f64, s: &Shift| match s.dimension {
        D::Number => format!("{v:.4}"),
        d => project.say(v, d),
    };
    let more = |ratio: f64| format!("{:+.0} %", 100.0 * (ratio - 1.0));
    let each = shifts.iter();
    each.map(|s| {
        vec![
            s.noun.to_string(),
            say(s.earlier.value, s),
            say(s.later.value, s),
            format!(
                "{} ({} to {})",
                more(s.ratio.value),
                more(s.ratio.low),
                more(s.ratio.high)
            ),
            if s.changed { "changed" } else { "not shown" }.into(),
        ]
    })
    .collect()
}

/// The answer of two logs, and what to look at.
pub fn shift_says(file: &str, than: &str, shifts: &[Shift]) -> Says {
    if shifts.is_empty() {
        return Says {
            verdict: format!(
                "Too little to say: {file} and {than} have nothing in common that can be compared.\n"
            ),
            to_do: "  Log duty and battery voltage beside the wheel speed, spin up from rest, and throw three times at least.\n"
                .into(),
            ..Says::default()
        };
    }
    let changed: Vec<&Shift> = shifts.iter().filter(|s| s.changed).collect();
    let mut says = Says {
        verdict: if changed.is_empty() {
            format!("No change shown: {file} against {than}.\n")
        } else {
            format!("Something has changed: {file} against {than}.\n")
        },
        ..Says::default()
    };
    for s in &changed {
        says.likely
            .push_str(&format!("  {}: look at {}.\n", s.noun, s.look_at));
    }
    says.likely.push_str(
        "  All are looked at at once: with nothing changed, one such pair of logs in twenty would still call.\n",
    );
    if !changed.is_empty() {
        says.to_do
            .push_str("  Battery off before hands go near the wheel.\n");
    }
    says
}
