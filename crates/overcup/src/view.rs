//! `overcup picture` and `overcup show`: passed on to `overcup-view`, a program of its own, so that this
//! one is built without a window system.

use crate::check::Answer;
use front::{Plain, Stopped};
use std::env;
use std::ffi::OsString;
use std::io;
use std::path::PathBuf;
use std::process::Command;

/// The other program's name.
const VIEW: &str = "overcup-view";

/// Runs it with the same arguments; its exit status is what it answers.
pub(crate) fn run(command: &str, arguments: &[OsString]) -> Result<Answer, Stopped> {
    let program = beside().unwrap_or_else(|| PathBuf::from(VIEW));
    let ended = Command::new(&program).arg(command).args(arguments).status();
    let status = ended.map_err(|error| match error.kind() {
        io::ErrorKind::NotFound => Plain::new(
            format!(
                "{VIEW} is neither beside overcup nor among the programs that are found by name"
            ),
            "build it: cargo build -p viewer --release",
        ),
        _ => Plain::new(
            format!("{} does not start: {error}", program.display()),
            "build it anew: cargo build -p viewer --release",
        ),
    })?;
    match status.code() {
        Some(0) => Ok(Answer::Yes),
        Some(1) => Ok(Answer::No),
        // What is at fault has been told.
        Some(2) => Err(Stopped::Asked(Vec::new())),
        _ => Err(Plain::new(
            format!("{VIEW} ended by itself: {status}"),
            "this is a fault of it or of the graphics driver",
        )
        .into()),
    }
}

/// The program beside this one; `None` where there is none.
fn beside() -> Option<PathBuf> {
    let path =
        env::current_exe().ok()?.with_file_name(format!("{VIEW}{}", env::consts::EXE_SUFFIX));
    path.is_file().then_some(path)
}
