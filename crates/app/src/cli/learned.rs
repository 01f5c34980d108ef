//! What test shots taught, in the words of the commands that use it.

use arcwright_model::units::Dimension as D;

use super::say::wrap;
use super::source::Source;
use crate::tasks::aim::Aimed;
use crate::tasks::floor::taught::Schooled;
use crate::tasks::tables::{signed, turned_by};
use crate::tasks::throw::{Plan, Thrown, throw};

/// What the columns mean.
pub fn legend(aimed: &Aimed) -> String {
    let Some(beside) = &aimed.beside else {
        return String::new();
    };
    let mut text = String::from(
        "The ± is one standard deviation after the shots. `hits to expect` counts single throws at the learned speed: their \
         scatter, and what is not known yet, are in it. `--as-designed` shows the design alone.",
    );
    if beside.spots.iter().chain(&beside.rows).any(|c| c.beyond_the_log) {
        text.push_str(" * more than half a metre beyond the shots.");
    }
    format!("  {}\n", wrap(&text, 112, "  "))
}

/// What the design said of a throw: its own setpoint, or where this one would cross.
pub fn throw_rows(learned: &Schooled, plan: &Plan, thrown: &Thrown) -> Vec<[String; 2]> {
    let project = &learned.design;
    let say = |x, d| project.say(x, d);
    let mut rows = Vec::new();
    if plan.wheel_radps.is_none()
        && let Ok(own) = throw(project, plan)
    {
        rows.push([
            "design".into(),
            format!(
                "would set {} ({} by the shots)",
                say(own.wheel_radps, D::AngularSpeed),
                signed(&say(thrown.wheel_radps - own.wheel_radps, D::AngularSpeed))
            ),
        ]);
    }
    let same = Plan {
        wheel_radps: Some(thrown.wheel_radps),
        ..plan.clone()
    };
    if let Ok(own) = throw(project, &same) {
        let off = own.arrival.crossing.map_or(String::new(), |c| {
            format!(
                "; {} from the centre along",
                say((c.along_m * 1e4).round() * 1e-4, D::Length)
            )
        });
        let lead = if rows.is_empty() { "design" } else { "" };
        rows.push([
            lead.into(),
            format!("expects of this speed: {}{off}", own.arrival.outcome.word()),
        ]);
    }
    rows
}

/// That the launcher is turned back by what it throws to the side; empty where it throws straight or nothing was learned.
pub fn turned_words(source: &Source) -> String {
    let Some(learned) = &source.learned else {
        return String::new();
    };
    turned_by(&source.project, learned.turned_rad)
}

/// Which parts of the scatter come from the shots; empty where nothing was learned.
pub fn scatter_words(source: &Source) -> String {
    let Some(learned) = &source.learned else {
        return String::new();
    };
    let (t, say) = (&learned.taught, |x, d| source.project.say(x, d));
    let s = &t.scatter;
    let parts = [
        ("exit speed", say(s.speed_frac, D::Ratio)),
        ("exit angle", say(s.angle_rad, D::Angle)),
        ("direction", say(s.aside_rad, D::Angle)),
    ];
    let of = |wanted: bool| -> Vec<String> {
        let each = parts.iter().zip(t.scatter_learned);
        each.filter(|(_, known)| *known == wanted)
            .map(|((name, value), _)| format!("{name} {value}"))
            .collect()
    };
    let (known, assumed) = (of(true), of(false));
    let mut text = String::from("From throw to throw, one standard deviation:");
    if !known.is_empty() {
        text.push_str(&format!(" learned from the shots {}.", known.join(", ")));
    }
    if !assumed.is_empty() {
        text.push_str(&format!(" The shots say little yet of: {}.", assumed.join(", ")));
    }
    if s.piece_frac > 0.0 {
        text.push_str(&format!(
            " Exit speed from piece to piece {}.",
            say(s.piece_frac, D::Ratio)
        ));
    }
    text.push_str(
        " Where that is more than the causes in the file explain, the rest is `what test shots showed beyond the model`; \
         where it is less, the causes are made smaller.",
    );
    let turned = turned_words(source);
    if !turned.is_empty() {
        text.push_str(&format!(" {turned}"));
    }
    format!("\n  {}\n", wrap(&text, 112, "  "))
}
