//! Faulty mesh files, each in the place of the bench plate's.

use crate::bench::{Bench, CASE, edited};
use crate::meshes::{
    Triangle, ascii, bench as meshes_of_the_bench, binary, plate, plate_bytes, plate_text,
};
use crate::{case_found, case_refused};

/// Reads the case with other bytes in the plate's file: it must be refused.
fn refused(name: &str, bytes: &[u8]) {
    let bench = Bench::new();
    bench.write("plate.stl", bytes);
    case_refused(name, &bench);
}

/// The same, but it must be read with a finding.
fn found(name: &str, bytes: &[u8]) {
    let bench = Bench::new();
    bench.write("plate.stl", bytes);
    case_found(name, &bench);
}

fn count(bytes: &mut [u8], triangles: u32) {
    bytes[80..84].copy_from_slice(&triangles.to_le_bytes());
}

#[test]
fn binary_files_that_cannot_be_used() {
    refused("stl-empty", b"");
    refused("stl-ten-bytes", b"0123456789");
    refused("stl-cut-in-a-triangle", &plate_bytes(|b| b.truncate(84 + 50 * 7 + 13)));
    refused("stl-cut-between-triangles", &plate_bytes(|b| b.truncate(84 + 50 * 7)));
    refused("stl-count-too-small", &plate_bytes(|b| count(b, 3)));
    refused("stl-count-too-large", &plate_bytes(|b| count(b, 1000)));
    refused("stl-count-huge", &plate_bytes(|b| count(b, u32::MAX)));
    refused("stl-bytes-after-the-end", &plate_bytes(|b| b.extend([0; 9])));
    refused("stl-no-triangles", &binary("bench", &[]));
    refused("stl-nan", &plate(|t| t[4][1][2] = f32::NAN));
    refused("stl-infinite", &plate(|t| t[5][0][0] = f32::NEG_INFINITY));
    refused("stl-absurdly-far", &plate(|t| t[6][2][1] = 3e38));
    refused(
        "stl-binary-called-solid-and-cut",
        &plate_bytes(|b| {
            b[..6].copy_from_slice(b"solid ");
            b.truncate(500);
        }),
    );
}

#[test]
fn text_files_that_cannot_be_used() {
    refused("stl-text-without-endloop", &plate_text("endloop\n", ""));
    refused("stl-text-cut", &plate_text("", "")[..1000]);
    refused("stl-text-with-a-word-for-a-number", &plate_text("vertex 0 0 10", "vertex zero 0 10"));
    refused("stl-text-with-two-numbers", &plate_text("vertex 0 0 10", "vertex 0 0"));
    refused("stl-text-with-nan", &plate_text("vertex 0 0 10", "vertex 0 nan 10"));
    refused("stl-text-overflowing", &plate_text("vertex 0 0 10", "vertex 0 1e99 10"));
    refused(
        "stl-text-garbage-after-the-end",
        &plate_text("endsolid bench\n", "endsolid bench\nfin\n"),
    );
    refused("stl-text-without-triangles", b"solid bench\nendsolid bench\n");
    let mut bytes = plate_text("endloop", "end\u{fffd}loop");
    let at = bytes.windows(3).position(|w| w == "\u{fffd}".as_bytes()).unwrap();
    bytes[at] = 0xff;
    refused("stl-text-not-utf8", &bytes);
}

#[test]
fn files_that_are_not_there_or_of_another_kind() {
    let change = |name: &str, to: &str| {
        let bench = Bench::new();
        std::fs::create_dir(bench.path("folder.stl")).unwrap();
        bench.write("plate.step", b"ISO-10303-21;\nHEADER;\n");
        bench.write("plate.max", b"something else");
        bench.write("plate", b"");
        let file = format!("file = {to}");
        bench.write("case.toml", edited(CASE, &[("file = \"plate.stl\"", &file)]).as_bytes());
        case_refused(name, &bench);
    };
    change("mesh-file-missing", "\"plait.stl\"");
    change("mesh-file-with-backslashes", "'parts\\plate.stl'");
    change("mesh-file-is-a-folder", "\"folder.stl\"");
    change("mesh-file-is-step", "\"plate.step\"");
    change("mesh-file-of-unknown-kind", "\"plate.max\"");
    change("mesh-file-without-ending", "\"plate\"");
    change("mesh-file-name-empty", "\"\"");
}

/// The plate scaled, as if it had been exported in another unit than the document says.
fn scaled(by: f32) -> Vec<u8> {
    plate(|triangles| triangles.iter_mut().flatten().flatten().for_each(|c| *c *= by))
}

#[test]
fn plates_of_the_wrong_size_or_in_the_wrong_place() {
    refused("plate-in-inches", &scaled(1.0 / 25.4));
    refused("plate-in-metres", &scaled(0.001));
    refused("plate-turned-inside-out", &plate(|ts| ts.iter_mut().for_each(|t| t.swap(0, 1))));
    refused(
        "plate-on-its-side",
        &plate(|ts| {
            for p in ts.iter_mut().flatten() {
                *p = [p[2], p[0], p[1]];
            }
        }),
    );
    let bench = Bench::new();
    let narrow = plate(|triangles| {
        for [x, y, _] in triangles.iter_mut().flatten() {
            (*x, *y) = (*x * 0.64, *y * 0.64);
        }
    });
    bench.write("plate.stl", &narrow);
    let small_flange = edited(CASE, &[("flange = \"6 1/2 in\"", "flange = \"4 in\"")]);
    bench.write("case.toml", small_flange.as_bytes());
    case_found("plate-too-small-in-any-unit", &bench);
}

#[test]
fn unsound_meshes_are_read_and_told_of() {
    let sliver: Triangle = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [2.0, 0.0, 0.0]];
    found("mesh-with-a-hole", &plate(|t| t.truncate(t.len() - 1)));
    found("mesh-with-a-triangle-twice", &plate(|t| t.push(t[3])));
    found("mesh-with-a-triangle-without-area", &plate(|t| t.push(sliver)));
    found("mesh-with-a-triangle-turned-over", &plate(|t| t[0].swap(0, 1)));

    let bench = Bench::new();
    let inside_out: Vec<Triangle> =
        meshes_of_the_bench().remove(4).1.into_iter().map(|[a, b, c]| [b, a, c]).collect();
    bench.write("valve.stl", &binary("bench", &inside_out));
    case_found("mesh-inside-out", &bench);
}

#[test]
fn what_looks_odd_but_is_right_is_read_in_full() {
    let triangles = meshes_of_the_bench().remove(0).1;
    let whole = Bench::new().case().unwrap_or_else(|f| panic!("{f}"));
    let expected = &whole.car.body(whole.car.plate).body.mesh;
    let (first, second) = triangles.split_at(10);
    for (what, bytes) in [
        ("a binary header that begins with solid", binary("solid bench", &triangles)),
        ("text", ascii(&triangles).into_bytes()),
        ("text with two solids", (ascii(first) + &ascii(second)).into_bytes()),
        ("text in capitals with DOS line ends", {
            ascii(&triangles).to_uppercase().replace('\n', "\r\n").into_bytes()
        }),
    ] {
        let bench = Bench::new();
        bench.write("plate.stl", &bytes);
        let case = bench.case().unwrap_or_else(|f| panic!("{what}: {f}"));
        assert_eq!(&case.car.body(case.car.plate).body.mesh, expected, "{what}");
    }
}
