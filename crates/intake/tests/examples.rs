//! The examples are read without a fault, and nothing is found wanting in them.

use std::path::{Path, PathBuf};

fn examples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples")
}

#[test]
fn the_demo_kit_is_read() {
    let kit = intake::read_kit(&examples().join("kit.toml"))
        .unwrap_or_else(|faults| panic!("{}", faults.render()));
    assert!(!kit.kit.cups.is_empty());
    assert!(kit.findings.is_empty(), "{:?}", kit.findings);
}

#[test]
fn every_example_case_is_read_and_its_meshes_are_sound() {
    let mut read = 0;
    for entry in std::fs::read_dir(examples()).unwrap() {
        let path = entry.unwrap().path().join("case.toml");
        if !path.is_file() {
            continue;
        }
        let case = intake::read_case(&path).unwrap_or_else(|faults| panic!("{}", faults.render()));
        assert!(case.findings.is_empty(), "{}: {:#?}", path.display(), case.findings);
        // Every mesh that a part claims is a body, in the order of the document.
        assert_eq!(case.sources.len(), case.car.bodies.len() + 1);
        for (index, body) in case.car.bodies.iter().enumerate() {
            assert_eq!(case.car.body(assembly::car_top::BodyId(index)), body);
            assert!(!body.body.mesh.triangles.is_empty());
        }
        read += 1;
    }
    assert!(read >= 3, "only {read} example cases were found");
}
