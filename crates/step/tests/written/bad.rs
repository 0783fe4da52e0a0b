//! What is wrong is told; nothing panics, whatever the bytes.

use crate::file::File;
use proptest::prelude::*;
use std::path::Path;
use step::{Accuracy, Finding, ReadError, read};

#[path = "../../../../tests/fuzz/readers/step_law.rs"]
mod step_law;

/// What the fuzzer kept, and what once broke a law.
#[test]
fn kept_inputs_hold_the_laws() {
    let readers = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/fuzz/readers/step");
    let mut seen = 0;
    for folder in ["corpus", "found"] {
        let Ok(files) = std::fs::read_dir(readers.join(folder)) else { continue };
        for file in files {
            let path = file.unwrap().path();
            let began = std::time::Instant::now();
            step_law::look(&std::fs::read(&path).unwrap())
                .unwrap_or_else(|wrong| panic!("{}: {wrong}", path.display()));
            // As long as the fuzzer grants.
            assert!(began.elapsed().as_secs() < 20, "{}: {:?}", path.display(), began.elapsed());
            seen += 1;
        }
    }
    assert!(seen > 5);
}

const X: [f64; 3] = [1.0, 0.0, 0.0];
const Z: [f64; 3] = [0.0, 0.0, 1.0];

/// A cylinder of which a piece of text is replaced.
fn cylinder(from: &str, to: &str) -> String {
    let mut file = File::default();
    let rims = [0.0, 10.0].map(|z| {
        let frame = file.frame([0.0, 0.0, z], Z, X);
        let circle = file.circle(frame, 5.0);
        let start = file.vertex([5.0, 0.0, z]);
        (frame, file.edge(start, start, circle, true))
    });
    let surface = file.add(&format!("CYLINDRICAL_SURFACE('',#{},5.)", rims[0].0));
    let loops = [file.edge_loop(&[(rims[0].1, true)]), file.edge_loop(&[(rims[1].1, false)])];
    let mut faces = vec![file.face(surface, true, &loops)];
    for (i, (frame, edge)) in rims.into_iter().enumerate() {
        let plane = file.add(&format!("PLANE('',#{frame})"));
        let around = file.edge_loop(&[(edge, i == 1)]);
        faces.push(file.face(plane, i == 1, &[around]));
    }
    let solid = file.solid("", &faces);
    let text = file.part(&[solid]).text();
    assert!(from.is_empty() || text.contains(from), "{from}");
    text.replacen(from, to, 1)
}

/// What is told of the first lost face, or else of the file.
fn told(text: &str) -> String {
    let model = match read(text.as_bytes(), Accuracy::default()) {
        Ok(model) => model,
        Err(error) => return error.to_string(),
    };
    assert!(!model.is_whole());
    let lost = model.bodies.iter().flat_map(|b| &b.lost).next();
    let finding = model.findings.first().map(ToString::to_string);
    lost.map(|l| format!("{}: {}", l.kind, l.fault)).or(finding).unwrap_or_default()
}

#[test]
fn faults_name_the_entity_and_what_is_wrong() {
    assert!(read(cylinder("", "").as_bytes(), Accuracy::default()).unwrap().is_whole());
    let cases = [
        // The wall's radius, its kind, its frame.
        (
            "SURFACE('',#4,5.)",
            "SURFACE('',#4,-5.)",
            "CYLINDRICAL_SURFACE: #17: a radius is not above zero",
        ),
        (
            "SURFACE('',#4,5.)",
            "SURFACE('',#4)",
            "CYLINDRICAL_SURFACE: #17: parameter 3 of CYLINDRICAL_SURFACE is not a number",
        ),
        (
            "SURFACE('',#4,5.)",
            "SURFACE('',#999,5.)",
            "CYLINDRICAL_SURFACE: #999 is referred to and is not in the file",
        ),
        (
            "CYLINDRICAL_SURFACE",
            "CORRUGATED_SURFACE",
            "CORRUGATED_SURFACE: #17: CORRUGATED_SURFACE is not read",
        ),
        // A rim that is elsewhere.
        (
            "('',(0.0,0.0,10.0))",
            "('',(0.0,0.0,17.0))",
            "CYLINDRICAL_SURFACE: #16: an end of the edge is 7.000 mm away from its curve",
        ),
        (
            "ORIENTED_EDGE('',*,*,#8,.T.)",
            "ORIENTED_EDGE('',*,*,#8,.U.)",
            "CYLINDRICAL_SURFACE: #18: parameter 5 of ORIENTED_EDGE is not .T. or .F.",
        ),
        (
            "CIRCLE('',#4,5.0)",
            "OFFSET_CURVE_3D('',#4,5.0)",
            "CYLINDRICAL_SURFACE: #5: OFFSET_CURVE_3D is not read",
        ),
        ("EDGE_CURVE('',#7", "EDGE_CURVE('',#5", ": #5 is CIRCLE, where VERTEX_POINT belongs"),
    ];
    for (from, to, expected) in cases {
        let found = told(&cylinder(from, to));
        assert!(found.ends_with(expected), "{found}\nexpected {expected}");
    }
}

