//! Faulty mesh files of every format but STL, each in the place of the bench plate's; and bodies taken from
//! a file that holds several.

use crate::bench::{Bench, CASE, edited};
use crate::meshes::{Triangle, bench as meshes_of_the_bench};
use crate::{case_found, case_refused};
use std::fmt::Write as _;
use std::io::Write as _;

/// The bench with this file for its plate; `unit` is what the document says of it, a line or nothing.
fn with_plate(file: &str, bytes: &[u8], unit: &str) -> Bench {
    let bench = Bench::new();
    bench.write(file, bytes);
    let named = format!("file = \"{file}\"\n{unit}");
    let was = "file = \"plate.stl\"\nunit = \"mm\"\n";
    bench.write("case.toml", edited(CASE, &[(was, &named)]).as_bytes());
    bench
}

/// OBJ and PLY are given a unit; the others have their own.
fn refused(name: &str, file: &str, bytes: impl AsRef<[u8]>) {
    let unit = if file.ends_with("obj") || file.ends_with("ply") { "unit = \"mm\"\n" } else { "" };
    case_refused(name, &with_plate(file, bytes.as_ref(), unit));
}

/// A text after one replacement.
fn after(text: &str, from: &str, to: &str) -> String {
    assert!(text.contains(from), "{from:?} is not in the text");
    text.replacen(from, to, 1)
}

/// The bench's bodies, by the names of their files.
fn bodies() -> Vec<(String, Vec<Triangle>)> {
    let name = |file: &str| file.trim_end_matches(".stl").to_owned();
    meshes_of_the_bench().into_iter().map(|(file, triangles)| (name(file), triangles)).collect()
}

fn obj(bodies: &[(String, Vec<Triangle>)]) -> String {
    let mut text = String::new();
    for (name, triangles) in bodies {
        writeln!(text, "o {name}").unwrap();
        for triangle in triangles {
            for [x, y, z] in triangle {
                writeln!(text, "v {x} {y} {z}").unwrap();
            }
            text.push_str("f -3 -2 -1\n");
        }
    }
    text
}

fn plate_obj() -> String {
    obj(&bodies()[..1])
}

#[test]
fn obj_files_that_cannot_be_used() {
    let plate = plate_obj();
    let at_the_end = |more: &str| format!("{plate}{more}");
    refused("obj-empty", "plate.obj", "");
    refused("obj-without-faces", "plate.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\n");
    refused("obj-a-word-for-a-number", "plate.obj", after(&plate, "v ", "v one "));
    refused("obj-two-numbers", "plate.obj", "v 0 0\n");
    refused("obj-infinite", "plate.obj", "v 0 1e999 0\n");
    refused("obj-vertex-zero", "plate.obj", at_the_end("f 1 2 0\n"));
    refused("obj-vertex-beyond", "plate.obj", at_the_end("f 1 2 4000000000\n"));
    refused(
        "obj-vertex-beyond-all-numbers",
        "plate.obj",
        at_the_end("f 1 2 99999999999999999999\n"),
    );
    refused("obj-vertex-before-the-first", "plate.obj", at_the_end("f 1 2 -4000\n"));
    refused("obj-face-of-two", "plate.obj", at_the_end("f 1 2\n"));
    refused("obj-face-cut", "plate.obj", at_the_end("f 1/"));
    refused(
        "obj-face-crosses-itself",
        "plate.obj",
        at_the_end("v 0 0 0\nv 3 2 0\nv 3 0 0\nv 0 1 0\nf -4 -3 -2 -1\n"),
    );
    refused("obj-free-form", "plate.obj", at_the_end("cstype bspline\ndeg 3\n"));
    refused("obj-is-something-else", "plate.obj", "<html>\n");
    let mut bytes = plate.into_bytes();
    bytes.extend(b"\xff\xfe\x00\x01\n");
    refused("obj-binary-rest", "plate.obj", bytes);
}

