//! `overcup`: answers before an emergency whether a leaking fitting on a rail tank car's cover
//! plate can be covered by a clamped-down cup, how, and with how much to spare.
//!
//! Results go to stdout, everything else to stderr. The exit status is 0 when every fitting asked
//! for can be covered (or every claim of a record holds, or every fitting's sealing, or every body of a mesh
//! file is sound and its unit known, or a draft asks nothing), 1 when one cannot
//! or cannot be told (or one is refused), 2 when the input is at fault or a result could not be written.

mod args;
mod check;
mod export;
mod hold;
mod inspect;
mod intake;
mod meshes;
mod printer;
mod verify;
mod view;

use clap::Parser;
use std::io::Write as _;
use std::process::ExitCode;

fn main() -> ExitCode {
    let outcome = match args::Args::parse().command {
        args::Command::Check(args) => check::run(&args.settings()),
        args::Command::Intake(args) => args.settings().and_then(|settings| intake::run(&settings)),
        args::Command::Hold(args) => hold::run(&args.settings()),
        args::Command::Export(args) => export::run(&args.settings()),
        args::Command::Inspect(args) => inspect::run(&args.settings()),
        args::Command::Verify(args) => verify::run(&args.settings()),
        args::Command::Picture(args) => view::run("picture", &args.passed_on),
        args::Command::Show(args) => view::run("show", &args.passed_on),
    };
    match outcome {
        Ok(check::Answer::Yes) => ExitCode::SUCCESS,
        Ok(check::Answer::No) => ExitCode::from(1),
        Err(stopped) => {
            // With stderr gone there is nobody left to tell.
            let stderr = std::io::stderr();
            let plain = anstream::AutoStream::choice(&stderr) == anstream::ColorChoice::Never;
            let _ = anstream::AutoStream::auto(stderr).write_all(stopped.text(!plain).as_bytes());
            ExitCode::from(2)
        }
    }
}
