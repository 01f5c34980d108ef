//! `measure`: friction, bounce or stiffness of the own pieces from a few readings.

use arcwright_model::project::Project;
use clap::Args;

use super::say::wrap;
use super::{Answer, Common, FINE, Refusal, check, source};
use crate::tasks::feed::measure::{GUIDES, Guide, Reading, guide, json, read};

#[derive(Args)]
pub struct MeasureArgs {
    /// What: friction, piece-friction, rolling, bounce or stiffness [default: how each is done]
    #[arg(value_name = "WHAT")]
    what: Option<String>,
    /// Three to ten readings, such as "17 deg" "16.5 deg" "18 deg" [default: how it is done]
    #[arg(value_name = "READING")]
    readings: Vec<String>,
    /// Height of the drop for bounce, squeeze for stiffness
    #[arg(long, value_name = "LENGTH")]
    over: Option<String>,
    /// Project folder or file [default: the current folder, or the demo where it has no arcwright.toml]
    #[arg(long = "in", value_name = "PROJECT")]
    project: Option<std::path::PathBuf>,
    /// Use a built-in demo: lantern, bramble or pebble
    #[arg(long, value_name = "NAME", conflicts_with = "project")]
    demo: Option<String>,
    /// Write the value into the project file, keeping remarks and order; the text before stays beside it
    #[arg(long)]
    write: bool,
    /// Print JSON (SI, versioned; see docs/json.md) instead of text
    #[arg(long)]
    json: bool,
}

const WIDTH: usize = 100;

pub fn run(args: &MeasureArgs) -> Result<Answer, Refusal> {
    let fine = |text| Ok(Answer { text, code: FINE });
    let Some(what) = &args.what else {
        return fine(GUIDES.iter().map(guide_words).collect::<Vec<_>>().join("\n"));
    };
    let guide = guide(what).map_err(|f| Refusal::finding(&f))?;
    if args.readings.is_empty() {
        return fine(guide_words(guide));
    }
    let source = source::load(&Common {
        project: args.project.clone(),
        demo: args.demo.clone(),
        ..Common::default()
    })?;
    let project = &source.project;
    if args.write && source.is_demo() {
        return Err(Refusal::input(
            "wrong input [not-written]: a built-in demo has no file to write to\n  fix make a project with `arcwright new NAME` and measure there\n",
        ));
    }
    let found =
        read(project, guide, &args.readings, args.over.as_deref()).map_err(|f| Refusal::finding(&f))?;
    let written = match source.file().filter(|_| args.write) {
        Some(path) => Some(source::write_values(path, &[found.change()], "measured")?),
        None => None,
    };
    if args.json {
        return fine(format!("{:#}\n", json(project, &found)));
    }
    let mut text = check::title(&source) + &words(project, &found);
    match written {
        Some(w) => text.push_str(&w),
        None if source.is_demo() => {}
        None => text.push_str(&format!(
            "  `--write` puts it into the project file as `{}`.\n",
            guide.key
        )),
    }
    fine(text)
}

fn line(text: &str) -> String {
    format!("  {}\n", wrap(text, WIDTH, "  "))
}

fn guide_words(g: &Guide) -> String {
    let mut text = format!(
        "{} (`arcwright measure {} ...`, key `{}`)\n",
        g.title, g.name, g.key
    );
    text.push_str(&line(g.how));
    text.push_str(&line(&format!("{}. {}", g.formula, g.mind)));
    let over = if g.base.is_empty() {
        String::new()
    } else {
        format!(" --over \"{}\" (the {})", g.base_example, g.base)
    };
    text.push_str(&line(&format!(
        "Then give each {}, three to ten: arcwright measure {} \"{}\" ...{over}",
        g.reading, g.name, g.example
    )));
    text
}

fn words(project: &Project, found: &Reading) -> String {
    let mut text: String = found.words(project).iter().map(|l| line(l)).collect();
    text.push_str(&line(found.guide.mind));
    text
}
