use super::*;
use proptest::prelude::*;
use std::collections::HashMap;

fn binary_file(header: &[u8], triangles: &[[[f32; 3]; 3]]) -> Vec<u8> {
    let mut bytes = header.to_vec();
    bytes.resize(80, 0);
    bytes.extend(u32::try_from(triangles.len()).unwrap().to_le_bytes());
    for t in triangles {
        bytes.extend([0; 12]);
        bytes.extend(t.iter().flatten().flat_map(|c| c.to_le_bytes()));
        bytes.extend([0; 2]);
    }
    bytes
}

fn ascii_file(triangles: &[[[f32; 3]; 3]]) -> String {
    use std::fmt::Write as _;
    let mut text = "solid made here\n".to_owned();
    for t in triangles {
        text.push_str("facet normal 0 0 0\n outer loop\n");
        for [x, y, z] in t {
            writeln!(text, "  vertex {x} {y} {z}").unwrap();
        }
        text.push_str(" endloop\nendfacet\n");
    }
    text + "endsolid made here\n"
}

fn soup(mesh: &Mesh) -> Vec<[[f64; 3]; 3]> {
    (0..mesh.triangles.len()).map(|t| mesh.corners(t).map(|p| p.coords.into())).collect()
}

fn coordinate() -> impl Strategy<Value = f32> {
    prop_oneof![
        Just(0.0_f32),
        Just(-0.0),
        (-4_i8..4).prop_map(f32::from),
        -1e3_f32..1e3,
        Just(1e-40_f32)
    ]
}

fn triangles() -> impl Strategy<Value = Vec<[[f32; 3]; 3]>> {
    prop::collection::vec(prop::array::uniform3(prop::array::uniform3(coordinate())), 1..40)
}

proptest! {
    #[test]
    fn triangles_come_back_as_written(triangles in triangles()) {
        let wanted: Vec<_> =
            triangles.iter().map(|t| t.map(|p| p.map(|c| f64::from(c) * 25.4))).collect();
        let from_binary = read_stl(&binary_file(b"solid of a liar", &triangles), 25.4).unwrap();
        prop_assert_eq!(&soup(&from_binary), &wanted);
        let from_text = read_stl(ascii_file(&triangles).as_bytes(), 25.4).unwrap();
        prop_assert_eq!(from_text, from_binary);
    }

    #[test]
    fn vertices_are_one_where_their_coordinates_are_equal(triangles in triangles()) {
        let mesh = read_stl(&binary_file(b"", &triangles), 1.0).unwrap();
        let mut seen = HashMap::new();
        for p in triangles.iter().flatten() {
            let count = seen.len();
            seen.entry(p.map(|c| if c == 0.0 { 0 } else { c.to_bits() })).or_insert(count);
        }
        prop_assert_eq!(mesh.vertices.len(), seen.len());
    }

    /// Outside check: the same file read by stl_io.
    #[test]
    fn agrees_with_stl_io(triangles in triangles()) {
        for bytes in [binary_file(b"", &triangles), ascii_file(&triangles).into_bytes()] {
            let outside = stl_io::read_stl(&mut std::io::Cursor::new(&bytes)).unwrap();
            let outside: Vec<_> = outside
                .into_triangle_vec()
                .iter()
                .map(|t| t.vertices.map(|v| v.0.map(f64::from)))
                .collect();
            prop_assert_eq!(soup(&read_stl(&bytes, 1.0).unwrap()), outside);
        }
    }

    #[test]
    fn no_bytes_panic(bytes in prop::collection::vec(any::<u8>(), 0..400), solid in any::<bool>()) {
        let mut file = if solid { b"solid ".to_vec() } else { Vec::new() };
        file.extend(bytes);
        let _ = read_stl(&file, 1.0);
    }
}

const CORNER: [[f32; 3]; 3] = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]];

#[test]
fn every_solid_of_a_text_file_is_read() {
    let text = ascii_file(&[CORNER]) + &ascii_file(&[CORNER]).to_uppercase();
    assert_eq!(read_stl(text.as_bytes(), 1.0).unwrap().triangles.len(), 2);
    let bare = ascii_file(&[CORNER]).replace("solid made here", "solid");
    assert_eq!(read_stl(bare.as_bytes(), 1.0).unwrap().triangles.len(), 1);
}

#[test]
fn a_lying_count_allocates_nothing() {
    let mut bytes = binary_file(b"", &[CORNER]);
    bytes[80..84].copy_from_slice(&u32::MAX.to_le_bytes());
    let error = read_stl(&bytes, 1.0).unwrap_err();
    assert_eq!(error, StlError::Count { promised: u32::MAX, held: 1, over: 0 });
    for length in 1..bytes.len() {
        assert!(read_stl(&bytes[..length], 1.0).is_err(), "{length} bytes were read as a mesh");
    }
}

#[test]
fn a_non_utf8_name_does_not_hide_the_triangles() {
    let mut bytes = b"solid caf\xe9\n".to_vec();
    bytes.extend(ascii_file(&[CORNER]).split_once('\n').unwrap().1.bytes());
    assert_eq!(read_stl(&bytes, 1.0).unwrap().triangles.len(), 1);
}

#[test]
fn the_table_grows() {
    let many: Vec<_> = (0..5000_u16)
        .map(|i| [[f32::from(i), 0.0, 0.0], [f32::from(i), 1.0, 0.0], [f32::from(i), 0.0, 1.0]])
        .collect();
    let text = ascii_file(&many);
    let mesh = read_stl(text.as_bytes(), 1.0).unwrap();
    assert_eq!(mesh.vertices.len(), 15_000);
    assert_eq!(mesh.triangles.len(), 5000);
}
