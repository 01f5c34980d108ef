//! The forms of a hand-over: table, and source in four languages.

use arcwright_model::finding::Finding;

use super::{Hand, Stamp};
use crate::tasks::floor::separated;

/// A form.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Table with remarks.
    Csv,
    /// C (C99) and C++.
    C,
    /// Java.
    Java,
    /// Python 3.
    Python,
    /// Kotlin.
    Kotlin,
}

/// How a language writes its remarks and constants.
struct Language {
    form: Form,
    word: &'static str,
    file: &'static str,
    source: &'static str,
    remark: &'static str,
    row: [&'static str; 2],
}

const LANGUAGES: [Language; 5] = [
    Language {
        form: Form::Csv,
        word: "csv",
        file: "setpoints.csv",
        source: "@HEADER@\n@CONSTANTS@\n@ROWS@\n@END@\n",
        remark: "# ",
        row: ["", ""],
    },
    Language {
        form: Form::C,
        word: "c",
        file: "thrower_setpoints.h",
        source: include_str!("source/setpoints.h"),
        remark: " * ",
        row: ["    {", "},"],
    },
    Language {
        form: Form::Java,
        word: "java",
        file: "ThrowerSetpoints.java",
        source: include_str!("source/ThrowerSetpoints.java"),
        remark: "// ",
        row: ["        {", "},"],
    },
    Language {
        form: Form::Python,
        word: "python",
        file: "thrower_setpoints.py",
        source: include_str!("source/thrower_setpoints.py"),
        remark: "# ",
        row: ["    (", "),"],
    },
    Language {
        form: Form::Kotlin,
        word: "kotlin",
        file: "ThrowerSetpoints.kt",
        source: include_str!("source/ThrowerSetpoints.kt"),
        remark: "// ",
        row: ["        doubleArrayOf(", "),"],
    },
];

/// First words of every hand-over, with the version of its shape.
pub(super) const MARK: &str = "arcwright hand-over 1: ";
/// Last words of every hand-over.
pub(super) const END: &str = "end of the arcwright hand-over";

/// Rounding: digits behind the point of a row; a millionth of a radian per second is nothing.
const ROW_DIGITS: usize = 6;
/// Rounding: digits of a constant, of which the volts for each rad/s are smallest (about 0.02).
const CONSTANT_DIGITS: usize = 9;

impl Form {
    /// All of them.
    pub const ALL: [Form; 5] = [Form::Csv, Form::C, Form::Java, Form::Python, Form::Kotlin];

    fn language(self) -> &'static Language {
        let found = LANGUAGES.iter().find(|l| l.form == self);
        found.unwrap_or(&LANGUAGES[0])
    }

    /// The word on the command line and in the head.
    pub fn word(self) -> &'static str {
        self.language().word
    }

    /// The form with that word.
    pub fn named(word: &str) -> Option<Form> {
        Form::ALL.into_iter().find(|f| f.word() == word)
    }

    /// Name of its file.
    pub fn file(self) -> &'static str {
        self.language().file
    }
}

/// A text that ends no remark in any of the languages and needs no encoding.
fn plain(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match c {
            '°' => out.push_str(" deg"),
            '±' => out.push_str("+-"),
            'µ' | 'μ' => out.push('u'),
            '\u{2212}' | '–' | '—' => out.push('-'),
            // Both begin escapes or end remarks somewhere.
            '\\' => out.push('/'),
            '*' => out.push('x'),
            c if c.is_control() => out.push(' '),
            c if c.is_ascii() => out.push(c),
            _ => out.push('?'),
        }
    }
    out
}

fn header(language: &Language, stamp: &Stamp) -> String {
    let remark = language.remark;
    let (open, close) = match language.form {
        Form::C => ("/* ", "\n */"),
        _ => (remark, ""),
    };
    let mut text = format!("{open}{MARK}{}", language.word);
    for (key, value) in stamp.lines() {
        text.push_str(&format!("\n{remark}{key}: {}", plain(value)));
    }
    for line in stamp.remarks.iter().map(String::as_str).chain(REMARKS) {
        text.push_str(&format!("\n{remark}- {}", plain(line)));
    }
    text + close
}

