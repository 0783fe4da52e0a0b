//! Small files of every format, written here by hand as the formats' standards have them.

use super::*;
use std::io::Write as _;

/// The corners and the triangles of a unit cube, facing outward.
const CORNERS: [[f64; 3]; 8] = [
    [0.0, 0.0, 0.0],
    [1.0, 0.0, 0.0],
    [1.0, 1.0, 0.0],
    [0.0, 1.0, 0.0],
    [0.0, 0.0, 1.0],
    [1.0, 0.0, 1.0],
    [1.0, 1.0, 1.0],
    [0.0, 1.0, 1.0],
];
const SIDES: [[usize; 4]; 6] =
    [[0, 3, 2, 1], [4, 5, 6, 7], [0, 1, 5, 4], [1, 2, 6, 5], [2, 3, 7, 6], [3, 0, 4, 7]];

fn cut() -> Vec<[usize; 3]> {
    SIDES.iter().flat_map(|[a, b, c, d]| [[*a, *b, *c], [*a, *c, *d]]).collect()
}

fn parsed(name: &str, bytes: &[u8], given: Option<MeshUnit>) -> Result<Model, MeshFault> {
    read_bytes(bytes, Path::new(name), given)
}

fn model(name: &str, bytes: &[u8]) -> Model {
    parsed(name, bytes, None).unwrap_or_else(|fault| panic!("{name}: {fault}"))
}

fn said(name: &str, bytes: &[u8]) -> String {
    parsed(name, bytes, None).unwrap_err().to_string()
}

/// A closed cube facing outward, from one corner to the other, mm.
fn is_cube(mesh: &Mesh, low: [f64; 3], high: [f64; 3]) {
    assert!(solids::soundness(mesh).is_sound(), "{:?}", solids::soundness(mesh));
    let (l, h) = mesh.bounds().unwrap();
    for (found, wanted) in l.iter().chain(h.iter()).zip(low.iter().chain(&high)) {
        assert!((found - wanted).abs() < 1e-9, "{l} to {h}, not {low:?} to {high:?}");
    }
    let (size, found) = ((h - l).product(), solids::volume(mesh));
    assert!((size - found).abs() < 1e-9 * size, "{found} mm3, not {size}");
}

fn obj(extra: &str) -> String {
    use std::fmt::Write as _;
    let mut text = String::new();
    for [x, y, z] in CORNERS {
        writeln!(text, "v {x} {y} {z}").unwrap();
    }
    text += extra;
    for side in SIDES {
        let [a, b, c, d] = side.map(|i| i + 1);
        writeln!(text, "f {a}/1/1 {b}//2 {c}/3 {d}").unwrap();
    }
    text
}

#[test]
fn objects_and_groups_name_bodies() {
    let two = obj("o first\ng a\n")
        + &obj("o second\n").replace("f ", "#f ")
        + "g b\nf -8 -5 -6\nf -8 -6 -7\n";
    let read = model("two.obj", two.as_bytes());
    assert_eq!(read.unit, UnitBy::Nobody);
    let names: Vec<_> = read.bodies.iter().map(|b| b.name.as_str()).collect();
    assert_eq!(names, ["first", "second"]);
    is_cube(&read.bodies[0].mesh, [0.0; 3], [1.0; 3]);
    assert_eq!(read.bodies[1].mesh.triangles.len(), 2);
    assert_eq!(read.bodies[1].mesh.vertices.len(), 4);
    // Groups where there is no object; faces of one name are one body.
    let groups =
        obj("g left\n").replace("f 5", "g right\nf 5").replace("f 1/1/1 2", "g left\nf 1/1/1 2");
    let read = model("groups.obj", groups.as_bytes());
    let counts: Vec<_> =
        read.bodies.iter().map(|b| (b.name.as_str(), b.mesh.triangles.len())).collect();
    assert_eq!(counts, [("left", 10), ("right", 2)]);
    let joined_again = joined(&read.bodies.iter().map(|b| &b.mesh).collect::<Vec<_>>());
    is_cube(&joined_again, [0.0; 3], [1.0; 3]);
    assert_eq!(model("none.obj", obj("").as_bytes()).bodies[0].name, "body 1");
}

