//! What is said about the feed: the same in the terminal and on the page.

use arcwright_model::feed::hopper::{Arrival, Hopper};
use arcwright_model::feed::remedy::{Compared, Ranking};
use arcwright_model::feed::survey::{LoadLine, Mean, Played, Share, Survey, judged_s};
use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;

use super::{kind_words, remedy_words};

/// Where hands get near the machine.
pub const CAUTION: &str = "Never reach into a hopper that is switched on: a stalled stirrer starts when the piece comes free, and the \
roller pulls fingers in. Power off, wait for standstill, then clear it with a stick. The event's rules and the \
supervising adult come first.";

/// A share in per cent.
pub fn percent(x: f64) -> String {
    if x > 0.0 && x < 0.001 {
        "under 0.1 %".to_string()
    } else if x > 0.0 && x < 0.1 || x > 0.9 && x < 1.0 {
        format!("{:.1} %", 100.0 * x)
    } else {
        format!("{:.0} %", 100.0 * x)
    }
}

/// What the loads leave open of a share.
pub fn range(s: &Share) -> String {
    format!("{} to {}", percent(s.low_frac), percent(s.high_frac))
}

fn seconds(project: &Project, m: &Mean) -> String {
    format!(
        "{} ± {}",
        project.say(round(m.mean_s), D::Time),
        project.say(round(2.0 * m.standard_error_s), D::Time)
    )
}

/// Rounded to a hundredth of a second.
fn round(s: f64) -> f64 {
    (s * 100.0).round() / 100.0
}

/// The answer in a sentence: 'of 100 loads, somebody waits longer than 4 s in 55 (50 to 60)'.
pub fn headline(project: &Project, s: &Survey) -> String {
    let of = |x: f64| {
        let hundred = 100.0 * x;
        if hundred > 0.0 && hundred < 10.0 || hundred > 90.0 && hundred < 100.0 {
            format!("{hundred:.1}")
        } else {
            format!("{hundred:.0}")
        }
    };
    let w = &s.waits[JUDGED].loads;
    format!(
        "of 100 loads of {}, somebody waits longer than {} in {} ({} to {})",
        counted(
            project.feed.map_or(0, |f| f.piece_count) as usize,
            "piece",
            "pieces"
        ),
        project.say(judged_s(), D::Time),
        of(w.frac),
        of(w.low_frac),
        of(w.high_frac)
    )
}

/// Place of the wait that the chance of a wedge is about.
const JUDGED: usize = 1;

fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

/// How far a survey has come.
pub fn progress(project: &Project, p: &Played) -> String {
    format!(
        "{} of {} loads at most; so far somebody waited longer than {} in {}",
        p.done_count,
        p.most_count,
        project.say(judged_s(), D::Time),
        p.long_count
    )
}

/// Heads of [`wait_rows`].
pub const WAIT_HEADS: [&str; 9] = [
    "wait above",
    "of the loads",
    "range",
    "of the gaps",
    "range",
    "locked",
    "stalled",
    "circulating",
    "thrown out",
];

/// The survival curve as a table, with how the loads stood at each wait.
pub fn wait_rows(project: &Project, s: &Survey) -> Vec<Vec<String>> {
    s.waits
        .iter()
        .map(|w| {
            let mut row = vec![
                project.say(w.wait_s, D::Time),
                percent(w.loads.frac),
                range(&w.loads),
                percent(w.gaps.frac),
                range(&w.gaps),
            ];
            row.extend(w.stuck_counts.iter().map(ToString::to_string));
            row
        })
        .collect()
}

/// What the columns mean.
pub const WAIT_NOTE: &str = "`of the loads`: in how many somebody waits that long for some piece. `of the gaps`: how many waits from piece to piece \
are that long. `range` is what these loads leave open. Then the loads by how they stood at that moment: `locked` nothing moves, `stalled` \
the stirrer stands and pieces still move, `circulating` pieces move and none comes out, `thrown out` over the walls.";

