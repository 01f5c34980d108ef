//! The command line: arguments → task → text.

mod aim;
mod archive;
mod book;
mod card;
mod check;
mod draw;
mod explain;
mod feed;
mod floor;
mod frame;
pub mod free;
mod hand;
mod history;
mod install;
mod learned;
mod map;
mod measure;
mod misread;
mod moving;
mod new;
mod order;
mod page;
mod room;
mod say;
mod scatter;
mod season;
mod seek;
mod source;
mod summary;
mod throw;
mod volley;

use std::ffi::OsString;
use std::path::PathBuf;
use std::time::Instant;

use arcwright_model::finding::Finding;
use arcwright_model::limits::Status;
use clap::{Args, Parser, Subcommand};

/// Nothing wrong.
pub const FINE: u8 = 0;
/// A verdict fails.
pub const FAILS: u8 = 1;
/// The input is wrong; nothing was written.
pub const WRONG_INPUT: u8 = 2;
/// A fault of ours.
pub const OUR_FAULT: u8 = 70;

#[derive(Parser)]
#[command(
    name = "arcwright",
    version,
    about = "Computes, proves and tunes a wheeled ball thrower from its brief."
)]
#[command(
    long_about = "Computes, proves and tunes a wheeled ball thrower from its brief.\n\n\
    Reads `arcwright.toml` in the current folder; where there is none, shows the built-in demo. \
    Without a command: the page, in your browser.\n\n\
    For your shell: `arcwright completions bash` (zsh, fish, ...) prints a script, `arcwright man FOLDER` writes manual pages.\n\n\
    Exit codes: 0 fine, 1 a verdict fails, 2 the input is wrong (nothing was written), 70 a fault of ours."
)]
struct Cli {
    /// No text: only files, exit code, and what is wrong; data that was asked for (--json, --form, - as a file) still comes
    #[arg(long, global = true, conflicts_with = "verbose")]
    quiet: bool,
    /// Say besides, on standard error, how long it took and what the exit code means
    #[arg(long, global = true)]
    verbose: bool,
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Subcommand)]
enum Command {
    /// Make a project folder with a commented arcwright.toml
    New(new::NewArgs),
    /// Every limit of the brief as a verdict: holds, tight, fails or unknown, with margin and remedy
    Check(check::CheckArgs),
    /// One throw through the whole chain
    Throw(throw::ThrowArgs),
    /// The setpoint for every spot, a table by distance, and whether one setting serves all
    Aim(aim::AimArgs),
    /// Wheel speed, current and voltage through spin-up and a volley
    Volley(volley::VolleyArgs),
    /// How much throws differ from each spot, the hit chance, why, and what would help
    Scatter(scatter::ScatterArgs),
    /// The hit chance from every place on the floor, not only from the spots
    Map(map::MapArgs),
    /// The chance to throw a wanted order of colours, for every way of sorting
    Order(order::OrderArgs),
    /// Search what is free for the machine whose worst spot hits most often
    Seek(seek::SeekArgs),
    /// The rest of the machine: drive base, power, shaft and bearings, wires, parts, guide sheet
    Frame(frame::FrameArgs),
    /// What a match pays, what it depends on, and which improvement to make next
    Season(season::SeasonArgs),
    /// Whether pieces queue or wedge in the hopper, how fast they come, and what would help
    Feed(feed::FeedArgs),
    /// Friction, bounce and stiffness of your own pieces from a few readings, and how much the feed depends on them
    Measure(measure::MeasureArgs),
    /// Test shots on the practice floor: log, list, correct, bring in and out
    Floor(floor::FloorArgs),
    /// Setpoints, gains and tolerance for the robot's code: table, C, Java, Python, Kotlin; does it still match?
    Hand(hand::HandArgs),
    /// Cutting and forming templates at full size: DXF, SVG, PDF over A4 or Letter
    Draw(draw::DrawArgs),
    /// Every state of the project with its reason, what changed and what that did to the verdicts
    History(history::HistoryArgs),
    /// Everything of a project in one file: pack, check, unpack
    Archive(archive::ArchiveArgs),
    /// The pit card: what to set right now, on one page to print
    Card(card::CardArgs),
    /// The engineering notebook: everything the project knows, as one HTML file and from it a PDF
    Book(book::BookArgs),
    /// What a word, a check, a key of the file, a problem code or a source is
    Explain(explain::ExplainArgs),
    /// A script that completes commands in your shell, on standard output
    #[command(hide = true)]
    Completions(install::CompletionsArgs),
    /// Manual pages, into a folder
    #[command(hide = true)]
    Man(install::ManArgs),
    /// The rooms in a browser on this machine: drag, look, log shots
    Page(page::PageArgs),
    /// Verdicts and setpoints as text, and every picture in out/
    Summary(summary::SummaryArgs),
}

