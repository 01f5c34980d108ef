//! Which project, which fit, which day, which program: the head of everything handed over.

use super::From;
use crate::project::flat;
use crate::tasks::floor::taught::Basis;
use crate::tasks::floor::time;

/// The head.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// Name of the project.
    pub project: String,
    /// Fingerprint of the project file.
    pub fingerprint: String,
    /// The mechanical setting in words.
    pub setting: String,
    /// What the numbers rest on, in a line.
    pub basis: String,
    /// The fit, or `none`.
    pub fit: String,
    /// The day, local.
    pub made: String,
    /// The program and its version.
    pub tool: String,
    /// What else must be known, each in a line.
    pub remarks: Vec<String>,
}

impl Stamp {
    pub(super) fn of(from: &From<'_>) -> Stamp {
        let project = from.project;
        let fit = match from.basis {
            Basis::Learned(fit, _) => format!(
                "{}, {} shots in {} sessions",
                time::utc(fit.made_utc_ms),
                fit.shot_count,
                fit.session_count
            ),
            Basis::Nothing | Basis::Design(_) => "none".to_string(),
        };
        let mut remarks = vec![
            "distance is level, from the wheel axle's plumb line to the near rim, straight ahead of the target"
                .to_string(),
        ];
        if project.moving.moves() {
            remarks.push(
                "made for a robot that moves as [moving] says; another motion needs another table".into(),
            );
        }
        if !from.turned.is_empty() {
            remarks.push(from.turned.to_string());
        }
        Stamp {
            project: project.name.clone(),
            fingerprint: fingerprint(from.text),
            setting: project.setting_words(&project.machine.setting),
            basis: match from.line {
                "" => "the design alone, no test shots".to_string(),
                line => line.to_string(),
            },
            fit,
            made: time::day(time::now_ms()),
            tool: format!("arcwright {}", env!("CARGO_PKG_VERSION")),
            remarks,
        }
    }

    /// Lines of the head, `key: value`, that tell where it comes from.
    pub fn lines(&self) -> Vec<(&'static str, &str)> {
        vec![
            ("project", &self.project),
            ("fingerprint", &self.fingerprint),
            ("setting", &self.setting),
            ("basis", &self.basis),
            ("fit", &self.fit),
            ("made", &self.made),
            ("tool", &self.tool),
        ]
    }
}

/// Fingerprint of a project file: its keys and values, whatever its remarks, blank lines and order.
/// FNV-1a with 64 bits \[fnv\], enough to tell one state of a file from the next.
pub fn fingerprint(text: &str) -> String {
    let mut lines = match flat(text) {
        Some(all) => all
            .into_iter()
            .map(|(key, value)| format!(".{key}={value}"))
            .collect(),
        None => vec![text.to_string()],
    };
    lines.sort_unstable();
    format!("{:016x}", fnv1a(lines.join("\n").as_bytes()))
}

fn fnv1a(bytes: &[u8]) -> u64 {
    const BASIS: u64 = 0xcbf2_9ce4_8422_2325;
    const PRIME: u64 = 0x0000_0100_0000_01b3;
    let step = |hash: u64, byte: &u8| (hash ^ u64::from(*byte)).wrapping_mul(PRIME);
    bytes.iter().fold(BASIS, step)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Test vectors of the hash's authors [fnv], from memory.
    #[test]
    fn the_hash_gives_its_published_vectors() {
        assert_eq!(fnv1a(b""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(fnv1a(b"a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(fnv1a(b"foobar"), 0x8594_4171_f739_67e8);
    }

    #[test]
    fn remarks_and_order_do_not_change_the_fingerprint_and_a_value_does() {
        let a = fingerprint("x = 1\n[t]\na = \"3 mm\" # note\nb = [1, 2.5]\n");
        let b = fingerprint("# another\nx = 1\n\n[t]\nb = [1, 2.5]\na = '3 mm'\n");
        assert_eq!(a, b);
        for other in [
            "x = 2\n[t]\na = \"3 mm\"\nb = [1, 2.5]\n",
            "x = 1\n[t]\na = \"4 mm\"\nb = [1, 2.5]\n",
            "x = 1\n[t]\na = \"3 mm\"\nb = [2.5, 1]\n",
            "x = 1\n[u]\na = \"3 mm\"\nb = [1, 2.5]\n",
        ] {
            assert_ne!(a, fingerprint(other), "{other}");
        }
    }
}
