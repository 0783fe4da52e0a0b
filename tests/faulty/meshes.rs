//! Small closed meshes for the bench plate, and ways to write and spoil them.

use std::f32::consts::TAU;
use std::fmt::Write as _;

pub(crate) type Triangle = [[f32; 3]; 3];

/// Triangles of the wall between two rings of points and of the flat rings that close it. Rings
/// run counter-clockwise seen from above; `hole` is inside `rim`.
fn ring(rim: [f32; 3], hole: f32, low: f32, high: f32) -> Vec<Triangle> {
    const SIDES: u8 = 16;
    let [x, y, radius] = rim;
    let at = |side: u8, r: f32, z: f32| {
        let angle = TAU * f32::from(side % SIDES) / f32::from(SIDES);
        [x + r * angle.cos(), y + r * angle.sin(), z]
    };
    let mut out = Vec::new();
    let mut quad = |a, b, c, d| out.extend([[a, b, c], [a, c, d]]);
    for s in 0..SIDES {
        let t = s + 1;
        quad(at(s, radius, low), at(t, radius, low), at(t, radius, high), at(s, radius, high));
        quad(at(s, hole, high), at(s, radius, high), at(t, radius, high), at(t, hole, high));
        quad(at(t, hole, low), at(t, radius, low), at(s, radius, low), at(s, hole, low));
        quad(at(t, hole, low), at(s, hole, low), at(s, hole, high), at(t, hole, high));
    }
    out
}

/// A closed disc standing on its rim.
fn disc(rim: [f32; 3], low: f32, high: f32) -> Vec<Triangle> {
    let [x, y, radius] = rim;
    let mut out = ring(rim, 0.0, low, high);
    // With a hole of no width the inner wall has no area, and its corners lie on the axis.
    let on_axis = |p: &&[f32; 3]| (p[0] - x).hypot(p[1] - y) < 0.5 * radius;
    out.retain(|t| t.iter().filter(on_axis).count() < 2);
    out
}

/// The meshes of the bench plate by file name. The sealing face lies at z = 10 in mesh
/// coordinates, as `[frame]` says.
pub(crate) fn bench() -> Vec<(&'static str, Vec<Triangle>)> {
    vec![
        ("plate.stl", disc([0.0, 0.0, 230.0], -40.0, 10.0)),
        ("housing.stl", ring([0.0, 0.0, 210.0], 190.0, 10.0, 310.0)),
        ("lid.stl", disc([0.0, 0.0, 215.0], 311.0, 318.0)),
        ("studs.stl", disc([0.0, 222.0, 5.0], 10.0, 30.0)),
        ("valve.stl", disc([80.0, 0.0, 60.0], 10.0, 200.0)),
        ("handwheel.stl", disc([80.0, 0.0, 70.0], 205.0, 225.0)),
    ]
}

pub(crate) fn binary(header: &str, triangles: &[Triangle]) -> Vec<u8> {
    let mut bytes = header.as_bytes().to_vec();
    bytes.resize(80, 0);
    bytes.extend(u32::try_from(triangles.len()).unwrap().to_le_bytes());
    for t in triangles {
        bytes.extend([0; 12]);
        bytes.extend(t.iter().flatten().flat_map(|c| c.to_le_bytes()));
        bytes.extend([0; 2]);
    }
    bytes
}

pub(crate) fn ascii(triangles: &[Triangle]) -> String {
    let mut text = "solid bench\n".to_owned();
    for t in triangles {
        text.push_str("facet normal 0 0 0\nouter loop\n");
        for [x, y, z] in t {
            writeln!(text, "vertex {x} {y} {z}").unwrap();
        }
        text.push_str("endloop\nendfacet\n");
    }
    text + "endsolid bench\n"
}

/// The plate's file after a change to its triangles.
pub(crate) fn plate(change: impl FnOnce(&mut Vec<Triangle>)) -> Vec<u8> {
    let mut triangles = bench().remove(0).1;
    change(&mut triangles);
    binary("bench", &triangles)
}

/// The plate's file after a change to its bytes.
pub(crate) fn plate_bytes(change: impl FnOnce(&mut Vec<u8>)) -> Vec<u8> {
    let mut bytes = plate(|_| {});
    change(&mut bytes);
    bytes
}

/// The plate's file as text, after one replacement.
pub(crate) fn plate_text(from: &str, to: &str) -> Vec<u8> {
    let text = ascii(&bench().remove(0).1);
    assert!(text.contains(from), "{from:?} is not in the text");
    text.replacen(from, to, 1).into_bytes()
}