/// Where the project comes from and what goes out; the same for every command.
#[derive(Args, Clone, Debug, Default)]
pub struct Common {
    /// Project folder or file [default: the current folder, or the demo where it has no arcwright.toml]
    #[arg(value_name = "PROJECT")]
    pub project: Option<PathBuf>,
    /// Use a built-in demo: lantern, bramble or pebble
    #[arg(long, value_name = "NAME", conflicts_with = "project")]
    pub demo: Option<String>,
    /// Print JSON (SI, versioned; see docs/json.md) instead of text
    #[arg(long)]
    pub json: bool,
    /// Write the picture to this file
    #[arg(long, value_name = "FILE")]
    pub svg: Option<PathBuf>,
}

/// Where the project comes from, for commands whose answer goes elsewhere than the others'.
#[derive(Args, Clone, Debug, Default)]
pub struct Which {
    /// Project folder or file [default: the current folder, or the demo where it has no arcwright.toml]
    #[arg(value_name = "PROJECT")]
    pub project: Option<PathBuf>,
    /// Use a built-in demo: lantern, bramble or pebble
    #[arg(long, value_name = "NAME", conflicts_with = "project")]
    pub demo: Option<String>,
}

impl Which {
    fn common(&self) -> Common {
        Common {
            project: self.project.clone(),
            demo: self.demo.clone(),
            ..Common::default()
        }
    }
}

/// From where and how fast; the same for every command that throws.
#[derive(Args, Clone, Debug, Default)]
pub struct At {
    /// Throw from this spot [default: the last in the file]
    #[arg(long, value_name = "NAME")]
    pub spot: Option<String>,
    /// Wheel speed, such as "3200 rpm" [default: the spot's setpoint]
    #[arg(long, value_name = "SPEED", allow_hyphen_values = true)]
    pub speed: Option<String>,
}

/// What a command has to say: text for standard output and an exit code.
pub struct Answer {
    /// Text, ending in a newline.
    pub text: String,
    /// Exit code.
    pub code: u8,
}

/// Why a command gives no answer: text for standard error and an exit code.
pub struct Refusal {
    /// Text.
    pub text: String,
    /// Exit code.
    pub code: u8,
}

impl Refusal {
    fn input(text: impl Into<String>) -> Refusal {
        Refusal {
            text: text.into(),
            code: WRONG_INPUT,
        }
    }

    /// Several findings, one after the other.
    fn findings(all: &[Finding]) -> Refusal {
        let all: Vec<String> = all.iter().map(|f| Refusal::finding(f).text).collect();
        Refusal::input(all.concat())
    }

    /// A finding about an argument rather than a file.
    fn finding(f: &Finding) -> Refusal {
        Refusal::input(format!(
            "wrong input [{}]: {}\n  at  {}\n  fix {}\n",
            f.code, f.what, f.key, f.fix
        ))
    }
}

/// An amount below zero that a shot is said with, such as `-2m`, with a sign that is not taken for an option: none begins
/// with a digit.
fn signed(argument: OsString) -> OsString {
    let text = argument.to_str().and_then(|t| t.strip_prefix('-'));
    match text.filter(|t| t.starts_with(|c: char| c.is_ascii_digit() || c == '.')) {
        Some(amount) => format!("\u{2212}{amount}").into(),
        None => argument,
    }
}