/// What stands in every head.
const REMARKS: [&str; 4] = [
    "throw only when the distance is in range and the wheel is ready; outside the range the nearest row is given and told",
    "does it still match the project? arcwright hand --verify THIS_FILE",
    "guard the wheels, eye protection for everyone in range, nobody in line with the throw, a way to stop it within reach",
    "numbers for planning; the event's rules, local codes and the supervising adult govern",
];

/// A hand-over in a form.
///
/// # Errors
/// A finding when the table cannot be made.
pub fn text(hand: &Hand, form: Form) -> Result<String, Finding> {
    let language = form.language();
    let rows = if form == Form::Csv {
        table(hand)?
    } else {
        let [open, close] = language.row;
        let each = hand.lookup.rows.iter().map(|r| {
            let cells = cells([r.distance_m, r.wheel_radps, r.wheel_sd_radps, r.lead_rad]);
            format!("{open}{}{close}", cells.join(", "))
        });
        // No language minds a comma behind the last row but Kotlin before 1.4.
        let all = each.collect::<Vec<_>>().join("\n");
        all.strip_suffix(',').map_or(all.clone(), str::to_string)
    };
    let constants: Vec<String> = hand
        .constants
        .iter()
        .map(|c| {
            // Ends of the table are written as in its rows.
            let digits = if c.name.ends_with("EST_M") {
                ROW_DIGITS
            } else {
                CONSTANT_DIGITS
            };
            let (name, doc) = (c.name, c.doc);
            let value = format!("{:.digits$}", if c.value.is_finite() { c.value } else { 0.0 });
            match form {
                Form::Csv => format!("# {} = {value}  ({doc})", name.to_lowercase()),
                Form::C => format!("/* {doc} */\n#define THROWER_{name} ({value})"),
                Form::Java => {
                    format!("    /** {doc} */\n    public static final double {name} = {value};")
                }
                Form::Python => format!("{name} = {value}  # {doc}"),
                Form::Kotlin => format!("    /** {doc} */\n    const val {name}: Double = {value}"),
            }
        })
        .collect();
    let end = match form {
        Form::C => format!("/* {END} */"),
        _ => format!("{}{END}", language.remark),
    };
    Ok(language
        .source
        .replace("@CONSTANTS@", &constants.join("\n"))
        .replace("@COUNT@", &hand.lookup.rows.len().to_string())
        .replace("@ROWS@", rows.trim_end())
        .replace("@END@", &end)
        .replace("@HEADER@", &header(language, &hand.stamp)))
}

fn cells<const N: usize>(values: [f64; N]) -> Vec<String> {
    let each = values.iter();
    each.map(|x| format!("{:.ROW_DIGITS$}", if x.is_finite() { *x } else { 0.0 }))
        .collect()
}

/// The rows, with turns per minute beside.
fn table(hand: &Hand) -> Result<String, Finding> {
    const RPM: f64 = std::f64::consts::PI / 30.0;
    let head = [
        "distance_m",
        "wheel_radps",
        "wheel_sd_radps",
        "lead_rad",
        "wheel_rpm",
    ];
    let mut lines = vec![head.map(str::to_string).to_vec()];
    for r in &hand.lookup.rows {
        lines.push(cells([
            r.distance_m,
            r.wheel_radps,
            r.wheel_sd_radps,
            r.lead_rad,
            r.wheel_radps / RPM,
        ]));
    }
    separated::written(&lines)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_cannot_end_a_remark_or_start_an_escape() {
        let nasty = plain("x */ evil(); /* \\u000a \n \"\"\" 8° ü");
        assert!(!nasty.contains("*/") && !nasty.contains("/*"), "{nasty}");
        assert!(!nasty.contains('\\') && !nasty.contains('\n'), "{nasty}");
        assert!(nasty.is_ascii() && nasty.contains("8 deg"), "{nasty}");
    }
}
