//! A command line that cannot be read, told as everything else that is wrong: what, where, how to mend it.

use std::error::Error;

use arcwright_model::finding::nearest;
use clap::error::{ContextKind, ContextValue, ErrorKind};
use clap::{Command, CommandFactory};

use super::Cli;

/// What is wrong with an option or its number, and how to mend it; `None` for what clap says well itself.
pub fn words(e: &clap::Error, given: &[String]) -> Option<String> {
    let text = |kind| match e.get(kind) {
        Some(ContextValue::String(s)) => Some(s.as_str()),
        _ => None,
    };
    let argument = text(ContextKind::InvalidArg)?;
    match e.kind() {
        // Only numbers are parsed on the command line itself; choices are another kind of error.
        ErrorKind::ValueValidation => {
            let (name, value) = (argument.split(' ').next()?, text(ContextKind::InvalidValue)?);
            let why = e.source().map_or(String::new(), |s| s.to_string());
            let fix = match why
                .split_once(" is not in ")
                .and_then(|(_, r)| r.split_once("..="))
            {
                Some((low, high)) => format!("write a whole number from {low} to {high}"),
                None => "write a whole number, digits only".to_string(),
            };
            Some(told("bad-number", &format!("{name} is \"{value}\""), name, &fix))
        }
        ErrorKind::UnknownArgument => {
            let (path, options) = options_of(given);
            let is_number = argument
                .strip_prefix('-')
                .is_some_and(|a| a.starts_with(|c: char| c.is_ascii_digit()));
            let fix = if is_number {
                "numbers are written without a sign here".to_string()
            } else {
                let near = nearest(
                    argument.trim_start_matches('-'),
                    options.iter().map(String::as_str),
                );
                let near = near.map_or(String::new(), |n| format!("did you mean `--{n}`? "));
                format!("{near}`{path} --help` lists the options")
            };
            let what = if argument.starts_with('-') {
                format!("there is no option `{argument}` here")
            } else {
                format!("`{argument}` is one word too many")
            };
            Some(told("unknown-option", &what, &path, &fix))
        }
        _ => None,
    }
}

fn told(code: &str, what: &str, at: &str, fix: &str) -> String {
    format!("wrong input [{code}]: {what}\n  at  {at}\n  fix {fix}\n")
}

/// The command that was meant, in words, and the long names of its options.
fn options_of(given: &[String]) -> (String, Vec<String>) {
    let mut command: Command = Cli::command();
    command.build();
    let mut path = vec!["arcwright".to_string()];
    for word in given.iter().filter(|w| !w.starts_with('-')) {
        let Some(next) = command.find_subcommand(word).cloned() else {
            break;
        };
        path.push(word.clone());
        command = next;
    }
    let names = command.get_arguments().filter_map(|a| a.get_long());
    (path.join(" "), names.map(str::to_string).collect())
}
