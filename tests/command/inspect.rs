//! What `overcup inspect` tells.

use crate::box_car::{BoxCar, Corners, step, tessellated};
use crate::told;
use std::fs;

/// Two boxes, the second without its top, in the two ways in which OBJ names corners.
const BOXES: &str = "\
o cover
v 0 0 0\nv 4 0 0\nv 4 3 0\nv 0 3 0\nv 0 0 2\nv 4 0 2\nv 4 3 2\nv 0 3 2
f 1 4 3 2\nf 5 6 7 8\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8
o tray
v 10 0 0\nv 14 0 0\nv 14 3 0\nv 10 3 0\nv 10 0 2\nv 14 0 2\nv 14 3 2\nv 10 3 2
f -8 -5 -6 -7\nf -8 -7 -3 -4\nf -7 -6 -2 -3\nf -6 -5 -1 -2\nf -5 -8 -4 -1
";

/// A tetrahedron of half a metre, mirrored by the node that holds it; its buffer in the text.
const TETRAHEDRON: &str = r#"{"asset": {"version": "2.0"}, "scenes": [{"nodes": [0]}],
 "nodes": [{"name": "stand", "scale": [-1, 1, 1], "children": [1]}, {"name": "foot", "mesh": 0}],
 "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
 "accessors": [{"bufferView": 0, "componentType": 5126, "count": 4, "type": "VEC3"},
  {"bufferView": 1, "componentType": 5121, "count": 12, "type": "SCALAR"}],
 "bufferViews": [{"buffer": 0, "byteLength": 48}, {"buffer": 0, "byteOffset": 48, "byteLength": 12}],
 "buffers": [{"byteLength": 60, "uri": "data:application/octet-stream;base64,BUFFER"}]}"#;
/// Corners (0 0 0), (0.5 0 0), (0 0.5 0), (0 0 0.5) as f32 and the triangles 0 2 1, 0 1 3, 0 3 2, 1 2 3, by
/// Python's base64.
const BUFFER: &str =
    "AAAAAAAAAAAAAAAAAAAAPwAAAAAAAAAAAAAAAAAAAD8AAAAAAAAAAAAAAAAAAAA/AAIBAAEDAAMCAQID";

fn with(file: &str, text: &str) -> BoxCar {
    let car = BoxCar::new();
    fs::write(car.path(file), text).unwrap();
    car
}

#[test]
fn a_file_without_unit_is_told_and_asked_for_it() {
    let car = with("boxes.obj", BOXES);
    let output = car.overcup(&["inspect", "boxes.obj"]);
    assert_eq!(output.status.code(), Some(1));
    insta::assert_snapshot!(told(&output));
}

#[test]
fn an_open_body_is_told_with_its_place() {
    let car = with("boxes.obj", BOXES);
    let output = car.overcup(&["inspect", "boxes.obj", "--unit", "in", "--units", "in"]);
    assert_eq!(output.status.code(), Some(1));
    insta::assert_snapshot!(told(&output));
}

#[test]
fn bodies_of_a_scene_by_their_names() {
    let car = with("stand.gltf", &TETRAHEDRON.replace("BUFFER", BUFFER));
    let output = car.overcup(&["inspect", "stand.gltf"]);
    assert_eq!(output.status.code(), Some(0));
    insta::assert_snapshot!(told(&output));
    let json = car.overcup(&["inspect", "stand.gltf", "--json"]);
    assert_eq!(json.status.code(), Some(0));
    let told: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    assert_eq!((&told["unit"], &told["unit_by_file"]), (&"m".into(), &true.into()));
    let body = &told["bodies"][0];
    assert_eq!((&body["name"], &body["within"][0]), (&"foot".into(), &"stand".into()));
    assert_eq!(body["low"], serde_json::json!([-500.0, 0.0, 0.0]));
    // A sixth of the cube of its edge, mm3; positive, since the mirrored triangles were turned around.
    let volume = body["volume"].as_f64().unwrap();
    assert!((volume - 0.5e3_f64.powi(3) / 6.0).abs() < 1e-3, "{volume}");
    assert_eq!(body["sound"], true);
}

#[test]
fn json_tells_what_is_wrong_where() {
    let car = with("boxes.obj", BOXES);
    let output = car.overcup(&["inspect", "boxes.obj", "--unit", "cm", "--json"]);
    assert_eq!(output.status.code(), Some(1));
    insta::assert_snapshot!(told(&output));
}

