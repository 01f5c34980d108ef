//! `completions` and `man`: what a shell and a manual reader need, made from the commands themselves.

use std::path::PathBuf;

use arcwright_model::finding::Finding;
use clap::{Args, CommandFactory};

use super::{Answer, Cli, FINE, Refusal};
use crate::tasks::pictures::write_file_folder;

#[derive(Args)]
pub struct CompletionsArgs {
    /// Shell
    #[arg(value_name = "SHELL", value_enum)]
    shell: clap_complete::Shell,
}

/// The script, on standard output.
pub fn completions(args: &CompletionsArgs) -> Result<Answer, Refusal> {
    let mut bytes = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "arcwright", &mut bytes);
    Ok(Answer {
        text: String::from_utf8_lossy(&bytes).into_owned(),
        code: FINE,
    })
}

#[derive(Args)]
pub struct ManArgs {
    /// Folder to write the pages to, such as ~/.local/share/man/man1
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
}

/// A page for the program and one for each command.
pub fn man(args: &ManArgs) -> Result<Answer, Refusal> {
    write_file_folder(&args.folder).map_err(|f| Refusal::finding(&f))?;
    clap_mangen::generate_to(Cli::command(), &args.folder).map_err(|e| {
        Refusal::finding(&Finding::new(
            "not-written",
            args.folder.display().to_string(),
            format!("could not write the pages: {e}"),
            "choose a folder that is writable, on a disk with room",
        ))
    })?;
    let folder = args.folder.display();
    Ok(Answer {
        text: format!("Manual pages written to {folder}: `man {folder}/arcwright.1`\n"),
        code: FINE,
    })
}
