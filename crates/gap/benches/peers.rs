//! Answers the questions of `tests/peers/compare.py` about one pair of bodies, by this engine and
//! by parry as it comes, and tells how long each took. `tests/peers/run` builds and starts it.
//!
//! ```text
//! peers CAR.mesh CUP.mesh
//! ```
//!
//! It first writes a line with the number of triangles of both bodies, seconds to prepare the
//! first, and bytes of the prepared first body: as `Solid::bytes` counts, and as the process grew.
//! Then it reads commands, a line each:
//!
//! ```text
//! poses FILE           takes the poses; forgets what was followed. Answers with their number.
//! parry                prepares parry's bodies. Answers with seconds and bytes of the first.
//! ask QUERY INDEX...   answers a line per pose: microseconds and the answer.
//! ```
//!
//! The answer is a distance in millimetres, `overlapping`, `farther`, `crossing`, `not-crossing`
//! or `undecided`. The files are those of `tests/peers/make.py`.

use std::error::Error;
use std::fs;
use std::hint::black_box;
use std::io::{self, BufRead, Write};
use std::time::Instant;

use gap::{Follower, Proximity, Solid, crosses, gap, surface_gap};
use nalgebra::{Isometry3, Point3, Quaternion, Translation3, UnitQuaternion};
use parry3d_f64::math::{Pose, Rotation, Vector};
use parry3d_f64::query;
use parry3d_f64::shape::TriMesh;
use solids::Mesh;

type Outcome<T> = Result<T, Box<dyn Error>>;

/// Cap of the `capped` query, millimetres.
const CAP: f64 = 10.0;

/// Reads little-endian numbers off the front of a file's bytes.
struct Reader(std::vec::IntoIter<u8>);

impl Reader {
    fn open(path: &str) -> Outcome<Self> {
        let bytes = fs::read(path).map_err(|why| format!("{path}: {why}"))?;
        Ok(Self(bytes.into_iter()))
    }

    fn bytes<const N: usize>(&mut self) -> Outcome<[u8; N]> {
        let mut bytes = [0; N];
        for byte in &mut bytes {
            *byte = self.0.next().ok_or("the file ends early")?;
        }
        Ok(bytes)
    }

    fn count(&mut self) -> Outcome<u32> {
        Ok(u32::from_le_bytes(self.bytes()?))
    }

    fn number(&mut self) -> Outcome<f64> {
        Ok(f64::from_le_bytes(self.bytes()?))
    }

    fn numbers<const N: usize>(&mut self) -> Outcome<[f64; N]> {
        let mut numbers = [0.0; N];
        for number in &mut numbers {
            *number = self.number()?;
        }
        Ok(numbers)
    }
}

fn read_mesh(path: &str) -> Outcome<Mesh> {
    let mut file = Reader::open(path)?;
    let (corners, triangles) = (file.count()?, file.count()?);
    Ok(Mesh {
        vertices: (0..corners)
            .map(|_| Ok(Point3::from(file.numbers::<3>()?)))
            .collect::<Outcome<_>>()?,
        triangles: (0..triangles)
            .map(|_| Ok([file.count()?, file.count()?, file.count()?]))
            .collect::<Outcome<_>>()?,
    })
}

/// Poses as this engine and as parry take them.
fn read_poses(path: &str) -> Outcome<Vec<(Isometry3<f64>, Pose)>> {
    let mut file = Reader::open(path)?;
    (0..file.count()?)
        .map(|_| {
            let [w, i, j, k, x, y, z] = file.numbers()?;
            let turn = UnitQuaternion::new_normalize(Quaternion::new(w, i, j, k));
            let ours = Isometry3::from_parts(Translation3::new(x, y, z), turn);
            let theirs = Pose::from_parts(
                Vector::new(x, y, z),
                Rotation::from_xyzw(turn.i, turn.j, turn.k, turn.w),
            );
            Ok((ours, theirs))
        })
        .collect()
}

fn as_parry_takes(mesh: &Mesh) -> Outcome<TriMesh> {
    let corners = mesh.vertices.iter().map(|p| Vector::new(p.x, p.y, p.z)).collect();
    Ok(TriMesh::new(corners, mesh.triangles.clone())?)
}

/// Bytes of this process that lie in memory (Linux).
fn resident() -> Outcome<u64> {
    let told = fs::read_to_string("/proc/self/status")?;
    let line = told.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    let kilobytes = line.and_then(|l| l.split_whitespace().next()).ok_or("no resident size")?;
    Ok(kilobytes.parse::<u64>()? * 1024)
}

/// What the work gives, the seconds it takes, and the bytes by which the process grows.
fn weighed<T>(work: impl FnOnce() -> T) -> Outcome<(T, f64, u64)> {
    let before = resident()?;
    let start = Instant::now();
    let made = black_box(work());
    let seconds = start.elapsed().as_secs_f64();
    Ok((made, seconds, resident()?.saturating_sub(before)))
}

