//! How long a scan of two million points takes, and what comes of it.

#![expect(clippy::print_stdout, clippy::unwrap_used, reason = "it is a program for people")]

#[path = "../tests/made/mod.rs"]
mod made;

use scan::{Settings, rebuild};
use std::time::Instant;

fn peak() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    status.lines().find(|l| l.starts_with("VmHWM")).unwrap_or("").to_owned()
}

fn main() {
    let spacing: f64 = std::env::args().nth(1).and_then(|a| a.parse().ok()).unwrap_or(1.1);
    let round = std::env::args().any(|a| a == "round");
    let wall = if round { made::round_wall() } else { made::straight_wall() };
    let solids = [made::fittings(), wall].concat();
    let shots = made::shots(&solids, spacing, 0.3, 1);
    let points: usize = shots.iter().map(|s| s.points.len()).sum();
    println!("{points} points, {}", peak());
    let start = Instant::now();
    let found = rebuild(&shots, 0.3, 1.5, &Settings::default()).unwrap();
    println!("{:.2} s, {}, cells of {} mm", start.elapsed().as_secs_f64(), peak(), found.voxel);
    println!("region {:?} shares {:?}", found.region, found.shares);
    let mut sum = [0; 2];
    for t in &found.things {
        let counts =
            [t.seen.mesh.triangles.len(), t.unseen.iter().map(|u| u.mesh.triangles.len()).sum()];
        sum = [sum[0] + counts[0], sum[1] + counts[1]];
        println!(
            "{} {:?} points {} box {:.1?} {:.1?} triangles {counts:?} deviation {:.2} unseen {:.2?}",
            t.name,
            t.kind,
            t.points.len(),
            t.low.coords.as_slice(),
            t.high.coords.as_slice(),
            t.seen.deviation.bound,
            t.unseen.iter().map(|u| u.deviation.bound).collect::<Vec<_>>()
        );
    }
    println!("triangles {sum:?}");
    if let Some(w) = &found.wall {
        println!(
            "{:?} {:?} seen {:.2} residual {:.3} rim {:.1}",
            w.axis, w.form, w.seen, w.residual, w.rim
        );
        for o in &w.openings {
            println!("{o:?}");
        }
    }
    for n in &found.notes {
        println!("note: {n}");
    }
}
