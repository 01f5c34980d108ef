//! `page`: the rooms in a browser.

use std::path::PathBuf;

use clap::Args;

use super::{Answer, FINE, Refusal, say};
use crate::project::{self, DEMOS, FILE_NAME};
use crate::tasks::new::find_demo;
use crate::web::{self, Desk, Options, Place};

#[derive(Args, Default)]
pub struct PageArgs {
    /// Project folder or file [default: the current folder, or the demo where it has no arcwright.toml]
    #[arg(value_name = "PROJECT")]
    project: Option<PathBuf>,
    /// Show a built-in demo: lantern, bramble or pebble
    #[arg(long, value_name = "NAME", conflicts_with = "project")]
    demo: Option<String>,
    /// Port on this machine; 0 for any that is free [default: 4260, or any that is free]
    #[arg(long, value_name = "N")]
    port: Option<u16>,
    /// Answer to telephones and other computers on the local network too, each paired with a code from the page
    #[arg(long)]
    share: bool,
    /// Do not open the browser
    #[arg(long)]
    no_open: bool,
    /// Take the page's files from this folder (for work on the page itself)
    #[arg(long, value_name = "FOLDER", hide = true)]
    files_from: Option<PathBuf>,
}

pub fn run(args: &PageArgs) -> Result<Answer, Refusal> {
    let place = match (&args.demo, &args.project) {
        (Some(name), _) => Place::Demo(find_demo(name).map_err(|f| Refusal::finding(&f))?.name),
        (None, Some(p)) if p.is_dir() => Place::File(p.join(FILE_NAME)),
        (None, Some(p)) => Place::File(p.clone()),
        (None, None) if PathBuf::from(FILE_NAME).exists() => Place::File(PathBuf::from(FILE_NAME)),
        (None, None) => Place::Demo(DEMOS[0].name),
    };
    let desk = Desk::open(place).map_err(|problems| Refusal::input(project::render(&problems)))?;
    let options = |port| Options {
        port,
        share: args.share,
        files_from: args.files_from.clone(),
    };
    /// A page that is open already keeps this port; the next one takes any.
    const USUAL_PORT: u16 = 4260;
    let ready = match args.port {
        Some(port) => web::start(desk, options(port)),
        None if web::is_free(USUAL_PORT) => web::start(desk, options(USUAL_PORT)),
        None => web::start(desk, options(0)),
    };
    let ready = ready.map_err(|f| Refusal::finding(&f))?;
    let address = format!("http://{}/", ready.address);
    say::out(&format!(
        "The page is at {address}\n{} Ctrl-C ends it.\n",
        if args.share {
            "It answers to this machine, and to devices that are paired with a code from the page (Share)."
        } else {
            "It answers to this machine only."
        }
    ));
    if !args.no_open && open::that_detached(&address).is_err() {
        say::err("No browser could be opened: type the address into one.\n");
    }
    let clears = ready.clears();
    // Without it the folder of a demo's rehearsal is left to the system.
    let _ = ctrlc::set_handler(move || {
        /// What a shell says of a program ended by Ctrl-C.
        const BROKEN_OFF: i32 = 130;
        clears();
        std::process::exit(BROKEN_OFF);
    });
    ready.serve().map_err(|f| Refusal::finding(&f))?;
    Ok(Answer {
        text: String::new(),
        code: FINE,
    })
}
