//! Faulty scan documents and files.

use crate::bench::{Bench, edited};
use crate::snapshot;
use nalgebra::Point3;
use std::fmt::Write as _;

const SCAN: &str = include_str!("valid/scan.toml");

type Edits = &'static [(&'static str, &'static str)];

/// Each: the snapshot's name, and the changes to the valid document.
const SCANS: &[(&str, Edits)] = &[
    ("scan-no-form", &[("format = 1\n", "")]),
    (
        "scan-unknown-key",
        &[("unit = \"m\"\nseen-from = [\"0.5 m\"", "unit = \"m\"\nseen-form = [\"0.5 m\"")],
    ),
    ("scan-file-missing", &[("file = \"north.ply\"", "file = \"nord.ply\"")]),
    ("scan-file-twice", &[("file = \"south.ply\"", "file = \"north.ply\"")]),
    (
        "scan-unit-unknown",
        &[("file = \"north.ply\"\nunit = \"m\"", "file = \"north.ply\"\nunit = \"yd\"")],
    ),
    ("scan-seen-from-without-unit", &[("\"0.5 m\", \"0 m\", \"1.2 m\"", "0.5, 0, 1.2")]),
    ("scan-seen-from-of-two", &[("\"0.5 m\", \"0 m\", \"1.2 m\"", "\"0.5 m\", \"0 m\"")]),
    (
        "scan-first-has-a-start",
        &[(
            "[[scan]]\nfile = \"south.ply\"\nunit = \"m\"\nseen-from = [\"0 in\", \"0 in\", \"0 in\"]\n",
            "",
        )],
    ),
    ("scan-start-along-one-line", &[("x = [1, 0, 0]", "x = [0, 0, 2]")]),
    ("scan-start-without-origin", &[("origin = [\"-0.5 m\", \"0 m\", \"1.2 m\"]\n", "")]),
    ("scan-start-within-nothing", &[("within = \"20 mm\"", "within = \"0 mm\"")]),
    (
        "scan-too-far-away",
        &[("file = \"north.ply\"\nunit = \"m\"", "file = \"far.ply\"\nunit = \"m\"")],
    ),
    ("scan-of-no-points", &[("file = \"north.ply\"", "file = \"empty.ply\"")]),
    ("scan-cut", &[("file = \"north.ply\"", "file = \"cut.ply\"")]),
    ("scan-of-another-kind", &[("file = \"north.ply\"", "file = \"case.toml\"")]),
    (
        "scan-without-unit-of-any-size",
        &[("file = \"north.ply\"\nunit = \"m\"", "file = \"flea.ply\"")],
    ),
];

/// A level grid of points, `across` wide.
fn cloud(across: f64, far: f64) -> String {
    let side = 12;
    let mut text = format!(
        "ply\nformat ascii 1.0\nelement vertex {}\nproperty double x\nproperty double y\n\
         property double z\nend_header\n",
        side * side
    );
    for i in 0..side * side {
        let at = |k: i32| across * (f64::from(k) / f64::from(side - 1) - 0.5);
        writeln!(text, "{} {} 0", far + at(i % side), at(i / side)).unwrap();
    }
    text
}

fn bench(document: &str) -> Bench {
    let bench = Bench::new();
    bench.write("scan.toml", document.as_bytes());
    let clouds = [("north.ply", 1.0, 0.0), ("south.ply", 1.0, 0.5), ("far.ply", 1.0, 400.0)];
    for (name, across, far) in clouds.into_iter().chain([("flea.ply", 1e-7, 0.0)]) {
        bench.write(name, cloud(across, far).as_bytes());
    }
    let whole = cloud(1.0, 0.0);
    bench.write("cut.ply", &whole.as_bytes()[..whole.len() / 2]);
    bench.write("empty.ply", whole.split("144").next().unwrap().as_bytes());
    let none = "ply\nformat ascii 1.0\nelement vertex 0\nproperty double x\nproperty double y\n\
                property double z\nend_header\n";
    bench.write("empty.ply", none.as_bytes());
    bench
}

#[test]
fn faulty_scans_are_refused_with_every_fault() {
    for (name, edits) in SCANS {
        let bench = bench(&edited(SCAN, edits));
        let before = bench.files();
        let faults = intake::read_scans(&bench.path("scan.toml")).expect_err(name);
        assert_eq!(bench.files(), before, "{name}: reading changed a file");
        snapshot(name, &bench.plain(&faults.render()));
    }
}

/// Points, the place of the eye and the start come in millimetres; a unit that nobody states is told by
/// the size of what was seen, and why.
#[test]
fn a_scan_document_gives_its_points_in_millimetres() {
    let bench = bench(&SCAN.replacen("unit = \"m\"\n", "", 1));
    let found = intake::read_scans(&bench.path("scan.toml"))
        .unwrap_or_else(|faults| panic!("{}", faults.render()));
    assert_eq!(found.scans.len(), 2);
    let [north, south] = [&found.scans[0], &found.scans[1]];
    assert_eq!(north.shot.points.len(), 144);
    assert!((north.shot.points[0] - Point3::new(-500.0, -500.0, 0.0)).norm() < 1e-9);
    assert_eq!(north.shot.seen_from, Some(Point3::new(500.0, 0.0, 1200.0)));
    assert!(north.unit_guessed.as_ref().is_some_and(|why| why.starts_with("m by its size")));
    assert!(south.unit_guessed.is_none() && north.start.is_none());
    let start = south.start.unwrap();
    assert!((start.first_from_second.translation.vector.x + 500.0).abs() < 1e-9);
    assert!((start.within - 20.0).abs() < 1e-9);
    assert_eq!(found.sources.len(), 3);
}