#[test]
fn lines_of_obj_may_go_on_and_faults_are_at_theirs() {
    let split = obj("").replace("f 5", "f \\\n 5");
    is_cube(&model("a.obj", split.as_bytes()).bodies[0].mesh, [0.0; 3], [1.0; 3]);
    let given = parsed("a.obj", obj("").as_bytes(), Some(MeshUnit::Inch)).unwrap();
    assert_eq!(given.unit, UnitBy::Given(MeshUnit::Inch));
    is_cube(&given.bodies[0].mesh, [0.0; 3], [25.4; 3]);
    for (extra, message) in [
        ("f 1 2 0\n", "line 9: vertices are numbered from 1, not from 0"),
        ("f 1 2 9\n", "line 9: vertex 9 is not there, 8 come before this line"),
        ("f 1 2 -9\n", "line 9: vertex -9 is not there, 8 come before this line"),
        ("f 1 2\n", "line 9: a face of 2 corners"),
        ("v 1 2 nan\n", "line 9: \"nan\" is not a finite number"),
        ("v 1 2\n", "line 9: a number is missing"),
        ("surf 0 1 0 1\n", "line 9: \"surf\" begins a free-form curve or surface"),
        ("facet\n", "line 9: \"facet\" is not a statement of OBJ"),
    ] {
        assert_eq!(said("a.obj", obj(extra).as_bytes()), message);
    }
}

/// The cube as PLY, `order` one of the three formats.
fn ply(order: &str, coordinate: &str, index: &str, faces: bool) -> Vec<u8> {
    let count = if faces { SIDES.len() } else { 0 };
    let mut out = format!(
        "ply\nformat {order} 1.0\ncomment made here\nelement camera 1\nproperty list uchar int of\n\
         property double at\nelement vertex 8\nproperty {coordinate} x\nproperty {coordinate} y\n\
         property uchar quality\nproperty {coordinate} z\nproperty uchar red\nproperty uchar green\n\
         property uchar blue\nelement face {count}\nproperty ushort flags\n\
         property list uchar {index} vertex_indices\nend_header\n"
    )
    .into_bytes();
    let text = order == "ascii";
    let big = order == "binary_big_endian";
    let put = |out: &mut Vec<u8>, kind: &str, value: f64| {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small numbers")]
        let mut bytes = match kind {
            "char" => (value as i8).to_le_bytes().to_vec(),
            "uchar" => (value as u8).to_le_bytes().to_vec(),
            "short" => (value as i16).to_le_bytes().to_vec(),
            "ushort" => (value as u16).to_le_bytes().to_vec(),
            "int" => (value as i32).to_le_bytes().to_vec(),
            "uint" => (value as u32).to_le_bytes().to_vec(),
            "float" => (value as f32).to_le_bytes().to_vec(),
            _ => value.to_le_bytes().to_vec(),
        };
        if big {
            bytes.reverse();
        }
        if text { write!(out, "{value} ").unwrap() } else { out.extend(bytes) }
    };
    let end = |out: &mut Vec<u8>| {
        if text {
            out.push(b'\n');
        }
    };
    for (kind, value) in [("uchar", 2.0), ("int", 7.0), ("int", -7.0), ("double", 0.5)] {
        put(&mut out, kind, value);
    }
    end(&mut out);
    for [x, y, z] in CORNERS {
        for (kind, value) in [(coordinate, x), (coordinate, y), ("uchar", 9.0), (coordinate, z)] {
            put(&mut out, kind, value);
        }
        for colour in [255.0, 0.0, 20.0 * z] {
            put(&mut out, "uchar", colour);
        }
        end(&mut out);
    }
    for side in SIDES.iter().filter(|_| faces) {
        put(&mut out, "ushort", 1.0);
        put(&mut out, "uchar", 4.0);
        for corner in side {
            put(&mut out, index, *corner as f64);
        }
        end(&mut out);
    }
    out
}

