//! Answers the sweeps of a table, for `tests/outside/sweep/run`.
//!
//!     sweeps MESHES MOTIONS ANSWERS
//!
//! MESHES is a folder of OBJ files. A line of MOTIONS is
//!     still moved qw qx qy qz tx ty tz need tolerance leg...
//! with a leg as `straight x y z` or `screw px py pz dx dy dz angle advance`; a line of ANSWERS is
//!     course clear-until blocked-at at-least queries microseconds
//! with `nan` for what the course does not have. Millimetres and radians.

#[path = "../shared/tables.rs"]
mod tables;

use std::collections::HashMap;
use std::fmt::Write as _;
use std::path::Path;
use std::time::Instant;

use gap::motion::Motion;
use gap::{Course, Solid, sweep};
use nalgebra::{Point3, Vector3};
use tables::{Failure, numbers, pose, read_obj};

fn main() -> Result<(), Failure> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [meshes, motions, answers] = arguments.as_slice() else {
        return Err("usage: sweeps MESHES MOTIONS ANSWERS".into());
    };
    let mut bodies: HashMap<String, Solid> = HashMap::new();
    let mut told = String::new();
    for line in std::fs::read_to_string(motions)?.lines() {
        let mut words = line.split(' ');
        let mut names = [String::new(), String::new()];
        for name in &mut names {
            words.next().ok_or("a body is missing")?.clone_into(name);
            if !bodies.contains_key(name) {
                let file = Path::new(meshes).join(format!("{name}.obj"));
                bodies.insert(name.clone(), Solid::new(&read_obj(&file)?));
            }
        }
        let start = pose(&mut words)?;
        let [need, tolerance] = numbers(&mut words)?;
        let mut motion: Option<Motion> = None;
        while let Some(kind) = words.next() {
            let leg = match kind {
                "straight" => Motion::straight(Vector3::from(numbers(&mut words)?))?,
                "screw" => {
                    let (through, direction) = (numbers(&mut words)?, numbers(&mut words)?);
                    let [angle, advance] = numbers(&mut words)?;
                    Motion::screw(Point3::from(through), Vector3::from(direction), angle, advance)?
                }
                other => return Err(format!("no leg: {other}").into()),
            };
            motion = Some(match motion {
                Some(before) => before.then(&leg),
                None => leg,
            });
        }
        let motion = motion.ok_or("a motion without a leg")?;
        let [a, b] = names.each_ref().map(|name| &bodies[name]);
        let from = Instant::now();
        let found = sweep(a, b, &start, &motion, need, tolerance);
        let taken = from.elapsed().as_secs_f64() * 1e6;
        let none = f64::NAN;
        let (course, clear_until, blocked_at, at_least) = match found.course {
            Course::Clear { at_least, .. } => ("clear", 1.0, none, at_least),
            Course::BlockedAtStart(_) => ("start", none, 0.0, none),
            Course::Blocked { clear_until, blocked_at, .. } => {
                ("blocked", clear_until, blocked_at, none)
            }
            Course::Grazing { clear_until, blocked_at, .. } => {
                ("grazing", clear_until, blocked_at.unwrap_or(none), none)
            }
            Course::CannotDecide { clear_until, .. } => ("undecided", clear_until, none, none),
        };
        let queries = found.queries;
        writeln!(told, "{course} {clear_until} {blocked_at} {at_least} {queries} {taken:.1}")?;
    }
    std::fs::write(answers, told)?;
    Ok(())
}