/// Runs a command line (without the program's name) and prints its answer; returns the exit code.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> u8 {
    let mut arguments: Vec<OsString> = arguments.into_iter().collect();
    let command = arguments.iter().find(|a| !a.to_string_lossy().starts_with("--"));
    if command.is_some_and(|a| a == "floor") {
        arguments = arguments.into_iter().map(signed).collect();
    }
    let is_data = asks_for_data(&arguments);
    let began = Instant::now();
    let given: Vec<String> = arguments
        .iter()
        .map(|a| a.to_string_lossy().into_owned())
        .collect();
    let arguments = std::iter::once(OsString::from("arcwright")).chain(arguments);
    let cli = match Cli::try_parse_from(arguments) {
        Ok(cli) => cli,
        Err(e) => {
            // Help and version are answers, the rest are refusals; clap knows which stream.
            let code = if e.use_stderr() { WRONG_INPUT } else { FINE };
            match misread::words(&e, &given) {
                Some(words) => say::err(&words),
                None => {
                    let _ = e.print();
                }
            }
            if let Some(path) = project_as_command(&e) {
                say::err(&format!(
                    "\n`{path}` is a project, not a command: write `arcwright check {path}`, or `cd` into its folder and run `arcwright`.\n"
                ));
            }
            return code;
        }
    };
    say::be_quiet(cli.quiet);
    let (quiet, verbose) = (cli.quiet && !is_data, cli.verbose);
    let result = match cli.command {
        None => page::run(&page::PageArgs::default()),
        Some(Command::Summary(a)) => summary::run(&a),
        Some(Command::New(a)) => new::run(&a),
        Some(Command::Check(a)) => check::run(&a),
        Some(Command::Throw(a)) => throw::run(&a),
        Some(Command::Aim(a)) => aim::run(&a),
        Some(Command::Volley(a)) => volley::run(&a),
        Some(Command::Scatter(a)) => scatter::run(&a),
        Some(Command::Map(a)) => map::run(&a),
        Some(Command::Order(a)) => order::run(&a),
        Some(Command::Seek(a)) => seek::run(&a),
        Some(Command::Frame(a)) => frame::run(&a),
        Some(Command::Season(a)) => season::run(&a),
        Some(Command::Feed(a)) => feed::run(&a),
        Some(Command::Measure(a)) => measure::run(&a),
        Some(Command::Floor(a)) => floor::run(&a),
        Some(Command::Hand(a)) => hand::run(&a),
        Some(Command::Draw(a)) => draw::run(&a),
        Some(Command::History(a)) => history::run(&a),
        Some(Command::Archive(a)) => archive::run(&a),
        Some(Command::Card(a)) => card::run(&a),
        Some(Command::Book(a)) => book::run(&a),
        Some(Command::Explain(a)) => explain::run(&a),
        Some(Command::Completions(a)) => install::completions(&a),
        Some(Command::Man(a)) => install::man(&a),
        Some(Command::Page(a)) => page::run(&a),
    };
    let code = match result {
        Ok(answer) => {
            if !quiet {
                say::out(&answer.text);
            }
            if say::was_lost() {
                answer.code.max(FAILS)
            } else {
                answer.code
            }
        }
        Err(refusal) => {
            say::err(&refusal.text);
            refusal.code
        }
    };
    if verbose {
        say::err(&format!(
            "took {:.2} s; exit code {code}: {}\n",
            began.elapsed().as_secs_f64(),
            meaning(code)
        ));
    }
    code
}

/// Does a command line ask for something that another program reads?
fn asks_for_data(arguments: &[OsString]) -> bool {
    const PRINTED: [&str; 2] = ["completions", "explain"];
    let is_printed = |a: &OsString| PRINTED.iter().any(|p| a == *p);
    arguments
        .iter()
        .any(|a| a == "--json" || a == "--form" || a == "-" || a.to_string_lossy().starts_with("--form="))
        || arguments
            .iter()
            .find(|a| !a.to_string_lossy().starts_with("--"))
            .is_some_and(is_printed)
}

/// What an exit code means.
fn meaning(code: u8) -> &'static str {
    match code {
        FINE => "fine",
        FAILS => "a verdict fails, or something that was asked for could not be done",
        WRONG_INPUT => "the input is wrong; nothing was written",
        _ => "a fault of ours",
    }
}

/// The project that was given where a command belongs.
fn project_as_command(e: &clap::Error) -> Option<String> {
    use clap::error::{ContextKind, ContextValue, ErrorKind};
    match (e.kind(), e.get(ContextKind::InvalidSubcommand)?) {
        (ErrorKind::InvalidSubcommand, ContextValue::String(word)) => {
            std::path::Path::new(word).exists().then(|| word.clone())
        }
        _ => None,
    }
}

/// Exit code for a worst verdict.
fn code_of(status: Status) -> u8 {
    if status == Status::Fails { FAILS } else { FINE }
}

/// What a panic prints: that it is ours, where it happened, and that nothing of the user's was touched.
pub fn report_fault(info: &std::panic::PanicHookInfo<'_>) {
    say::err(&format!(
        "A fault in arcwright, not in your file: {info}\nNothing of yours was changed. Please report it with the project file that showed it.\n"
    ));
}