#[test]
fn ply_in_every_order_and_type() {
    for order in ["ascii", "binary_little_endian", "binary_big_endian"] {
        for coordinate in ["float", "double", "short"] {
            for index in ["char", "uchar", "short", "ushort", "int", "uint"] {
                let read = model("a.ply", &ply(order, coordinate, index, true));
                is_cube(&read.bodies[0].mesh, [0.0; 3], [1.0; 3]);
                assert_eq!(read.bodies[0].colour, None);
                let mesh = &read.bodies[0].mesh;
                for (point, colour) in mesh.vertices.iter().zip(&read.bodies[0].vertex_colours) {
                    assert_eq!(*colour, [255, 0, if point.z > 0.5 { 20 } else { 0 }, 255]);
                }
            }
            let cloud = model("a.ply", &ply(order, coordinate, "int", false)).points.unwrap();
            assert_eq!(cloud.places, CORNERS.map(Point3::from));
            assert_eq!(cloud.colours.len(), 8);
        }
    }
}

#[test]
fn ply_cut_off_is_never_read_as_less() {
    for order in ["ascii", "binary_little_endian"] {
        let whole = ply(order, "float", "int", true);
        // A text may end without its last line end and the space before it.
        for length in 0..whole.len() - 2 {
            assert!(parsed("a.ply", &whole[..length], None).is_err(), "{order}: {length}");
        }
    }
    let mut more = ply("binary_little_endian", "float", "int", true);
    more.extend([0; 3]);
    assert_eq!(said("a.ply", &more), "3 bytes more than the header promises");
}

/// A buffer with the cube's corners as f32 and its triangles in each type of index, and the document that
/// names them.
fn gltf(nodes: &str, more: &str) -> (String, Vec<u8>) {
    let mut buffer = Vec::new();
    #[allow(clippy::cast_possible_truncation, reason = "zeros and ones")]
    for c in CORNERS.iter().flatten() {
        buffer.extend((*c as f32).to_le_bytes());
    }
    for corner in cut().iter().flatten() {
        buffer.push(u8::try_from(*corner).unwrap());
    }
    for corner in cut().iter().flatten() {
        buffer.extend(u16::try_from(*corner).unwrap().to_le_bytes());
    }
    for corner in cut().iter().flatten() {
        buffer.extend(u32::try_from(*corner).unwrap().to_le_bytes());
    }
    let text = format!(
        r#"{{"asset": {{"version": "2.0"}}, "scenes": [{{"nodes": [0]}}], "nodes": [{nodes}],
        "materials": [{{"pbrMetallicRoughness": {{"baseColorFactor": [1, 0, 0.5, 1]}}}}],
        "meshes": [
            {{"name": "cube", "primitives": [{{"attributes": {{"POSITION": 0}}, "indices": 1, "material": 0}}]}},
            {{"primitives": [{{"attributes": {{"POSITION": 0}}, "indices": 2}}]}},
            {{"primitives": [{{"attributes": {{"POSITION": 0}}, "indices": 3, "mode": 4}}]}}
        ],
        "accessors": [
            {{"bufferView": 0, "componentType": 5126, "count": 8, "type": "VEC3"}},
            {{"bufferView": 1, "componentType": 5121, "count": 36, "type": "SCALAR"}},
            {{"bufferView": 1, "byteOffset": 36, "componentType": 5123, "count": 36, "type": "SCALAR"}},
            {{"bufferView": 1, "byteOffset": 108, "componentType": 5125, "count": 36, "type": "SCALAR"}}
        ],
        "bufferViews": [
            {{"buffer": 0, "byteLength": 96}},
            {{"buffer": 0, "byteOffset": 96, "byteLength": 252}}
        ]{more}}}"#
    );
    (text, buffer)
}