/// What else many loads showed, a sentence or two each.
pub fn survey_lines(project: &Project, s: &Survey) -> Vec<String> {
    let mut lines = Vec::new();
    if s.stopped {
        lines.push(format!(
            "Broken off after {} loads: what they leave open stands in `range`.",
            s.load_count
        ));
    } else if !s.settled {
        lines.push(format!(
            "Known less well than asked: more loads would narrow it (`--loads {}`).",
            4 * s.load_count
        ));
    }
    for k in &s.kinds {
        let (_, what) = kind_words(k.kind);
        let used = if k.used_frac > 0.0 {
            format!(
                "; it uses {} of the friction there is, and slips at 100 %",
                percent(k.used_frac)
            )
        } else {
            String::new()
        };
        lines.push(format!(
            "{} of {} wedges: {what}{used}.",
            k.count,
            s.kinds.iter().map(|k| k.count).sum::<usize>()
        ));
    }
    let longest = project.say(s.waits[3].wait_s, D::Time);
    let then = if s.between.mean_s > 0.0 {
        format!("then one every {}", seconds(project, &s.between))
    } else {
        "and no second one".to_string()
    };
    lines.push(format!(
        "First piece after {} on average, {then} (a wait that does not end counts as {longest}).",
        seconds(project, &s.first)
    ));
    if let Some(flowing) = &s.flowing {
        lines.push(format!(
            "While nothing wedges: one every {}.",
            seconds(project, flowing)
        ));
        if let Some(asked) = project.limits.throw_interval_s {
            let (slower, what) = if flowing.mean_s > asked {
                ("The feed is slower than", "the volley waits for pieces")
            } else {
                ("The feed keeps up with", "the wheel sets the pace")
            };
            lines.push(format!(
                "{slower} the {} between throws that the brief asks for: {what}.",
                project.say(asked, D::Time)
            ));
        }
    }
    lines.push(format!(
        "Two pieces under the roller at once: {} ({}). Out in another order than in: {} of the loads ({}).",
        percent(s.doubles.frac),
        range(&s.doubles),
        percent(s.swapped.frac),
        range(&s.swapped)
    ));
    if let (Some(aside), Some(above)) = (&s.aside, &s.above) {
        let mm = |v: f64| project.say((v * 1e4).round() / 1e4, D::Length);
        lines.push(format!(
            "Pieces leave the feed {} to the side of the middle (standard deviation) and {} up and down; `throws.entry` takes the first.",
            mm((aside.sd_m * aside.sd_m + aside.mean_m * aside.mean_m).sqrt()),
            mm(above.sd_m)
        ));
    }
    lines.push(format!(
        "Greatest force on a piece: {} in half of the loads, {} at most; pressed in by {} of its diameter at most.",
        project.say(s.peak_n[0].round(), D::Force),
        project.say(s.peak_n[1].round(), D::Force),
        percent(s.pressed_frac)
    ));
    if let Some(w) = &s.worst {
        lines.push(format!(
            "The worst: load {}, after {} {} out.",
            w.index,
            w.came_count,
            if w.came_count == 1 {
                "piece was"
            } else {
                "pieces were"
            }
        ));
    }
    lines
}

/// One load of the list, in words: how long somebody waited, and what held it.
pub fn load_words(project: &Project, l: &LoadLine) -> String {
    let open = l.stuck[WAITS - 1].is_some();
    let waited = project.say(round(l.longest_s), D::Time);
    let what = l.kind.map_or(String::new(), |k| format!(": {}", kind_words(k).1));
    let out = counted(l.came_count, "piece", "pieces");
    if open {
        format!("no end of the wait after {out}{what}")
    } else {
        format!("longest wait {waited}, {out} out{what}")
    }
}

/// How many waits are looked at.
const WAITS: usize = 4;

/// Heads of [`remedy_rows`].
pub const REMEDY_HEADS: [&str; 7] = [
    "change",
    "wedged",
    "points removed",
    "work",
    "",
    "better than the next",
    "aside",
];

/// The ranking's first sentence.
pub fn ranking_line(project: &Project, r: &Ranking) -> String {
    format!(
        "What would help against a wait above {}, on the same {} loads; now {} ({}), and pieces leave {} to the side",
        project.say(judged_s(), D::Time),
        r.load_count,
        percent(r.now.frac),
        range(&r.now),
        aside(project, r.now_aside_m)
    )
}