fn ply(order: &str) -> Vec<u8> {
    let triangles = bodies().remove(0).1;
    let mut out = format!(
        "ply\nformat {order} 1.0\nelement vertex {}\nproperty float x\nproperty float y\nproperty float z\n\
         element face {}\nproperty list uchar int vertex_indices\nend_header\n",
        3 * triangles.len(),
        triangles.len()
    )
    .into_bytes();
    let text = order == "ascii";
    for [x, y, z] in triangles.iter().flatten() {
        if text {
            writeln!(out, "{x} {y} {z}").unwrap();
        } else {
            out.extend([x, y, z].into_iter().flat_map(|c| c.to_le_bytes()));
        }
    }
    for at in (0..).step_by(3).take(triangles.len()) {
        let corners: [i32; 3] = [at, at + 1, at + 2];
        if text {
            writeln!(out, "3 {} {} {}", corners[0], corners[1], corners[2]).unwrap();
        } else {
            out.push(3);
            out.extend(corners.iter().flat_map(|c| c.to_le_bytes()));
        }
    }
    out
}

#[test]
fn ply_files_that_cannot_be_used() {
    let text = String::from_utf8(ply("ascii")).unwrap();
    let binary = ply("binary_little_endian");
    let bytes = |from: &str, to: &str| {
        let at = binary.windows(from.len()).position(|w| w == from.as_bytes()).unwrap();
        [&binary[..at], to.as_bytes(), &binary[at + from.len()..]].concat()
    };
    refused("ply-empty", "plate.ply", "");
    refused("ply-header-cut", "plate.ply", &text[..60]);
    refused("ply-order-unknown", "plate.ply", after(&text, "ascii", "binary_middle_endian"));
    refused("ply-no-format", "plate.ply", after(&text, "format ascii 1.0\n", ""));
    refused("ply-type-unknown", "plate.ply", after(&text, "float z", "quad z"));
    refused("ply-list-of-lists", "plate.ply", after(&text, "uchar int", "list int"));
    refused("ply-count-is-a-word", "plate.ply", after(&text, "face 64", "face many"));
    refused(
        "ply-count-huge",
        "plate.ply",
        bytes("element vertex 192", "element vertex 9000000000000"),
    );
    refused(
        "ply-count-of-faces-too-large",
        "plate.ply",
        bytes("element face 64", "element face 65"),
    );
    refused("ply-count-too-small", "plate.ply", bytes("element face 64", "element face 63"));
    refused("ply-text-cut", "plate.ply", &text[..text.len() - 30]);
    refused("ply-binary-cut", "plate.ply", &binary[..binary.len() - 5]);
    refused("ply-bytes-after-the-end", "plate.ply", [&binary[..], &[0; 9]].concat());
    refused("ply-more-in-a-line", "plate.ply", after(&text, "3 0 1 2\n", "3 0 1 2 3\n"));
    refused("ply-vertex-beyond", "plate.ply", after(&text, "3 0 1 2\n", "3 0 1 192\n"));
    refused("ply-vertex-negative", "plate.ply", after(&text, "3 0 1 2\n", "3 0 -1 2\n"));
    refused("ply-face-of-two", "plate.ply", after(&text, "3 0 1 2\n", "2 0 1\n"));
    refused("ply-no-z", "plate.ply", after(&text, "float z", "float height"));
    refused(
        "ply-two-elements-of-vertices",
        "plate.ply",
        after(&text, "element face", "element vertex"),
    );
    refused("ply-strips", "plate.ply", after(&text, "element face 64", "element tristrips 64"));
    let mut bytes = binary.clone();
    let at = bytes.windows(10).position(|w| w == b"end_header").unwrap() + 11;
    bytes[at..at + 4].copy_from_slice(&f32::NAN.to_le_bytes());
    refused("ply-nan", "plate.ply", bytes);
    let cloud = after(&text, "element face 64", "element face 0");
    let end = cloud.find("\n3 0 1 2\n").unwrap();
    refused("ply-points-alone", "plate.ply", &cloud[..=end]);
}