fn glb(text: &str, buffer: &[u8]) -> Vec<u8> {
    let mut text = text.as_bytes().to_vec();
    text.resize(text.len().next_multiple_of(4), b' ');
    let mut buffer = buffer.to_vec();
    buffer.resize(buffer.len().next_multiple_of(4), 0);
    let mut out = b"glTF\x02\0\0\0".to_vec();
    let word = |n: usize| u32::try_from(n).unwrap().to_le_bytes();
    out.extend(word(12 + 8 + text.len() + 8 + buffer.len()));
    out.extend(word(text.len()));
    out.extend(b"JSON");
    out.extend(text);
    out.extend(word(buffer.len()));
    out.extend(b"BIN\0");
    out.extend(buffer);
    out
}

const OWN: &str = r#", "buffers": [{"byteLength": 348}]"#;

#[test]
fn nodes_place_meshes_in_metres() {
    let nodes = r#"
        {"name": "top", "children": [1, 2, 3], "scale": [2, 2, 2], "translation": [0, 0, 1]},
        {"name": "left", "mesh": 0, "translation": [1, 0, 0]},
        {"mesh": 1, "name": "mirrored", "scale": [-1, 1, 1]},
        {"mesh": 2, "matrix": [0, 1, 0, 0, -1, 0, 0, 0, 0, 0, 1, 0, 5, 0, 0, 1], "children": [4]},
        {"mesh": 0, "rotation": [0, 0, 0.7071067811865476, 0.7071067811865476]}"#;
    let (text, buffer) = gltf(nodes, OWN);
    let read = model("a.glb", &glb(&text, &buffer));
    assert_eq!((read.format, read.unit), (Format::Glb, UnitBy::File(MeshUnit::Metre)));
    let names: Vec<_> = read.bodies.iter().map(ModelBody::path).collect();
    assert_eq!(names, ["top/left", "top/mirrored", "top/body 3", "top/cube"]);
    // Twice the size, a metre up; by hand.
    is_cube(&read.bodies[0].mesh, [2000.0, 0.0, 1000.0], [4000.0, 2000.0, 3000.0]);
    is_cube(&read.bodies[1].mesh, [-2000.0, 0.0, 1000.0], [0.0, 2000.0, 3000.0]);
    is_cube(&read.bodies[2].mesh, [8000.0, 0.0, 1000.0], [10_000.0, 2000.0, 3000.0]);
    // A quarter turn, and another.
    is_cube(&read.bodies[3].mesh, [8000.0, -2000.0, 1000.0], [10_000.0, 0.0, 3000.0]);
    let hidden = nodes.replacen(
        r#""mesh": 1, "name": "mirrored", "scale": [-1, 1, 1]"#,
        r#""mesh": 1, "scale": [0, 0, 0]"#,
        1,
    );
    let (text, buffer) = gltf(&hidden, OWN);
    let without = model("a.glb", &glb(&text, &buffer));
    assert_eq!((without.bodies.len(), without.notes.len()), (3, 1));
    // Half of the light is 188 in sRGB.
    assert_eq!(read.bodies[0].colour, Some([255, 0, 188, 255]));
    let fault = parsed("a.glb", &glb(&text, &buffer), Some(MeshUnit::Millimetre)).unwrap_err();
    assert_eq!(fault.what, "the unit is said to be mm, but glTF is in m by its standard");
}