/// The ranking as a table.
pub fn remedy_rows(project: &Project, now: &Hopper, r: &Ranking) -> Vec<Vec<String>> {
    r.compared
        .iter()
        .map(|c| {
            let verdict = match (c.established, c.removed.frac > 0.0) {
                (true, true) => "helps",
                (true, false) => "harms",
                (false, _) => "not established",
            };
            vec![
                remedy_words(project, now, c.remedy.code, &c.remedy.hopper),
                percent(c.stuck.frac),
                removed(c),
                format!("{:.1} h", c.remedy.work_s / 3600.0),
                verdict.to_string(),
                if c.beats_next { "yes" } else { "not established" }.to_string(),
                aside(project, c.aside_m),
            ]
        })
        .collect()
}

/// The best for its effort and the best overall, in a sentence or two; empty where nothing is sure to help.
pub fn best_words(project: &Project, now: &Hopper, r: &Ranking) -> String {
    let (Some(most), Some(first)) = (r.most, r.compared.first()) else {
        return String::new();
    };
    let said = |c: &Compared| {
        format!(
            "{}, {} points for {:.1} h",
            remedy_words(project, now, c.remedy.code, &c.remedy.hopper),
            removed(c),
            c.remedy.work_s / 3600.0
        )
    };
    match r.compared.get(most.index).filter(|_| most.index > 0) {
        None => format!("Best for its effort and best overall: {}.", said(first)),
        Some(c) => format!(
            "Best for its effort: {}. Best overall: {}; that it removes more than the first is {}.",
            said(first),
            said(c),
            if most.beats_first {
                "established"
            } else {
                "not established"
            }
        ),
    }
}

/// What the ranking's columns mean.
pub const RANKING_NOTE: &str = "Points of a hundred loads that no longer wait, with the range that these loads leave open. What helps stands first, by points for \
each hour of work; the hours are a guess. `aside`: how far to the side of the middle pieces leave, root mean square; what rails are for. \
`not established`: these loads do not tell whether it helps; more might.";

fn aside(project: &Project, aside_m: Option<f64>) -> String {
    aside_m.map_or("-".to_string(), |v| {
        project.say((v * 1e4).round() / 1e4, D::Length)
    })
}

/// What a broken-off ranking has not played; empty where all was.
pub fn left_words(r: &Ranking) -> String {
    if r.left.is_empty() {
        String::new()
    } else {
        format!(
            "Broken off: {} not played.",
            counted(r.left.len(), "change was", "changes were")
        )
    }
}

/// Points of a hundred loads removed, with their range.
pub fn removed(c: &Compared) -> String {
    let signed = |x: f64| format!("{}{:.0}", if x < 0.0 { "-" } else { "+" }, 100.0 * x.abs());
    let r = &c.removed;
    format!(
        "{} ({} to {})",
        signed(r.frac),
        signed(r.low_frac),
        signed(r.high_frac)
    )
}

/// What a change did, in a sentence for the judged wait.
pub fn change_words(project: &Project, before: &Survey, after: &Survey, gone: &[Share]) -> String {
    let Some(g) = gone.get(JUDGED) else {
        return String::new();
    };
    let points = |x: f64| format!("{:.0}", 100.0 * x);
    let both = before.load_count.min(after.load_count);
    let verdict = if g.low_frac > 0.0 {
        "It helps, and chance alone does not explain it."
    } else if g.high_frac < 0.0 {
        "It harms, and chance alone does not explain it."
    } else {
        "Whether it helps is not established: more loads might tell."
    };
    format!(
        "On the same {both} loads: a wait above {} goes from {} to {} of the loads, {} points of a hundred less ({} to {}). {verdict}",
        project.say(judged_s(), D::Time),
        percent(before.waits[JUDGED].loads.frac),
        percent(after.waits[JUDGED].loads.frac),
        points(g.frac),
        points(g.low_frac),
        points(g.high_frac)
    )
}

/// How pieces come into the hopper.
pub fn arrival(project: &Project) -> &'static str {
    match project.feed.map(|f| f.hopper.loading.arrival) {
        Some(Arrival::Poured) => "poured in all at once",
        Some(Arrival::Intake) => "brought one by one by an intake",
        Some(Arrival::Dropped) | None => "dropped in one by one",
    }
}