/// The bench's bodies as glTF, metres: the document and its buffer.
fn gltf(bodies: &[(String, Vec<Triangle>)]) -> (serde_json::Value, Vec<u8>) {
    let mut buffer = Vec::new();
    let (mut nodes, mut meshes, mut accessors, mut views) = (vec![], vec![], vec![], vec![]);
    for (at, (name, triangles)) in bodies.iter().enumerate() {
        let start = buffer.len();
        for c in triangles.iter().flatten().flatten() {
            buffer.extend(c.to_le_bytes());
        }
        nodes.push(serde_json::json!({"name": name, "mesh": at, "scale": [0.001, 0.001, 0.001]}));
        meshes.push(serde_json::json!({"primitives": [{"attributes": {"POSITION": at}}]}));
        let count = 3 * triangles.len();
        accessors.push(serde_json::json!(
            {"bufferView": at, "componentType": 5126, "count": count, "type": "VEC3"}));
        views.push(serde_json::json!(
            {"buffer": 0, "byteOffset": start, "byteLength": buffer.len() - start}));
    }
    let roots: Vec<usize> = (0..nodes.len()).collect();
    let document = serde_json::json!({
        "asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": roots}], "nodes": nodes,
        "meshes": meshes, "accessors": accessors, "bufferViews": views,
        "buffers": [{"byteLength": buffer.len(), "uri": "plate.bin"}]
    });
    (document, buffer)
}

fn glb(document: &serde_json::Value, buffer: &[u8]) -> Vec<u8> {
    let mut document = document.clone();
    document["buffers"][0].as_object_mut().unwrap().remove("uri");
    let mut text = document.to_string().into_bytes();
    text.resize(text.len().next_multiple_of(4), b' ');
    let word = |n: usize| u32::try_from(n).unwrap().to_le_bytes();
    let length = 12 + 8 + text.len() + 8 + buffer.len();
    [
        b"glTF\x02\0\0\0",
        &word(length)[..],
        &word(text.len()),
        b"JSON",
        &text,
        &word(buffer.len()),
        b"BIN\0",
        buffer,
    ]
    .concat()
}

