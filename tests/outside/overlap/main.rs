//! Answers the overlaps of a table, for `tests/outside/overlap/run`.
//!
//!     overlaps FOLDER
//!
//! A line of FOLDER/pairs is
//!     name-a name-b qw qx qy qz tx ty tz
//! with an OBJ file in FOLDER for each name; a line of FOLDER/answers is
//!     volume at-least at-most depth-low depth-high x y z lines length microseconds
//! with the way out as x, y, z, the number and length of the crossing lines and the time of the
//! volume; `nan` for what there is none of. Millimetres.

#[path = "../shared/tables.rs"]
mod tables;

use std::fmt::Write as _;
use std::path::Path;
use std::time::Instant;

use gap::{CrossingLine, Solid, crossing_lines, overlap, shared_volume};
use tables::{Failure, pose, read_obj};

fn main() -> Result<(), Failure> {
    let folder = std::env::args().nth(1).ok_or("usage: overlaps FOLDER")?;
    let folder = Path::new(&folder);
    let mut told = String::new();
    for line in std::fs::read_to_string(folder.join("pairs"))?.lines() {
        let mut words = line.split(' ');
        let mut next = || -> Result<Solid, Failure> {
            let name = words.next().ok_or("a body is missing")?;
            Ok(Solid::new(&read_obj(&folder.join(format!("{name}.obj")))?))
        };
        let (a, b) = (next()?, next()?);
        let pose = pose(&mut words)?;
        let from = Instant::now();
        let shared = shared_volume(&a, &b, &pose)?;
        let taken = from.elapsed().as_secs_f64() * 1e6;
        let volume = shared.volume.unwrap_or(f64::NAN);
        write!(told, "{volume} {} {} ", shared.at_least, shared.at_most)?;
        match overlap(&a, &b, &pose) {
            Some(found) => {
                let [[x, y, z]] = found.way_out.data.0;
                write!(told, "{} {} {x} {y} {z} ", found.depth_low, found.depth_high)?;
            }
            None => write!(told, "nan nan nan nan nan ")?,
        }
        let lines = crossing_lines(&a, &b, &pose)?;
        let length: f64 = lines.iter().map(CrossingLine::length).sum();
        writeln!(told, "{} {length} {taken:.1}", lines.len())?;
    }
    std::fs::write(folder.join("answers"), told)?;
    Ok(())
}
