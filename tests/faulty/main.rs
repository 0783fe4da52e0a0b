//! Faulty documents and meshes: each with its whole message as a snapshot. None panics, none
//! leaves a file behind.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a helper that fails fails its test")]

mod bench;
mod documents;
mod formats;
mod hostile;
mod lessons;
mod mesh_files;
mod meshes;
mod scans;
mod sealing;

use assembly::hold::LadingPressure;
use bench::{Bench, shown};

/// Compares with the snapshot of this name.
fn snapshot(name: &str, text: &str) {
    insta::with_settings!({
        snapshot_path => "snapshots",
        prepend_module_to_snapshot => false,
        omit_expression => true,
    }, {
        insta::assert_snapshot!(name, text);
    });
}

/// Reads the bench's case: it must be refused, and what it says is the snapshot.
fn case_refused(name: &str, bench: &Bench) {
    let before = bench.files();
    let faults = bench.case().expect_err(name);
    assert_eq!(bench.files(), before, "{name}: reading changed a file");
    snapshot(name, &bench.plain(&faults.render()));
}

/// Reads the bench's kit: it must be refused, and what it says is the snapshot.
fn kit_refused(name: &str, bench: &Bench) {
    let before = bench.files();
    let faults = bench.kit().expect_err(name);
    assert_eq!(bench.files(), before, "{name}: reading changed a file");
    snapshot(name, &bench.plain(&faults.render()));
}

/// Reads the bench's case: it must be read, and what was found is the snapshot.
fn case_found(name: &str, bench: &Bench) {
    let case = bench.case().unwrap_or_else(|faults| panic!("{name}: {}", faults.render()));
    assert!(!case.findings.is_empty(), "{name}: nothing was found");
    snapshot(name, &bench.plain(&shown(&case.findings)));
}

#[test]
fn the_valid_documents_are_read_without_findings() {
    let bench = Bench::new();
    let case = bench.case().unwrap_or_else(|faults| panic!("{}", faults.render()));
    assert_eq!(shown(&case.findings), "");
    let kit = bench.kit().unwrap_or_else(|faults| panic!("{}", faults.render()));
    assert_eq!(shown(&kit.findings), "");

    // The frame's origin lies on the sealing face.
    let (low, high) = case.car.body(case.car.plate).body.mesh.bounds().unwrap();
    assert!((high.z - 0.0).abs() < 1e-12 && (low.z + 50.0).abs() < 1e-12);
    assert_eq!(case.sources.len(), 7);
    assert_eq!(case.sources[0].sha256, sha256sum(&bench.path("case.toml")));
    assert_eq!(case.car.ports[0].facing.degrees().to_bits(), 0.0_f64.to_bits());
    let Some(LadingPressure::Stated { gauge, .. }) = case.service.lading.unwrap().pressure else {
        panic!("no pressure is stated");
    };
    assert!((gauge.middle().mpa() - 1.723_689).abs() < 1e-6);
    // Clockwise seen from outside: 11 o'clock is -30 degrees.
    assert!((kit.kit.outlet.elbow_turns[0].degrees() + 30.0).abs() < 1e-9);
    assert!((kit.kit.outlet.pipe_diameter.tolerance - 0.6).abs() < 1e-12);
    assert!((kit.kit.outlet.elbow_band.tolerance - 0.1).abs() < 1e-12);
}

/// The hash by the system's own program, as an outside check.
fn sha256sum(path: &std::path::Path) -> String {
    let out = std::process::Command::new("sha256sum").arg(path).output().unwrap();
    String::from_utf8(out.stdout).unwrap().split(' ').next().unwrap().to_owned()
}