#[test]
fn gltf_files_that_cannot_be_used() {
    let (whole, buffer) = gltf(&bodies()[..1]);
    let at = |name: &str, change: &dyn Fn(&mut serde_json::Value)| {
        let mut document = whole.clone();
        change(&mut document);
        let bench = with_plate("plate.gltf", document.to_string().as_bytes(), "");
        bench.write("plate.bin", &buffer);
        case_refused(name, &bench);
    };
    let none = || serde_json::json!([]);
    at("gltf-of-the-past", &|d| d["asset"]["version"] = "1.0".into());
    at("gltf-without-asset", &|d| d["asset"] = serde_json::Value::Null);
    at("gltf-count-is-a-text", &|d| d["accessors"][0]["count"] = "many".into());
    at("gltf-count-negative", &|d| d["accessors"][0]["count"] = (-1).into());
    at("gltf-count-huge", &|d| d["accessors"][0]["count"] = u64::MAX.into());
    at("gltf-values-of-nothing", &|d| {
        d["accessors"][0]["count"] = 4_000_000_000_u64.into();
        d["accessors"][0].as_object_mut().unwrap().remove("bufferView");
    });
    at("gltf-view-beyond-its-buffer", &|d| d["bufferViews"][0]["byteOffset"] = 1.into());
    at("gltf-view-overflowing", &|d| d["bufferViews"][0]["byteOffset"] = u64::MAX.into());
    at("gltf-stride-too-small", &|d| d["bufferViews"][0]["byteStride"] = 4.into());
    at("gltf-buffer-longer-than-its-file", &|d| d["buffers"][0]["byteLength"] = 99_999.into());
    at("gltf-buffer-missing", &|d| d["buffers"][0]["uri"] = "plait.bin".into());
    at("gltf-buffer-outside", &|d| d["buffers"][0]["uri"] = "../plate.bin".into());
    at("gltf-buffer-on-the-network", &|d| {
        d["buffers"][0]["uri"] = "https://example.org/plate.bin".into();
    });
    at("gltf-buffer-of-broken-base64", &|d| {
        d["buffers"][0]["uri"] = "data:application/octet-stream;base64,AA*A".into();
    });
    at("gltf-no-such-node", &|d| d["scenes"][0]["nodes"] = serde_json::json!([7]));
    at("gltf-node-in-itself", &|d| d["nodes"][0]["children"] = serde_json::json!([0]));
    at("gltf-no-such-mesh", &|d| d["nodes"][0]["mesh"] = 7.into());
    at("gltf-positions-of-two", &|d| d["accessors"][0]["type"] = "VEC2".into());
    at("gltf-flattened", &|d| d["nodes"][0]["scale"] = serde_json::json!([1, 0, 1]));
    at("gltf-turned-by-no-quaternion", &|d| {
        d["nodes"][0]["rotation"] = serde_json::json!([1, 1, 0, 0]);
    });
    at("gltf-projected", &|d| {
        d["nodes"][0] = serde_json::json!(
            {"mesh": 0, "matrix": [1, 0, 0, 1, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1]});
    });
    at("gltf-bent-by-a-skin", &|d| d["nodes"][0]["skin"] = 0.into());
    at("gltf-lines-alone", &|d| d["meshes"][0]["primitives"][0]["mode"] = 1.into());
    at("gltf-mode-unknown", &|d| d["meshes"][0]["primitives"][0]["mode"] = 9.into());
    at("gltf-empty-scene", &|d| d["scenes"][0]["nodes"] = none());
    at("gltf-requires-an-unknown-extension", &|d| {
        d["extensionsRequired"] = serde_json::json!(["KHR_draco_mesh_compression"]);
    });
    at("gltf-instances-by-an-extension", &|d| {
        d["nodes"][0]["extensions"] =
            serde_json::json!({"EXT_mesh_gpu_instancing": {"attributes": {}}});
    });
    // A million nodes with one mesh each, where 16 bytes of it stand for a thousand triangles.
    at("gltf-bomb-of-instances", &|d| {
        let node = d["nodes"][0].clone();
        let count = 700_000;
        d["nodes"] = vec![node; count].into();
        d["scenes"][0]["nodes"] = (0..count).collect::<Vec<_>>().into();
    });
    refused("gltf-nested-deeply", "plate.gltf", format!("{{\"extras\": {}1", "[".repeat(100_000)));
    refused("gltf-cut", "plate.gltf", &whole.to_string()[..200]);

    let whole = glb(&whole, &buffer);
    let changed = |at: usize, byte: u8| {
        let mut bytes = whole.clone();
        bytes[at] = byte;
        bytes
    };
    refused("glb-header-cut", "plate.glb", &whole[..10]);
    refused("glb-cut", "plate.glb", &whole[..whole.len() - 4]);
    refused("glb-of-the-past", "plate.glb", changed(4, 1));
    refused("glb-chunk-too-long", "plate.glb", changed(15, 0x7f));
    refused("glb-without-json", "plate.glb", changed(16, b'X'));
    let unit = with_plate("plate.glb", &whole, "unit = \"mm\"\n");
    case_refused("glb-unit-contradicted", &unit);
}

const CORE: &str = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02";
const MATERIAL: &str = "http://schemas.microsoft.com/3dmanufacturing/material/2015/02";
const SLICE: &str = "http://schemas.microsoft.com/3dmanufacturing/slice/2015/07";

/// The bench's bodies as a 3MF model.
fn model(bodies: &[(String, Vec<Triangle>)]) -> String {
    let mut objects = String::new();
    let mut items = String::new();
    for (id, (name, triangles)) in (1..).zip(bodies) {
        write!(objects, "<object id=\"{id}\" name=\"{name}\"><mesh><vertices>").unwrap();
        for [x, y, z] in triangles.iter().flatten() {
            write!(objects, "<vertex x=\"{x}\" y=\"{y}\" z=\"{z}\"/>").unwrap();
        }
        objects.push_str("</vertices><triangles>");
        for at in (0..).step_by(3).take(triangles.len()) {
            write!(objects, "<triangle v1=\"{at}\" v2=\"{}\" v3=\"{}\"/>", at + 1, at + 2).unwrap();
        }
        objects.push_str("</triangles></mesh></object>");
        write!(items, "<item objectid=\"{id}\"/>").unwrap();
    }
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<model unit=\"millimeter\" xmlns=\"{CORE}\" \
         xmlns:m=\"{MATERIAL}\" xmlns:s=\"{SLICE}\"><resources>{objects}</resources>\
         <build>{items}</build></model>"
    )
}