#[test]
fn cyclic_references_end() {
    let text = cylinder("CYLINDRICAL_SURFACE('',#4,5.)", "OFFSET_SURFACE('',#17,1.,.F.)");
    assert_eq!(
        told(&text),
        "OFFSET_SURFACE: #17 refers back to itself, or through too many others"
    );
    let text = cylinder("CIRCLE('',#4,5.0)", "TRIMMED_CURVE('',#5,(#1),(#1),.T.,.CARTESIAN.)");
    assert!(told(&text).contains("#5 refers back to itself"));
    let text = cylinder("SI_UNIT(.MILLI.,.METRE.)", "CONVERSION_BASED_UNIT('X',#900)")
        .replace("DATA;\n", "DATA;\n#900=LENGTH_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.),#32);\n");
    assert!(!read(text.as_bytes(), Accuracy::default()).unwrap().is_whole());
}

#[test]
fn a_face_that_is_lost_leaves_the_body_unsound() {
    let text = cylinder("CYLINDRICAL_SURFACE", "CORRUGATED_SURFACE");
    let model = read(text.as_bytes(), Accuracy::default()).unwrap();
    let body = &model.bodies[0];
    assert!(!body.is_sound() && body.lost.len() == 1 && body.faces == 3);
    assert!(!body.mesh.triangles.is_empty(), "the other faces are there");
}

#[test]
fn huge_counts_and_absurd_accuracies_end_soon() {
    let began = std::time::Instant::now();
    for asked in [1e-300, 1e-15, 1e300] {
        let model = read(cylinder("", "").as_bytes(), Accuracy::Length(asked)).unwrap();
        assert_eq!(model.bodies.len(), 1);
    }
    for asked in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let error = read(cylinder("", "").as_bytes(), Accuracy::Share(asked)).unwrap_err();
        assert_eq!(error, ReadError::Accuracy);
    }
    // A multiplicity of a milliard, and a degree.
    let text = "ISO-10303-21;DATA;#1=CARTESIAN_POINT('',(0.,0.,0.));#2=VERTEX_POINT('',#1);\
        #3=B_SPLINE_CURVE_WITH_KNOTS('',3,(#1,#1,#1,#1),.U.,.F.,.F.,(999999999,4),(0.,1.),.U.);\
        #4=EDGE_CURVE('',#2,#2,#3,.T.);#5=ORIENTED_EDGE('',*,*,#4,.T.);#6=EDGE_LOOP('',(#5));\
        #7=FACE_BOUND('',#6,.T.);#8=B_SPLINE_SURFACE_WITH_KNOTS('',900000000,3,((#1)),.U.,.F.,.F.,.F.,\
        (999999999,4),(4,4),(0.,1.),(0.,1.),.U.);#9=ADVANCED_FACE('',(#7),#8,.T.);\
        #10=CLOSED_SHELL('',(#9,#9));#11=MANIFOLD_SOLID_BREP('',#10);ENDSEC;END-ISO-10303-21;";
    assert!(!read(text.as_bytes(), Accuracy::default()).unwrap().is_whole());
    assert!(began.elapsed().as_secs() < 60, "{:?}", began.elapsed());
}

#[test]
fn a_file_without_bodies_says_so() {
    let text = "ISO-10303-21;HEADER;ENDSEC;DATA;#1=CARTESIAN_POINT('',(0.,0.,0.));ENDSEC;END-ISO-10303-21;";
    let model = read(text.as_bytes(), Accuracy::default()).unwrap();
    assert_eq!(model.findings, [Finding::NoBody]);
    assert!(!model.is_whole());
    let told = read(b"solid x", Accuracy::default()).unwrap_err().to_string();
    assert_eq!(told, "line 1, column 1: ISO-10303-21; expected, found SOLID");
}

proptest! {
    /// A good file with bytes put in, taken out or changed: never a panic.
    #[test]
    fn changed_files_end(changes in prop::collection::vec((0_usize..10_000, any::<u8>(), 0_u8..3), 1..6)) {
        let mut bytes = cylinder("", "").into_bytes();
        for (at, byte, how) in changes {
            let at = at % bytes.len();
            match how {
                0 => bytes[at] = byte,
                1 => bytes.insert(at, byte),
                _ => drop(bytes.remove(at)),
            }
        }
        drop(read(&bytes, Accuracy::default()));
    }

    /// Numbers and references exchanged, so that what is read means something else.
    #[test]
    fn exchanged_words_end(picks in prop::collection::vec((0_usize..1000, 0_usize..1000), 1..8)) {
        let text = cylinder("", "");
        let mut words: Vec<&str> = text.split_inclusive(&[',', '(', ')', '=', ';']).collect();
        for (a, b) in picks {
            let n = words.len();
            words.swap(a % n, b % n);
        }
        drop(read(words.concat().as_bytes(), Accuracy::default()));
    }
}