#[test]
fn files_that_cannot_be_used_are_told() {
    let car = with("boxes.obj", &BOXES.replace("f -8 -5", "f -8 -99"));
    fs::write(car.path("stand.gltf"), TETRAHEDRON.replace("BUFFER", BUFFER)).unwrap();
    let mut all = String::new();
    for arguments in [
        &["inspect", "boxes.obj"][..],
        &["inspect", "stand.gltf", "--unit", "mm"],
        &["inspect", "gone.stl"],
        &["inspect", "kit.toml"],
    ] {
        let output = car.overcup(arguments);
        assert_eq!(output.status.code(), Some(2));
        all += &told(&output);
    }
    insta::assert_snapshot!(all);
}

#[test]
fn points_are_no_body() {
    let ply = "ply\nformat ascii 1.0\nelement vertex 2\nproperty float x\nproperty float y\n\
               property float z\nend_header\n0 0 0\n1 2 3\n";
    let car = with("scan.ply", ply);
    let output = car.overcup(&["inspect", "scan.ply", "--unit", "m"]);
    assert_eq!(output.status.code(), Some(1));
    insta::assert_snapshot!(told(&output));
}

#[test]
fn help_of_inspect() {
    insta::assert_snapshot!(told(&BoxCar::new().overcup(&["inspect", "--help"])));
}

/// The plate of the car of boxes.
const PLATE: Corners = ([-400.0, -400.0, -20.0], [400.0, 400.0, 0.0]);

#[test]
fn pieces_of_a_solid_that_contradict_each_other_are_told() {
    // A block that runs into the plate; a void that reaches out of it; one within it.
    let run_in = (([-50.0, -50.0, -5.0], [50.0, 50.0, -2.0]), true);
    let reaching = (([300.0, 300.0, -10.0], [350.0, 350.0, 10.0]), false);
    let within = (([300.0, 300.0, -10.0], [350.0, 350.0, -5.0]), false);
    let mut all = String::new();
    for (extra, status) in [(run_in, 1), (reaching, 1), (within, 0)] {
        let car = with("plate.step", &step("plate", &[(PLATE, true), extra]));
        let output = car.overcup(&["inspect", "plate.step"]);
        assert_eq!(output.status.code(), Some(status));
        all += &told(&output);
    }
    insta::assert_snapshot!(all);
}

#[test]
fn triangles_in_step_ask_for_their_deviation() {
    let good = "((1,3,4),(1,4,2),(5,6,8),(5,8,7),(1,2,6),(1,6,5),(3,7,8),(3,8,4),(1,5,7),(1,7,3),\
                (2,4,8),(2,8,6))";
    let mut all = String::new();
    // A hole, and a point that is not there, which loses the face.
    for (triangles, status) in [
        (good.to_owned(), 0),
        (good.replace(",(2,8,6)", ""), 1),
        (good.replace("(2,8,6)", "(2,9,6)"), 2),
    ] {
        let car = with("plate.step", &tessellated("plate", PLATE, &triangles));
        let output = car.overcup(&["inspect", "plate.step"]);
        all += &told(&output);
        assert_eq!(output.status.code(), Some(status), "{all}");
    }
    insta::assert_snapshot!(all);
}

#[test]
fn a_case_whose_solid_contradicts_itself_says_so() {
    let from = "file = \"mesh/plate.stl\"\nunit = \"mm\"";
    let mut all = String::new();
    for extra in [
        (([-50.0, -50.0, -5.0], [50.0, 50.0, -2.0]), true),
        (([300.0, 300.0, -10.0], [350.0, 350.0, 10.0]), false),
    ] {
        let car = with("car/mesh/plate.step", &step("plate", &[(PLATE, true), extra]));
        car.edit("car/case.toml", from, "file = \"mesh/plate.step\"");
        let output = car.overcup(&["check", "car", "--json"]);
        let found = told(&output);
        // Of what is answered only what was found of the files matters here.
        match serde_json::from_slice::<serde_json::Value>(&output.stdout) {
            Ok(record) => {
                all += &serde_json::to_string_pretty(&record["findings"]).unwrap();
                all.push('\n');
            }
            Err(_) => all += &found,
        }
    }
    insta::assert_snapshot!(all);
}