fn archive(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut writer = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, bytes) in parts {
        writer.start_file(*name, zip::write::SimpleFileOptions::default()).unwrap();
        writer.write_all(bytes).unwrap();
    }
    writer.finish().unwrap().into_inner()
}

const RELATIONS: &str = "<Relationships xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\">\
    <Relationship Target=\"/3D/3dmodel.model\" Id=\"rel0\" \
    Type=\"http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel\"/></Relationships>";

fn threemf(model: &str) -> Vec<u8> {
    archive(&[("_rels/.rels", RELATIONS.as_bytes()), ("3D/3dmodel.model", model.as_bytes())])
}

#[test]
fn threemf_files_that_cannot_be_used() {
    let whole = model(&bodies()[..1]);
    let at = |name: &str, from: &str, to: &str| {
        refused(name, "plate.3mf", threemf(&after(&whole, from, to)));
    };
    at("3mf-unit-unknown", "millimeter", "furlong");
    at("3mf-other-namespace", CORE, "http://example.org/core");
    at("3mf-requires-slices", "<model ", "<model requiredextensions=\"m s\" ");
    at("3mf-document-type", "<model ", "<!DOCTYPE model [<!ENTITY a \"aaaaaaaa\">]><model ");
    at("3mf-entity", "name=\"plate\"", "name=\"&a;\"");
    at("3mf-vertex-beyond", "v1=\"0\"", "v1=\"4000\"");
    at("3mf-vertex-negative", "v1=\"0\"", "v1=\"-1\"");
    at("3mf-corner-missing", "v1=\"0\" ", "");
    at("3mf-coordinate-missing", "<vertex x=", "<vertex a=");
    at("3mf-coordinate-infinite", "<vertex x=\"", "<vertex x=\"1e999");
    at("3mf-object-twice", "</resources>", "<object id=\"1\"/></resources>");
    at("3mf-object-without-number", "object id=\"1\"", "object");
    at("3mf-item-of-no-object", "item objectid=\"1\"", "item objectid=\"2\"");
    at(
        "3mf-item-placed-by-eleven",
        "objectid=\"1\"",
        "objectid=\"1\" transform=\"1 0 0 0 1 0 0 0 1 0 0\"",
    );
    at(
        "3mf-item-flattened",
        "objectid=\"1\"",
        "objectid=\"1\" transform=\"1 0 0 0 1 0 0 0 0 0 0 0\"",
    );
    at("3mf-nothing-built", "<item objectid=\"1\"/>", "");
    at("3mf-not-closed", "</build></model>", "</build>");
    at("3mf-tags-crossed", "</build></model>", "</model></build>");
    at("3mf-nested-deeply", "<build>", &format!("{}<build>", "<metadatagroup>".repeat(100_000)));
    at("3mf-in-another-part", "<item ", "<item path=\"/3D/other.model\" ");
    at(
        "3mf-component-of-itself",
        "</resources>",
        "<object id=\"2\"><components><component objectid=\"2\"/></components></object></resources>",
    );
    let chain = |last: u32, parts: usize| {
        let mut text = String::new();
        for id in 2..last {
            let part = format!("<component objectid=\"{}\"/>", id - 1).repeat(parts);
            write!(text, "<object id=\"{id}\"><components>{part}</components></object>").unwrap();
        }
        after(&whole, "</resources>", &format!("{text}</resources>"))
    };
    let doubled = chain(60, 2);
    refused(
        "3mf-bomb-of-components",
        "plate.3mf",
        threemf(&after(&doubled, "item objectid=\"1\"", "item objectid=\"59\"")),
    );
    let bomb = after(&whole, "</resources>", &format!("{}</resources>", " ".repeat(64 << 20)));
    refused("3mf-bomb-of-spaces", "plate.3mf", threemf(&bomb));
    refused("3mf-components-nested-deeply", "plate.3mf", threemf(&chain(90, 1)));

    let packed = threemf(&whole);
    refused("3mf-cut", "plate.3mf", &packed[..packed.len() / 2]);
    refused("3mf-header-alone", "plate.3mf", b"PK\x03\x04");
    let mut bytes = packed.clone();
    let middle = packed.len() / 2;
    bytes[middle..middle + 40].fill(0xaa);
    refused("3mf-damaged", "plate.3mf", bytes);
    refused(
        "3mf-without-relations",
        "plate.3mf",
        archive(&[("3D/3dmodel.model", whole.as_bytes())]),
    );
    refused("3mf-without-model", "plate.3mf", archive(&[("_rels/.rels", RELATIONS.as_bytes())]));
    refused("3mf-empty-archive", "plate.3mf", archive(&[]));
    let unit = with_plate("plate.3mf", &packed, "unit = \"in\"\n");
    case_refused("3mf-unit-contradicted", &unit);
}

