//! How long a mesh file takes to read: `reading bytes FILE` and `reading read FILE` each print the seconds of
//! the processor that it took, the memory that was added at its peak (kilobytes), the triangles and the
//! vertices. `tests/peers/meshes/run` puts them beside other libraries'.

#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a bench prints and may fail")]

use intake::meshes;
use std::path::Path;

/// Seconds of the processor that this process has used (Linux).
fn seconds() -> f64 {
    let text = std::fs::read_to_string("/proc/self/schedstat").unwrap();
    text.split(' ').next().unwrap().parse::<f64>().unwrap() / 1e9
}

/// The most memory that this process has held, kilobytes (Linux).
fn peak() -> u64 {
    let text = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = text.lines().find(|l| l.starts_with("VmHWM:")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}

fn main() {
    let mut arguments = std::env::args().skip(1);
    // Run by `cargo bench` itself it has nothing to do.
    let (Some(what), Some(path)) = (arguments.next(), arguments.next()) else { return };
    let path = Path::new(&path);
    let (before, began) = (peak(), seconds());
    let (mut triangles, mut vertices) = (0, 0);
    if what == "bytes" {
        std::hint::black_box(std::fs::read(path).unwrap());
    } else {
        let model = meshes::read(path, None).unwrap();
        triangles = model.bodies.iter().map(|b| b.mesh.triangles.len()).sum();
        vertices = model.bodies.iter().map(|b| b.mesh.vertices.len()).sum();
        std::hint::black_box(&model);
    }
    println!("{:.4} {} {triangles} {vertices}", seconds() - began, peak() - before);
}
