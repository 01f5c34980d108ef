//! `arcwright`: from a brief to a proven thrower.

use std::process::ExitCode;

fn main() -> ExitCode {
    // A panic is a fault of ours, never the user's: say so, and use the code kept for it.
    std::panic::set_hook(Box::new(arcwright::cli::report_fault));
    let code = std::panic::catch_unwind(|| arcwright::cli::run(std::env::args_os().skip(1)));
    ExitCode::from(code.unwrap_or(arcwright::cli::OUR_FAULT))
}