#[test]
fn step_files_that_cannot_be_used() {
    let step = "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n\
        FILE_SCHEMA(('AUTOMOTIVE_DESIGN'));\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n";
    refused("step-header-alone", "plate.step", "ISO-10303-21;\nHEADER;\n");
    refused("step-without-bodies", "plate.step", step);
    refused(
        "step-entity-cut",
        "plate.stp",
        after(step, "DATA;\n", "DATA;\n#1=CARTESIAN_POINT('',(0.,"),
    );
}

/// The bench's case with every body from one file, after replacements.
fn from_one(file: &str, bytes: &[u8], unit: &str, edits: &[(&str, &str)]) -> Bench {
    let bench = Bench::new();
    bench.write(file, bytes);
    let mut case = CASE.to_owned();
    for (name, _) in bodies() {
        let was = format!("file = \"{name}.stl\"\nunit = \"mm\"\n");
        case = edited(&case, &[(&was, &format!("file = \"{file}\"\nbody = \"{name}\"\n{unit}"))]);
    }
    bench.write("case.toml", edited(&case, edits).as_bytes());
    bench
}

#[test]
fn bodies_of_one_file_of_any_format_are_the_same_car_top() {
    let from_stl = Bench::new().case().unwrap_or_else(|f| panic!("{f}"));
    let (document, buffer) = gltf(&bodies());
    for (file, bytes, unit) in [
        ("top.obj", obj(&bodies()).into_bytes(), "unit = \"mm\"\n"),
        ("top.glb", glb(&document, &buffer), ""),
        ("top.glb", glb(&document, &buffer), "unit = \"m\"\n"),
        ("top.3mf", threemf(&model(&bodies())), ""),
    ] {
        let bench = from_one(file, &bytes, unit, &[]);
        let case = bench.case().unwrap_or_else(|f| panic!("{file}: {f}"));
        assert_eq!(case.findings, [], "{file}");
        // The document and one mesh file.
        assert_eq!(case.sources.len(), 2, "{file}");
        for (found, wanted) in case.car.bodies.iter().zip(&from_stl.car.bodies) {
            assert_eq!((found.kind, &found.body.name), (wanted.kind, &wanted.body.name));
            let (found, wanted) = (&found.body.mesh, &wanted.body.mesh);
            assert_eq!(found.triangles, wanted.triangles, "{file}");
            for (a, b) in found.vertices.iter().zip(&wanted.vertices) {
                // Texts give the shortest decimals that round to an f32, which are half its last digit off.
                assert!((a - b).norm() < 2e-5, "{file}: {a} and {b}");
            }
        }
    }
}

#[test]
fn a_buffer_beside_the_document_is_one_of_its_sources() {
    let (document, buffer) = gltf(&bodies()[..1]);
    let bench = with_plate("plate.gltf", document.to_string().as_bytes(), "");
    bench.write("plate.bin", &buffer);
    let case = bench.case().unwrap_or_else(|f| panic!("{f}"));
    let paths: Vec<&str> = case.sources.iter().skip(1).take(3).map(|s| s.path.as_str()).collect();
    assert_eq!(paths, ["plate.gltf", "plate.bin", "housing.stl"]);
}

