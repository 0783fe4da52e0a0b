//! What the programs of the outside checks read: numbers of a line, OBJ files.

#![allow(unreachable_pub, reason = "a module of several programs")]

use std::error::Error;
use std::path::Path;

use nalgebra::{Isometry3, Point3, Quaternion, Translation3, UnitQuaternion};
use solids::Mesh;

/// Whatever ends a program.
pub type Failure = Box<dyn Error>;

/// A pose written as qw qx qy qz tx ty tz.
pub fn pose<'t>(words: &mut impl Iterator<Item = &'t str>) -> Result<Isometry3<f64>, Failure> {
    let [w, x, y, z] = numbers(words)?;
    let turn = UnitQuaternion::new_normalize(Quaternion::new(w, x, y, z));
    Ok(Isometry3::from_parts(Translation3::from(numbers(words)?), turn))
}

/// The next numbers of a line.
pub fn numbers<'t, const N: usize>(
    words: &mut impl Iterator<Item = &'t str>,
) -> Result<[f64; N], Failure> {
    let mut found = [0.0; N];
    for number in &mut found {
        *number = words.next().ok_or("a number is missing")?.parse()?;
    }
    Ok(found)
}

/// Vertices and triangles of an OBJ file, nothing else.
pub fn read_obj(file: &Path) -> Result<Mesh, Failure> {
    let mut mesh = Mesh::default();
    for line in std::fs::read_to_string(file)?.lines() {
        let mut words = line.split(' ');
        match words.next() {
            Some("v") => mesh.vertices.push(Point3::from(numbers(&mut words)?)),
            Some("f") => {
                // One-based.
                let mut corners = [0_u32; 3];
                for corner in &mut corners {
                    let number: u32 = words.next().ok_or("a corner is missing")?.parse()?;
                    *corner = number.checked_sub(1).ok_or("a corner is numbered zero")?;
                }
                mesh.triangles.push(corners);
            }
            _ => return Err(format!("{}: {line}", file.display()).into()),
        }
    }
    Ok(mesh)
}
