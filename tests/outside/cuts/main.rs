//! Cuts a reviewed fitting's scene by several planes, for `tests/outside/cuts/run`.
//!
//!     cuts CASE KIT FITTING FOLDER
//!
//! Writes FOLDER/N.obj for the N-th item in the plate frame, and for each item that one of some planes
//! cuts, one of them through its own middle, a line
//! of FOLDER/cuts
//!     N point-x point-y point-z normal-x normal-y normal-z area perimeter
//! with `nan` for the area of what is not filled. Millimetres.

use display::{DisplayList, Plane};
use intake::{read_case, read_kit};
use nalgebra::{Point3, Unit, Vector3};
use review::{Request, review};
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

type Failure = Box<dyn std::error::Error>;

/// Points and normals: through the cup and the bar, level, slanted, and through faces.
const PLANES: [([f64; 3], [f64; 3]); 7] = [
    ([0.0, 0.0, 0.0], [0.0, 1.0, 0.0]),
    ([10.0, 3.0, 0.0], [1.0, 0.0, 0.0]),
    ([0.0, 0.0, 61.0], [0.0, 0.0, 1.0]),
    ([0.0, 0.0, 200.0], [0.2, -0.3, 1.0]),
    ([5.0, -140.0, 100.0], [0.6, 0.8, 0.3]),
    ([0.0, 0.0, 0.0], [0.0, 0.0, 1.0]),
    ([330.0, 0.0, 100.0], [-1.0, 0.02, 0.01]),
];

fn main() -> Result<(), Failure> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [case, kit, fitting, folder] = args.as_slice() else {
        return Err("usage: cuts CASE KIT FITTING FOLDER".into());
    };
    let folder = Path::new(folder);
    let case = read_case(Path::new(case)).map_err(|faults| format!("{faults:?}"))?;
    let kit = read_kit(Path::new(kit)).map_err(|faults| format!("{faults:?}"))?;
    let request = Request::named(&case.car, &kit.kit, std::slice::from_ref(fitting), &[])
        .map_err(|unknown| format!("{unknown:?}"))?;
    let found = review(&case.car, &kit.kit, &request, &|_| {})?;
    let one = found.fittings.first().ok_or("no fitting")?;
    let study = &one.chosen().ok_or("no cup")?.study;
    let list = DisplayList::of(&case.car, &kit.kit, one.fitting, study)?.ok_or("no list")?;
    for (number, item) in list.items.iter().enumerate() {
        let mut text = String::new();
        for p in &list.meshes[item.mesh].vertices {
            let p = item.place * p;
            writeln!(text, "v {} {} {}", p.x, p.y, p.z)?;
        }
        for [a, b, c] in &list.meshes[item.mesh].triangles {
            writeln!(text, "f {} {} {}", a + 1, b + 1, c + 1)?;
        }
        fs::write(folder.join(format!("{number}.obj")), text)?;
    }
    // And every item slantwise through its middle.
    let middles = list.items.iter().enumerate().filter_map(|(number, item)| {
        let (low, high) = list.meshes[item.mesh].bounds()?;
        let middle = item.place * nalgebra::center(&low, &high);
        Some((middle.into(), [0.1, 0.2, 0.3], Some(number)))
    });
    let planes = PLANES.into_iter().map(|(point, normal)| (point, normal, None)).chain(middles);
    let mut told = String::new();
    for (point, normal, only) in planes {
        let normal = Unit::new_normalize(Vector3::from(normal));
        let plane = Plane { point: Point3::from(point), normal };
        let faces = list.cut(&plane, list.lasts());
        for face in faces.into_iter().filter(|face| only.is_none_or(|only| face.item == only)) {
            let area = face.fill.as_ref().map_or(f64::NAN, solids::area);
            let around: f64 = face
                .outlines
                .iter()
                .flat_map(|line| line.points.iter().zip(line.points.iter().cycle().skip(1)))
                .map(|(a, b)| (b - a).norm())
                .sum();
            let ([x, y, z], [u, v, w]) = (point, <[f64; 3]>::from(*normal));
            writeln!(told, "{} {x} {y} {z} {u} {v} {w} {area} {around}", face.item)?;
        }
    }
    fs::write(folder.join("cuts"), told)?;
    Ok(())
}