fn told(answer: Proximity) -> String {
    match answer {
        Proximity::Apart(gap) => gap.distance.to_string(),
        Proximity::AtLeast(_) => "farther".to_owned(),
        Proximity::Overlapping => "overlapping".to_owned(),
        Proximity::CannotDecide(_) => "undecided".to_owned(),
    }
}

fn told_crossing(crossing: bool) -> String {
    if crossing { "crossing" } else { "not-crossing" }.to_owned()
}

/// The two bodies and what is known of them so far.
struct Session<'s> {
    a: &'s Solid,
    b: &'s Solid,
    follower: Follower<'s>,
    poses: Vec<(Isometry3<f64>, Pose)>,
    parry: Option<[TriMesh; 2]>,
}

impl Session<'_> {
    /// Microseconds and the answer.
    fn ask(&mut self, query: &str, index: usize) -> Outcome<(f64, String)> {
        let (ours, theirs) = self.poses.get(index).ok_or("no such pose")?;
        let parry = || self.parry.as_ref().ok_or("parry's bodies are not prepared");
        let no_cap = f64::INFINITY;
        // Only the query itself is between the two looks at the clock.
        let start = Instant::now();
        let answer = match query {
            "gap" => told_after(start, gap(self.a, self.b, ours, no_cap), told),
            "warm" => told_after(start, self.follower.gap(ours, no_cap), told),
            "capped" => told_after(start, gap(self.a, self.b, ours, CAP), told),
            "crosses" => told_after(start, crosses(self.a, self.b, ours), told_crossing),
            "surfaces" => told_after(start, surface_gap(self.a, self.b, ours, no_cap), |found| {
                found
                    .ok()
                    .flatten()
                    .map_or_else(|| "undecided".to_owned(), |gap| gap.distance.to_string())
            }),
            "parry-gap" => {
                let [a, b] = parry()?;
                let start = Instant::now();
                let found = query::distance(&Pose::IDENTITY, a, theirs, b)?;
                told_after(start, found, |found| found.distance.to_string())
            }
            "parry-gap-swapped" => {
                let [a, b] = parry()?;
                let start = Instant::now();
                let found = query::distance(theirs, b, &Pose::IDENTITY, a)?;
                told_after(start, found, |found| found.distance.to_string())
            }
            "parry-crosses" => {
                let [a, b] = parry()?;
                let start = Instant::now();
                let found = query::intersection_test(&Pose::IDENTITY, a, theirs, b)?;
                told_after(start, found, |found| told_crossing(found.intersecting))
            }
            _ => return Err(format!("no such query: {query}").into()),
        };
        Ok(answer)
    }
}

/// Microseconds since the start, and the value in words.
fn told_after<T>(start: Instant, value: T, told: impl FnOnce(T) -> String) -> (f64, String) {
    let value = black_box(value);
    let took = start.elapsed().as_secs_f64() * 1e6;
    (took, told(value))
}

fn main() -> Outcome<()> {
    // `cargo bench` adds an option of its own; without two files there is nothing to do.
    let files: Vec<String> = std::env::args().skip(1).filter(|a| !a.starts_with("--")).collect();
    let [car, cup] = files.as_slice() else { return Ok(()) };
    let (car, cup) = (read_mesh(car)?, read_mesh(cup)?);
    let (a, seconds, grown) = weighed(|| Solid::new(&car))?;
    let b = Solid::new(&cup);
    a.usable()?;
    b.usable()?;
    let mut session =
        Session { a: &a, b: &b, follower: Follower::new(&a, &b), poses: Vec::new(), parry: None };
    let mut out = io::BufWriter::new(io::stdout().lock());
    let (triangles, others) = (car.triangles.len(), cup.triangles.len());
    writeln!(out, "{triangles} {others} {seconds} {} {grown}", a.bytes())?;
    out.flush()?;
    for line in io::stdin().lock().lines() {
        let line = line?;
        match line.split_whitespace().collect::<Vec<_>>().as_slice() {
            ["poses", file] => {
                session.poses = read_poses(file)?;
                session.follower = Follower::new(&a, &b);
                writeln!(out, "{}", session.poses.len())?;
            }
            ["parry"] => {
                let (first, seconds, grown) = weighed(|| as_parry_takes(&car))?;
                session.parry = Some([first?, as_parry_takes(&cup)?]);
                writeln!(out, "{seconds} {grown}")?;
            }
            ["ask", query, indices @ ..] => {
                for index in indices {
                    let (took, answer) = session.ask(query, index.parse()?)?;
                    writeln!(out, "{took} {answer}")?;
                }
            }
            _ => return Err(format!("no such command: {line}").into()),
        }
        out.flush()?;
    }
    Ok(())
}