#[test]
fn bodies_that_are_asked_for_wrongly() {
    let unit = "unit = \"mm\"\n";
    let bytes = obj(&bodies()).into_bytes();
    let refused = |name: &str, edits: &[(&str, &str)]| {
        case_refused(name, &from_one("top.obj", &bytes, unit, edits));
    };
    refused("body-mistyped", &[("body = \"valve\"", "body = \"vavle\"")]);
    refused("body-of-no-pattern", &[("body = \"valve\"", "body = \"gauge*\"")]);
    refused("body-is-a-number", &[("body = \"valve\"", "body = 4")]);
    refused(
        "body-left-out-is-not-there",
        &[("body = \"valve\"", "body = \"valve\"\nleave-out = [\"tank\"]")],
    );
    case_refused("obj-without-unit", &from_one("top.obj", &bytes, "", &[]));
    case_refused("obj-unit-of-no-kind", &from_one("top.obj", &bytes, "unit = \"yard\"\n", &[]));

    let mut more = bodies();
    more.push(("tank".to_owned(), more[4].1.clone()));
    more.push(("walkway".to_owned(), more[5].1.clone()));
    let bytes = obj(&more).into_bytes();
    case_refused("bodies-in-no-mesh", &from_one("top.obj", &bytes, unit, &[]));
    let left_out = "body = \"valve\"\nleave-out = [\"tank\", \"walk*\"]";
    let bench = from_one("top.obj", &bytes, unit, &[("body = \"valve\"", left_out)]);
    let case = bench.case().unwrap_or_else(|f| panic!("{f}"));
    assert_eq!((case.findings.len(), case.car.bodies.len()), (0, 6));
    let twice = &[
        ("body = \"handwheel\"", "body = \"*wheel\""),
        ("body = \"valve\"", "body = \"valve\"\nleave-out = [\"tank\", \"walkway\"]"),
        ("body = \"studs\"", "body = \"s*ds\""),
    ];
    let case = from_one("top.obj", &bytes, unit, twice).case().unwrap_or_else(|f| panic!("{f}"));
    assert_eq!(case.findings, []);
    case_found(
        "body-of-two-meshes",
        &from_one(
            "top.obj",
            &bytes,
            unit,
            &[("body = \"valve\"", left_out), ("body = \"handwheel\"", "body = \"*a*\"")],
        ),
    );
}

#[test]
fn a_plate_in_the_wrong_unit_by_its_own_file() {
    let (mut document, buffer) = gltf(&bodies()[..1]);
    document["nodes"][0]["scale"] = serde_json::json!([1, 1, 1]);
    refused("glb-in-millimetres-against-the-standard", "plate.glb", glb(&document, &buffer));
}

#[test]
fn files_cut_off_anywhere_are_never_read_as_less() {
    let (document, buffer) = gltf(&bodies()[..1]);
    let glb = glb(&document, &buffer);
    let packed = threemf(&model(&bodies()[..1]));
    let folder = tempfile::tempdir().unwrap();
    for (file, whole, step) in [
        ("a.glb", glb, 7),
        ("a.3mf", packed, 7),
        ("a.ply", ply("ascii"), 13),
        ("a.ply", ply("binary_little_endian"), 13),
    ] {
        let path = folder.path().join(file);
        // What a text ends with may be cut: its last line end.
        for length in (0..whole.len() - 1).step_by(step) {
            std::fs::write(&path, &whole[..length]).unwrap();
            assert!(intake::meshes::read(&path, None).is_err(), "{file}: {length} bytes were read");
        }
        std::fs::write(&path, &whole).unwrap();
        let read = intake::meshes::read(&path, None).unwrap();
        assert_eq!(read.bodies[0].mesh.triangles.len(), bodies()[0].1.len(), "{file}");
    }
}
