//! The full run of the exact checks of `crates/gap/tests`: pairs of triangles, and of whole
//! bodies against every pair of their triangles.
//!
//!     pairs [TRIANGLE-PAIRS [BODY-PAIRS]]

#![allow(
    clippy::print_stdout,
    clippy::expect_used,
    clippy::unwrap_used,
    reason = "a program for the terminal, with modules of the tests"
)]

#[path = "../../../crates/gap/tests/bodies/mod.rs"]
mod bodies;
#[path = "../../../crates/gap/tests/common/mod.rs"]
mod common;
#[path = "../../../crates/gap/tests/oracle/mod.rs"]
mod oracle;
#[path = "../../../crates/gap/tests/pairs/mod.rs"]
mod pairs;

use std::process::ExitCode;
use std::time::Instant;

fn main() -> ExitCode {
    let argument = |place: usize, otherwise: u64| {
        let given = std::env::args().nth(place);
        given.map_or(otherwise, |count| count.parse().expect("an argument is a number of pairs"))
    };
    let (pairs, couples) = (argument(1, 20_000_000), argument(2, 20_000));

    let began = Instant::now();
    let of_triangles = pairs::run(pairs);
    println!("{}", pairs::report(&of_triangles, began.elapsed()));
    for (kind, [count, meeting]) in &of_triangles.kinds {
        println!("  {kind}: {count}, of which {meeting} meet");
    }

    let began = Instant::now();
    let of_bodies = bodies::run(couples);
    println!("{}", bodies::report(&of_bodies, began.elapsed()));
    for (kind, [count, meeting]) in &of_bodies.kinds {
        println!("  {kind}: {count}, of which {meeting} meet");
    }

    let right = of_triangles.faults.is_empty() && of_bodies.faults.is_empty();
    let whole = of_triangles.pairs == pairs && of_bodies.couples == couples;
    if right && whole { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
