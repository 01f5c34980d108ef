//! The study's tables as text.

use crate::hand::Hand;
use crate::play::{KEPT, Outcome, by_hand, by_model};
use crate::robot::Scenario;
use crate::tuner::{Data, Manner};

/// How many machines, and which.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Plan {
    /// Machines for each row.
    pub robots: usize,
    /// Seed.
    pub seed: u64,
    /// All rows; else those that say most.
    pub full: bool,
}

fn manner(data: Data) -> Manner {
    Manner {
        data,
        uneven_terms: false,
        in_turn: false,
    }
}

/// Plays everything and hands over one line after the other, so that a long run shows where it is.
pub fn tables(plan: &Plan, mut say: impl FnMut(&str)) {
    let Plan { robots, seed, full } = *plan;
    let usual = Scenario::usual();
    say(&format!("{robots} machines from the prior, seed {seed}\n"));
    say(&head());
    let mut by_rule = Vec::new();
    for rule in [Hand::Bisect, Hand::Halving, Hand::OneOverT] {
        let o = by_hand(&usual, rule, robots, seed);
        say(&row(rule.words(), &o));
        by_rule.push(o);
    }
    let kinds: &[Data] = if full {
        &[Data::Class, Data::Eye, Data::Mixed, Data::Measured, Data::Landing]
    } else {
        &[Data::Class, Data::Eye, Data::Mixed]
    };
    let mut covered = Vec::new();
    for data in kinds {
        let o = by_model(&usual, &manner(*data), robots, 40, seed);
        say(&row(data.words(), &o));
        covered.push((data.words().to_string(), o));
    }
    if let Some(b) = by_rule.last() {
        say(&format!(
            "\nWith the design's own table {:.3} of throws go in, with the true one {:.3}.\n",
            b.untuned, b.perfect
        ));
    }
    if full {
        let wrong = Scenario {
            wrong_prior: true,
            ..usual
        };
        say("\nThe prior wrong by two sigma in speed and one and a half in drag\n");
        say(&head());
        for rule in [Hand::Halving, Hand::OneOverT] {
            say(&row(rule.words(), &by_hand(&wrong, rule, robots, seed)));
        }
        for data in [Data::Class, Data::Eye, Data::Mixed] {
            say(&row(
                data.words(),
                &by_model(&wrong, &manner(data), robots, 40, seed),
            ));
        }
    }
    if full {
        let calm = Scenario {
            trouble: Default::default(),
            ..usual
        };
        let o = by_model(&calm, &manner(Data::Class), robots, 40, seed);
        covered.push(("model, in or out only, no flyers".into(), o));
        let slips = Scenario {
            trouble: arcwright_model::floor::rehearse::Trouble {
                miscall_frac: 0.02,
                ..usual.trouble
            },
            ..usual
        };
        for data in [Data::Class, Data::Mixed] {
            let o = by_model(&slips, &manner(data), robots, 40, seed);
            covered.push((format!("{}, one call in fifty wrong", data.words()), o));
        }
        let wild = Scenario {
            trouble: arcwright_model::floor::rehearse::Trouble {
                flyer_frac: 0.10,
                ..usual.trouble
            },
            ..usual
        };
        let o = by_model(&wild, &manner(Data::Mixed), robots, 40, seed);
        covered.push(("model, mixed, one throw in ten wild".into(), o));
    }
    for terms in [false, true] {
        let manner = Manner {
            uneven_terms: terms,
            ..manner(Data::Mixed)
        };
        let o = by_model(&Scenario::uneven(), &manner, robots, 24, seed);
        let with = if terms { "with terms for them" } else { "left out" };
        covered.push((format!("model, mixed, uneven pieces and volleys {with}"), o));
    }
    say("\nShare of 95 % intervals that hold the truth, setpoints at nine distances | parameters\n");
    say(&format!(
        "{:58}{:>8}{:>8}{:>8}   {:>8}{:>8}{:>8}\n",
        "shots", 12, 24, 40, 12, 24, 40
    ));
    for (words, o) in &covered {
        let mut line = format!("{words:58}");
        for (k, list) in [&o.setpoints, &o.parameters].into_iter().enumerate() {
            if k == 1 {
                line.push_str("   ");
            }
            for n in [12, 24, 40] {
                let at = KEPT.iter().position(|x| *x == n).and_then(|i| list.get(i));
                line.push_str(&at.map_or(format!("{:>8}", "-"), |x| format!("{x:8.3}")));
            }
        }
        say(&format!("{line}\n"));
    }
    say(
        "\nThe sign to stop: by how many shots half and nine tenths of the machines had it; hits in 100 that were truly\n",
    );
    say(
        "lacking then, mean and ninth decile; what the fit thought; shots in which the best rule by hand lacks as little\n",
    );
    for (words, o) in covered.iter().take(kinds.len()) {
        let by = |share| match o.stopped_by(share) {
            Some(n) if n <= 40 => n.to_string(),
            _ => ">40".into(),
        };
        let line = match o.lacked() {
            // No machine had it: nothing lacked.
            None => format!("{:>8}{:>8}{:>8}{:>8}", "-", "-", "-", "-"),
            Some([mean, decile]) => {
                let reached = by_rule
                    .iter()
                    .filter_map(|h| h.shots_to(1.0 - mean / h.perfect))
                    .min();
                format!(
                    "{:8.1}{:8.1}{:8.1}{:>8}",
                    100.0 * mean,
                    100.0 * decile,
                    100.0 * o.thought_lacking,
                    reached.map_or(">40".to_string(), |n| n.to_string())
                )
            }
        };
        say(&format!("{words:42}{:>8}{:>8}{line}\n", by(0.5), by(0.9)));
    }
}

fn head() -> String {
    let mut line = format!("{:46}", "share of throws that go in after shots");
    for k in KEPT {
        line.push_str(&format!("{k:>7}"));
    }
    format!("{line}{:>8}{:>7}\n", "95 %", "97 %")
}

fn row(words: &str, o: &Outcome) -> String {
    let mut line = format!("{words:46}");
    for h in &o.hits {
        line.push_str(&format!("{h:7.3}"));
    }
    for share in [0.95, 0.97] {
        let width = if share == 0.95 { 8 } else { 7 };
        let reached = o.shots_to(share).map_or(">40".to_string(), |n| n.to_string());
        line.push_str(&format!("{reached:>width$}"));
    }
    format!("{line}\n")
}
