//! `new`: a project folder to start from.

use std::path::PathBuf;

use clap::Args;

use super::{Answer, FINE, Refusal};
use crate::tasks::{self, json};

#[derive(Args)]
pub struct NewArgs {
    /// Folder to make
    #[arg(value_name = "NAME")]
    name: PathBuf,
    /// Start from this demo: lantern, bramble or pebble
    #[arg(long, value_name = "DEMO", default_value = "lantern")]
    from: String,
    /// Print JSON instead of text
    #[arg(long)]
    json: bool,
}

pub fn run(args: &NewArgs) -> Result<Answer, Refusal> {
    let file = tasks::new::make(&args.name, &args.from).map_err(|f| Refusal::finding(&f))?;
    if args.json {
        let made = json::made(&args.name, &file, &args.from);
        return Ok(Answer {
            text: format!("{made:#}\n"),
            code: FINE,
        });
    }
    let folder = args.name.display();
    Ok(Answer {
        text: format!(
            "Made {}.\nNext: change the numbers in it to your own, then\n  cd {folder}\n  arcwright\n",
            file.display()
        ),
        code: FINE,
    })
}