#[test]
fn buffers_in_the_text_beside_it_and_not_outside() {
    let folder = tempfile::tempdir().unwrap();
    let inside = folder.path().join("scene");
    std::fs::create_dir(&inside).unwrap();
    let (_, buffer) = gltf("", "");
    std::fs::write(inside.join("a b.bin"), &buffer).unwrap();
    std::fs::write(folder.path().join("out.bin"), &buffer).unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink("../out.bin", inside.join("link.bin")).unwrap();
    let path = inside.join("a.gltf");
    let with = |uri: &str| {
        let more = format!(r#", "buffers": [{{"byteLength": 348, "uri": "{uri}"}}]"#);
        std::fs::write(&path, gltf(r#"{"mesh": 0}"#, &more).0).unwrap();
        read(&path, None)
    };
    let beside = with("a%20b.bin").unwrap();
    is_cube(&beside.bodies[0].mesh, [0.0; 3], [1000.0; 3]);
    assert_eq!(beside.beside[0].path, "a b.bin");
    for (uri, what) in [
        ("../out.bin", "\"../out.bin\" lies outside the document's folder"),
        ("%2e%2e/out.bin", "\"%2e%2e/out.bin\" lies outside the document's folder"),
        ("/etc/passwd", "\"/etc/passwd\" lies outside the document's folder"),
        (
            "http://example.org/a.bin",
            "\"http://example.org/a.bin\" lies outside the document's folder",
        ),
        ("link.bin", "\"link.bin\" leads outside the document's folder"),
        ("gone.bin", "\"gone.bin\" cannot be opened: there is no such file"),
        ("data:application/octet-stream;base64,AAA!", "its base64 is broken"),
        ("data:application/octet-stream;base64,AAAA", "348 bytes are promised, there are 3"),
    ] {
        assert_eq!(with(uri).unwrap_err().what, what);
    }
    // The first of all corners is the origin: four zero bytes are AAAAAA==.
    let coded: String = {
        use std::fmt::Write as _;
        const LETTERS: &[u8; 64] =
            b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
        let mut text = String::new();
        for group in buffer.chunks(3) {
            let bits = group.iter().fold(0_u32, |b, byte| b << 8 | u32::from(*byte))
                << (8 * (3 - group.len()));
            for i in 0..4 {
                write!(text, "{}", LETTERS[(bits >> (18 - 6 * i) & 63) as usize] as char).unwrap();
            }
        }
        text
    };
    let embedded = with(&format!("data:application/gltf-buffer;base64,{coded}")).unwrap();
    is_cube(&embedded.bodies[0].mesh, [0.0; 3], [1000.0; 3]);
}

#[test]
fn sparse_values_take_the_place_of_others() {
    let (text, mut buffer) = gltf(r#"{"mesh": 0}"#, r#", "buffers": [{"byteLength": 380}]"#);
    // Corners 4 to 7 raised to 2.
    buffer.extend([6, 7, 4, 5]);
    for p in [[1.0_f32, 1.0, 2.0], [0.0, 1.0, 2.0], [0.0, 0.0, 2.0], [1.0, 0.0, 2.0]] {
        buffer.extend(p.iter().flat_map(|c| c.to_le_bytes()));
    }
    let sparse = r#""type": "VEC3", "sparse": {"count": 4,
        "indices": {"bufferView": 2, "componentType": 5121}, "values": {"bufferView": 3}}"#;
    let text = text.replacen(r#""type": "VEC3""#, sparse, 1).replace(
        r#""byteLength": 252}"#,
        r#""byteLength": 252}, {"buffer": 0, "byteOffset": 348, "byteLength": 4},
        {"buffer": 0, "byteOffset": 352, "byteLength": 48}"#,
    );
    let text = text.replace("380", "400");
    let read = model("a.glb", &glb(&text, &buffer));
    is_cube(&read.bodies[0].mesh, [0.0; 3], [1000.0, 1000.0, 2000.0]);
}

#[test]
fn scenes_that_go_in_circles_or_lie_are_refused() {
    let glb_of = |nodes: &str, edit: (&str, &str)| {
        let (text, buffer) = gltf(nodes, OWN);
        assert!(text.contains(edit.0));
        glb(&text.replacen(edit.0, edit.1, 1), &buffer)
    };
    let one = r#"{"mesh": 0}"#;
    for (nodes, edit, message) in [
        (
            r#"{"children": [1]}, {"children": [0]}"#,
            ("2.0", "2.0"),
            "node 0: it is held by two nodes, or by itself",
        ),
        (r#"{"children": [7]}"#, ("2.0", "2.0"), "node 7: there is no such node"),
        (
            r#"{"mesh": 0, "scale": [0, 1, 1]}"#,
            ("2.0", "2.0"),
            "node 0: its placement flattens its mesh, or moves it beyond all bounds",
        ),
        (r#"{"mesh": 0, "skin": 0}"#, ("2.0", "2.0"), "node 0: its mesh is bent by a skin"),
        (one, (r#""2.0""#, r#""1.0""#), "glTF of version \"1.0\""),
        (
            one,
            (r#""count": 8"#, r#""count": 9"#),
            "mesh 0, piece 0: accessor 0: 9 values are promised, too many for 96 bytes",
        ),
        (
            one,
            (r#""count": 8"#, r#""count": 7"#),
            "mesh 0, piece 0: vertex 7 is not there, 7 are, from 0",
        ),
        (
            one,
            (r#""count": 8"#, r#""count": 18446744073709551615"#),
            "mesh 0, piece 0: accessor 0: 18446744073709551615 values are promised, too many for 96 bytes",
        ),
        (
            one,
            (
                r#""bufferView": 0, "componentType": 5126, "count": 8"#,
                r#""componentType": 5126, "count": 4000000000"#,
            ),
            "mesh 0, piece 0: accessor 0: 4000000000 values of nothing",
        ),
        (
            one,
            (r#""count": 36"#, r#""count": 35"#),
            "mesh 0, piece 0: 35 corners are no whole triangles",
        ),
        (
            one,
            (r#""byteLength": 96"#, r#""byteLength": 9600"#),
            "mesh 0, piece 0: accessor 0: buffer view 0 is not there, or longer than its buffer",
        ),
        (
            one,
            (r#""asset""#, r#""extensionsRequired": ["KHR_draco_mesh_compression"], "asset""#),
            "the file requires the extension \"KHR_draco_mesh_compression\"",
        ),
    ] {
        assert_eq!(said("a.glb", &glb_of(nodes, edit)), message);
    }
}

/// An archive of these parts, deflated.
fn zipped(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut writer = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, bytes) in parts {
        let options = zip::write::SimpleFileOptions::default();
        writer.start_file(*name, options).unwrap();
        writer.write_all(bytes).unwrap();
    }
    writer.finish().unwrap().into_inner()
}

const RELATIONS: &str = r#"<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="a" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel" Target="/3D/model.model"/></Relationships>"#;

fn threemf(model: &str) -> Vec<u8> {
    zipped(&[("_rels/.rels", RELATIONS.as_bytes()), ("3D/model.model", model.as_bytes())])
}

fn xml(attributes: &str, more: &str, build: &str) -> String {
    use std::fmt::Write as _;
    let mut mesh = "<mesh><vertices>".to_owned();
    for [x, y, z] in CORNERS {
        write!(mesh, r#"<vertex x="{x}" y="{y}" z="{z}"/>"#).unwrap();
    }
    mesh += "</vertices><triangles>";
    for [a, b, c] in cut() {
        write!(mesh, r#"<triangle v1="{a}" v2="{b}" v3="{c}"/>"#).unwrap();
    }
    mesh += "</triangles></mesh>";
    format!(
        r##"<model {attributes} xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02" xmlns:p="http://schemas.microsoft.com/3dmanufacturing/production/2015/06"><resources><basematerials id="9"><base name="red" displaycolor="#FF0010"/></basematerials><object id="1" name="cube &amp; co" pid="9" pindex="0">{mesh}</object>{more}</resources><build>{build}</build></model>"##
    )
}

#[test]
fn items_and_components_place_objects() {
    let pair = r#"<object id="2" name="pair"><components><component objectid="1"/><component objectid="1" transform="-1 0 0 0 1 0 0 0 1 5 0 0"/></components></object>"#;
    let build = r#"<item objectid="2" transform="0 1 0 -1 0 0 0 0 1 0 0 7"/><item objectid="1"/>"#;
    let read = model("a.3mf", &threemf(&xml(r#"unit="inch""#, pair, build)));
    assert_eq!((read.format, read.unit), (Format::ThreeMf, UnitBy::File(MeshUnit::Inch)));
    let names: Vec<_> = read.bodies.iter().map(ModelBody::path).collect();
    assert_eq!(names, ["pair/cube & co", "pair/cube & co", "cube & co"]);
    assert_eq!(read.bodies[0].colour, Some([255, 0, 16, 255]));
    let inches = |p: [f64; 3]| p.map(|c| c * 25.4);
    // A quarter turn about z and seven up; the second mirrored and five along first. By hand.
    is_cube(&read.bodies[0].mesh, inches([-1.0, 0.0, 7.0]), inches([0.0, 1.0, 8.0]));
    is_cube(&read.bodies[1].mesh, inches([-1.0, 4.0, 7.0]), inches([0.0, 5.0, 8.0]));
    is_cube(&read.bodies[2].mesh, [0.0; 3], inches([1.0; 3]));
    let plain = model("a.3mf", &threemf(&xml("", "", r#"<item objectid="1"/>"#)));
    assert_eq!(plain.unit, UnitBy::File(MeshUnit::Millimetre));
}

#[test]
fn archives_that_lie_are_refused() {
    let item = r#"<item objectid="1"/>"#;
    let object = |id: u32, parts: &str| {
        format!(r#"<object id="{id}"><components>{parts}</components></object>"#)
    };
    let twice = |id: u32| format!(r#"<component objectid="{id}"/>"#).repeat(2);
    let doubled: String = (2..40).map(|id| object(id, &twice(id - 1))).collect();
    for (model, message) in [
        (
            xml("", &object(2, r#"<component objectid="2"/>"#), item),
            "object 2: it names object 2, which does not come before it",
        ),
        (
            xml("", &doubled, r#"<item objectid="39"/>"#),
            "the build, placed, has 274877906944 bodies with 3298534883328 triangles; 100000 with 42949672 are read",
        ),
        (
            xml(r#"requiredextensions="p""#, "", item),
            "the file requires the production extension \"http://schemas.microsoft.com/3dmanufacturing/production/2015/06\"",
        ),
        (
            xml("", "", r#"<item objectid="1" p:path="/3D/other.model"/>"#),
            "an item of the build lies in another part, by the production extension",
        ),
        (xml("", "", r#"<item objectid="3"/>"#), "the build names object 3, which is not there"),
        (
            xml("", "", r#"<item objectid="1" transform="1 0 0 0 1 0 0 0 0 0 0 0"/>"#),
            "object 1: its placement flattens it, or moves it beyond all bounds",
        ),
        (xml(r#"unit="furlong""#, "", item), "the unit \"furlong\" is not one of 3MF's"),
        (xml("", "", ""), "the build holds no triangle"),
        (
            xml("", "", item).replacen("v1=\"0\"", "v1=\"8\"", 1),
            "object 1, triangle 0: vertex 8 is not there, 8 are, from 0",
        ),
        (
            xml("", "", item).replacen("x=\"1\"", "x=\"inf\"", 1),
            "object 1, vertex 1: \"inf\" is not a finite number",
        ),
        (
            format!("<!DOCTYPE model [<!ENTITY a \"b\">]>{}", xml("", "", item)),
            "/3D/model.model: it has a document type, which 3MF does not allow",
        ),
        ("<model>".repeat(90), "the model is not of 3MF's core namespace"),
        (xml("", &"<a>".repeat(90), item), "/3D/model.model: elements are nested deeper than 64"),
        (
            xml("", "", item).replace("</build></model>", ""),
            "/3D/model.model: it ends within an element",
        ),
    ] {
        assert_eq!(said("a.3mf", &threemf(&model)), message);
    }
    let bomb = xml("", &" ".repeat(40 << 20), item);
    assert_eq!(
        said("a.3mf", &threemf(&bomb)),
        "/3D/model.model: it unpacks to more than 200 times its size"
    );
    assert_eq!(said("a.3mf", &zipped(&[("x", b"y")])), "the archive has no \"_rels/.rels\"");
}

#[test]
fn content_goes_before_the_name() {
    let read = model("cube.stl", &ply("ascii", "float", "int", true));
    assert_eq!(read.format, Format::Ply);
    assert_eq!(read.notes, ["named as STL, but it is PLY"]);
    assert_eq!(said("a.txt", b"hello"), "of a kind that is not read");
    assert!(parsed("a.txt", b"ISO-10303-21;\nHEADER;", None).is_err());
}

/// A STEP file of one part that is triangles alone, ISO 10303-42; `with` are what says more of its shape.
fn tessellated(with: &str) -> String {
    let places = CORNERS.map(|[x, y, z]| format!("({x:?},{y:?},{z:?})")).join(",");
    let triangles: Vec<String> =
        cut().iter().map(|[a, b, c]| format!("({},{},{})", a + 1, b + 1, c + 1)).collect();
    let triangles = triangles.join(",");
    format!(
        "ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\n#1=COORDINATES_LIST('',8,({places}));\n\
         #2=TRIANGULATED_FACE('',#1,8,(),$,(),({triangles}));\n#3=TESSELLATED_SOLID('',(#2),$);\n\
         #4=(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.CENTI.,.METRE.));\n\
         #5=(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNIT_ASSIGNED_CONTEXT((#4))\
         REPRESENTATION_CONTEXT('',''));\n#6=TESSELLATED_SHAPE_REPRESENTATION{with};\n\
         #7=PRODUCT('cube','cube','',());\n#8=PRODUCT_DEFINITION_FORMATION('','',#7);\n\
         #9=PRODUCT_DEFINITION('','',#8,$);\n#10=PRODUCT_DEFINITION_SHAPE('','',#9);\n\
         #11=SHAPE_DEFINITION_REPRESENTATION(#10,#6);\nENDSEC;\nEND-ISO-10303-21;\n"
    )
}

#[test]
fn triangles_in_step_come_as_those_of_a_mesh_file() {
    let read = model("cube.step", tessellated("('',(#3),#5)").as_bytes());
    assert_eq!((read.format, read.unit), (Format::Step, UnitBy::File(MeshUnit::Centimetre)));
    assert!(read.missing.is_empty() && read.notes.is_empty());
    let [body] = &read.bodies[..] else { panic!("{:?}", read.bodies) };
    assert_eq!((body.name.as_str(), &body.deviation), ("cube", &None));
    let judged = Judged::of(body);
    assert!(judged.is_sound() && judged.triangles == 12 && judged.vertices == 8);
    assert!((judged.volume.unwrap() - 1000.0).abs() < 1e-9);
    // What the file states of it is kept, to be added to what is stated for the case.
    let with = "_WITH_ACCURACY_PARAMETERS('',(#3),#5,(CHORDAL_DEVIATION(0.01)))";
    let stated = model("cube.step", tessellated(with).as_bytes()).bodies[0].deviation.clone();
    assert!((stated.unwrap().bound - 0.1).abs() < 1e-12);
}

#[test]
fn names_and_patterns_find_bodies() {
    for (pattern, name, is) in [
        ("stud", "stud", true),
        ("stud", "studs", false),
        ("stud*", "stud 7", true),
        ("*nut", "stud nut", true),
        ("*nut", "nuts", false),
        ("s*u*t", "stud nut", true),
        ("a*a", "a", false),
        ("*", "", true),
        ("a**b", "ab", true),
        ("*a*b*", "xbxaxb", true),
        ("ab*ba", "aba", false),
    ] {
        assert_eq!(matches(pattern, name), is, "{pattern} and {name}");
    }
}
