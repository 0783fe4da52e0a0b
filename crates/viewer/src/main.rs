//! `overcup-view`: the window on a reviewed car top, and its pictures.
//!
//! No verdict is made here and nothing is measured: what is shown comes from `display` and `review`.
//! Faults go to stderr. The exit status is 0 when the fitting shown can be covered, 1 when it cannot or
//! cannot be told, 2 when the input is at fault, nothing draws or a picture could not be written.

mod args;
mod driver;
mod eye;
mod ground;
mod headless;
mod overlay;
mod picture;
mod scene;
mod window;

use clap::Parser;
use front::Stopped;
use std::io::{IsTerminal as _, Write as _};
use std::process::ExitCode;
use std::time::Instant;

/// Whether the fitting can be covered.
enum Answer {
    Yes,
    No,
}

fn main() -> ExitCode {
    let began = Instant::now();
    quietly();
    let outcome = match args::Args::parse().command {
        args::Command::Picture(args) => {
            args.settings().map_err(Stopped::Asked).and_then(|settings| picture::run(&settings))
        }
        args::Command::Show(args) => window::run(args.settings(began)),
    };
    match outcome {
        Ok(Answer::Yes) => ExitCode::SUCCESS,
        Ok(Answer::No) => ExitCode::from(1),
        Err(stopped) => {
            // With stderr gone there is nobody left to tell.
            let mut stderr = std::io::stderr();
            let in_colours = stderr.is_terminal();
            let _ = stderr.write_all(stopped.text(in_colours).as_bytes());
            ExitCode::from(2)
        }
    }
}

/// Graphics drivers look for a Wayland screen, and where `XDG_RUNTIME_DIR` is not set a library of theirs
/// complains on stderr each time. It cannot be set in a program that has begun, so begins anew with it.
#[cfg(unix)]
fn quietly() {
    use std::os::unix::process::CommandExt as _;
    const FOLDER: &str = "XDG_RUNTIME_DIR";
    if std::env::var_os(FOLDER).is_some_and(|folder| !folder.is_empty()) {
        return;
    }
    let Ok(program) = std::env::current_exe() else { return };
    let mut itself = std::process::Command::new(program);
    // Comes back only where it could not begin anew; then it goes on with the noise.
    let _ = itself.args(std::env::args_os().skip(1)).env(FOLDER, std::env::temp_dir()).exec();
}

/// There is nothing to be quiet about.
#[cfg(not(unix))]
fn quietly() {}
