//! A folder of its own for one test, gone when the test is over. Each file of tests adds what it does there.

use std::fs;
use std::path::PathBuf;
use std::process::Output;
use std::sync::atomic::{AtomicU32, Ordering};

pub struct Folder(pub PathBuf);

impl Folder {
    pub fn empty() -> Folder {
        static NEXT: AtomicU32 = AtomicU32::new(0);
        let n = NEXT.fetch_add(1, Ordering::Relaxed);
        let name = concat!("arcwright-", env!("CARGO_CRATE_NAME"));
        let path = std::env::temp_dir().join(format!("{name}-{}-{n}", std::process::id()));
        fs::create_dir_all(&path).unwrap();
        Folder(path)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// Standard output, standard error, exit code.
#[allow(dead_code)] // not every file of tests asks for all three
pub type Said = (String, String, i32);

/// What a program said.
#[allow(dead_code)]
pub fn said(done: Output) -> Said {
    (
        String::from_utf8(done.stdout).unwrap(),
        String::from_utf8(done.stderr).unwrap(),
        done.status.code().unwrap(),
    )
}
