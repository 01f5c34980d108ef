//! `archive`: everything of a project in one file, and back.

use std::path::{Path, PathBuf};

use clap::Args;

use super::say::name;
use super::{Answer, FINE, Refusal, Which, source};
use crate::project;
use crate::tasks::archive::{Contents, list, pack, unpack, verify};

#[derive(Args)]
pub struct ArchiveArgs {
    #[command(flatten)]
    which: Which,
    /// The archive to be made [default: the name of the project's folder, with .zip, in the current folder]
    #[arg(long, value_name = "FILE")]
    to: Option<PathBuf>,
    /// Check that an archive is as it was packed; writes nothing
    #[arg(long, value_name = "FILE", conflicts_with_all = ["to", "project", "demo", "open"])]
    check: Option<PathBuf>,
    /// Unpack an archive into a new folder
    #[arg(long, value_name = "FILE", conflicts_with_all = ["to", "project", "demo"], requires = "into")]
    open: Option<PathBuf>,
    /// The folder to be made
    #[arg(long, value_name = "FOLDER", requires = "open")]
    into: Option<PathBuf>,
    /// Print the list of members as JSON instead of text
    #[arg(long)]
    json: bool,
}

pub fn run(args: &ArchiveArgs) -> Result<Answer, Refusal> {
    let finding = |f| Refusal::finding(&f);
    if let Some(file) = &args.check {
        let c = verify(file).map_err(finding)?;
        return Ok(said(
            args,
            &c,
            &format!("{} is as it was packed.", file.display()),
        ));
    }
    if let (Some(file), Some(folder)) = (&args.open, &args.into) {
        let c = unpack(file, folder).map_err(finding)?;
        let mut answer = said(args, &c, &format!("Unpacked into {}.", folder.display()));
        // It is kept as it was packed, also where this program has learned to see a slip in it.
        if let Err(problems) = project::read(&folder.join(project::FILE_NAME))
            && !args.json
        {
            answer.text.push_str("  This program finds fault with it:\n");
            answer.text.push_str(&project::render(&problems));
        }
        return Ok(answer);
    }
    let source = source::load(&args.which.common())?;
    let Some(file) = source.file() else {
        return Err(Refusal::input(
            "wrong input [no-archive]: a demo has nothing to pack\n  fix make a project of it first: `arcwright new my-thrower`\n",
        ));
    };
    let to = args.to.clone().unwrap_or_else(|| default_name(file));
    let c = pack(file, &source.project.name, &to).map_err(finding)?;
    Ok(said(args, &c, &format!("Packed into {}.", to.display())))
}

/// The name of the project's folder, with `.zip`.
fn default_name(file: &Path) -> PathBuf {
    let whole = std::fs::canonicalize(file).unwrap_or_else(|_| file.to_path_buf());
    let folder = whole.parent().and_then(Path::file_name).and_then(|n| n.to_str());
    PathBuf::from(format!("{}.zip", folder.unwrap_or("project")))
}

fn said(args: &ArchiveArgs, c: &Contents, what: &str) -> Answer {
    if args.json {
        return Answer {
            text: format!("{:#}\n", list(c)),
            code: FINE,
        };
    }
    let bytes: u64 = c.members.iter().map(|m| m.bytes_count).sum();
    let mut text = format!(
        "{what}\n  {}, packed {} by version {}: {} files, {:.1} MB\n",
        name(&c.project),
        c.utc,
        c.tool,
        c.members.len(),
        bytes as f64 / 1e6
    );
    const SHOWN: usize = 12;
    for m in c.members.iter().take(SHOWN) {
        text.push_str(&format!("    {}\n", name(&m.path)));
    }
    if c.members.len() > SHOWN {
        text.push_str(&format!("    and {} more\n", c.members.len() - SHOWN));
    }
    Answer { text, code: FINE }
}
