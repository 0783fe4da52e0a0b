//! Triangles that a file holds as such: ISO 10303-42, tessellated geometry. Volumes and areas are those of
//! elementary geometry.

use crate::file::{File, flag, list};
use step::{Accuracy, Body, BodyKind, Finding, Model, read};

const X: [f64; 3] = [1.0, 0.0, 0.0];
const Z: [f64; 3] = [0.0, 0.0, 1.0];

/// Places as the text of a list.
fn places(points: &[[f64; 3]]) -> String {
    let all: Vec<String> = points.iter().map(|[x, y, z]| format!("({x:?},{y:?},{z:?})")).collect();
    all.join(",")
}

/// Lists of indices as text.
fn lists<const N: usize>(all: &[[usize; N]]) -> String {
    let one = |of: &[usize; N]| of.map(|i| i.to_string()).join(",");
    all.iter().map(|of| format!("({})", one(of))).collect::<Vec<_>>().join(",")
}

fn coordinates(file: &mut File, points: &[[f64; 3]]) -> u64 {
    file.add(&format!("COORDINATES_LIST('',{},({}))", points.len(), places(points)))
}

/// The corners of a block from a corner: bit 0 of the index is x, bit 1 y, bit 2 z.
fn corners([x, y, z]: [f64; 3], [dx, dy, dz]: [f64; 3]) -> Vec<[f64; 3]> {
    let bit = |i: usize, b: usize, d: f64| if i >> b & 1 == 1 { d } else { 0.0 };
    (0..8).map(|i| [x + bit(i, 0, dx), y + bit(i, 1, dy), z + bit(i, 2, dz)]).collect()
}

/// The sides of a block by its corners' indices from 1, wound counter-clockwise seen from outside.
const SIDES: [[usize; 4]; 6] =
    [[1, 3, 4, 2], [5, 6, 8, 7], [1, 2, 6, 5], [3, 7, 8, 4], [1, 5, 7, 3], [2, 4, 8, 6]];

/// A block as six faces over one list of places, each with places of its own by `pnindex`.
fn block(file: &mut File, at: [f64; 3], size: [f64; 3]) -> Vec<u64> {
    let list = coordinates(file, &corners(at, size));
    let face = |side: &[usize; 4]| {
        let own = side.map(|i| i.to_string()).join(",");
        file.add(&format!("TRIANGULATED_FACE('side',#{list},4,(),$,({own}),((1,2,3),(1,3,4)))"))
    };
    SIDES.iter().map(face).collect()
}

fn solid(file: &mut File, name: &str, faces: &[u64]) -> u64 {
    file.add(&format!("TESSELLATED_SOLID('{name}',({}),$)", list(faces)))
}

fn model(file: &File) -> Model {
    file.model(Accuracy::default())
}

fn only(file: File, item: u64) -> Body {
    let found = model(&file.part(&[item]));
    assert_eq!(found.findings, []);
    assert_eq!(found.bodies.len(), 1);
    found.bodies[0].clone()
}

fn near(found: f64, expected: f64) {
    assert!((found - expected).abs() <= 1e-9 * expected.abs(), "{found}, expected {expected}");
}

#[test]
fn a_solid_of_triangles_is_closed_and_says_nothing_of_its_deviation() {
    let mut file = File::default();
    let faces = block(&mut file, [5.0, 6.0, 7.0], [2.0, 3.0, 4.0]);
    let solid = solid(&mut file, "block", &faces);
    let body = only(file, solid);
    assert!(body.is_sound(), "{:?}", body.soundness);
    assert_eq!((body.kind, body.deviation), (BodyKind::Tessellated, None));
    assert_eq!((body.name.as_str(), body.faces), ("block", 6));
    assert_eq!((body.mesh.vertices.len(), body.mesh.triangles.len()), (8, 12));
    near(solids::volume(&body.mesh), 24.0);
    near(solids::area(&body.mesh), 52.0);
    let (low, high) = body.mesh.bounds().unwrap();
    assert_eq!(
        (low.coords.as_slice(), high.coords.as_slice()),
        (&[5., 6., 7.][..], &[7., 9., 11.][..])
    );
    let of_first = body.triangle_faces.iter().filter(|f| **f == faces[0]).count();
    assert_eq!(of_first, 2);
    assert_eq!(body.placed(&step::Placement::default()).1, None);
}

/// A prism over a regular hexagon: its wall one strip, each end a fan.
fn prism(file: &mut File, complex: bool) -> u64 {
    let (radius, height) = (10.0_f64, 4.0);
    let mut points = Vec::new();
    for z in [0.0, height] {
        for k in 0..6 {
            let turn = std::f64::consts::TAU * f64::from(k) / 6.0;
            points.push([radius * turn.cos(), radius * turn.sin(), z]);
        }
    }
    let list = coordinates(file, &points);
    // Up and down along the wall, and again over the first two; then a corner twice, as strips are joined.
    let wall = "((7,1,8,2,9,3,10,4,11,5,12,6,7,1,1))";
    let ends = "((7,8,9,10,11,12),(1,6,5,4,3,2))";
    let face = if complex {
        file.add(&format!(
            "(COMPLEX_TRIANGULATED_FACE((),{wall},{ends})GEOMETRIC_REPRESENTATION_ITEM()\
             REPRESENTATION_ITEM('all')TESSELLATED_FACE(#{list},12,(),$)TESSELLATED_ITEM()\
             TESSELLATED_STRUCTURED_ITEM())"
        ))
    } else {
        file.add(&format!("COMPLEX_TRIANGULATED_FACE('all',#{list},12,(),$,(),{wall},{ends})"))
    };
    file.add(&format!("TESSELLATED_SHELL('prism',(#{face}),$)"))
}

#[test]
fn strips_and_fans_wind_their_triangles_alike() {
    for complex in [false, true] {
        let mut file = File::default();
        let shell = prism(&mut file, complex);
        let body = only(file, shell);
        assert!(body.is_sound(), "{:?}", body.soundness);
        assert_eq!(body.mesh.triangles.len(), 12 + 4 + 4);
        // A regular hexagon of radius 10.
        near(solids::volume(&body.mesh), 1.5 * 3.0_f64.sqrt() * 100.0 * 4.0);
    }
}

#[test]
fn an_open_shell_is_no_sound_body() {
    let mut file = File::default();
    let faces = block(&mut file, [0.0; 3], [1.0; 3]);
    let shell = file.add(&format!("TESSELLATED_SHELL('',({}),$)", list(&faces[1..])));
    let body = only(file, shell);
    assert!(!body.is_sound());
    assert_eq!((body.soundness.open_edges, body.faces, body.lost.len()), (4, 5, 0));
}

#[test]
fn a_closed_body_inside_out_is_turned_and_that_is_told() {
    let mut file = File::default();
    // Mirrored by a length that is below zero.
    let faces = block(&mut file, [0.0; 3], [-1.0, 1.0, 1.0]);
    let solid = solid(&mut file, "", &faces);
    let body = only(file, solid);
    assert!(body.is_sound() && body.turned_shells == 1);
    near(solids::volume(&body.mesh), 1.0);
}

#[test]
fn units_names_and_places_are_those_of_their_parts() {
    let mut file = File::default();
    let length = file.add("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT($,.METRE.))");
    let angle = file.add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))");
    let context = file.context_of(length, angle);
    let faces = block(&mut file, [0.0; 3], [0.002, 0.003, 0.004]);
    let solid = solid(&mut file, "", &faces);
    let (origin, there) = (file.frame([0.0; 3], Z, X), file.frame([1.0, 0.0, 0.0], X, Z));
    let inner = file.add(&format!("TESSELLATED_SHAPE_REPRESENTATION('',(#{solid}),#{context})"));
    let map = file.add(&format!("REPRESENTATION_MAP(#{origin},#{inner})"));
    let item = file.add(&format!("MAPPED_ITEM('',#{map},#{there})"));
    file.product("block", &[item], context);
    let found = model(&file);
    assert_eq!((found.findings.len(), found.unit.name.as_str()), (0, "m"));
    let placed: Vec<_> = found.placed().collect();
    let [(part, body, whole_from_body)] = placed[..] else { panic!("{placed:?}") };
    assert_eq!(found.occurrences[part].product, "block");
    let (mesh, deviation) = found.bodies[body].placed(&whole_from_body);
    assert!(deviation.is_none());
    near(solids::volume(&mesh), 24.0);
    let (low, high) = mesh.bounds().unwrap();
    // The block's z lies along x, its x along z, and so its y against y.
    assert!((low - nalgebra::Point3::new(1000.0, -3.0, 0.0)).norm() < 1e-9, "{low}");
    assert!((high - nalgebra::Point3::new(1004.0, 0.0, 2.0)).norm() < 1e-9, "{high}");
}

#[test]
fn sets_of_surfaces_lie_where_they_were_put_anew() {
    let mut file = File::default();
    let list = coordinates(&mut file, &corners([0.0; 3], [1.0; 3]));
    let whole: Vec<[usize; 3]> =
        SIDES.iter().flat_map(|[a, b, c, d]| [[*a, *b, *c], [*a, *c, *d]]).collect();
    let set = file.add(&format!(
        "TRIANGULATED_SURFACE_SET('',#{list},8,((0.,0.,1.)),(),({}))",
        lists(&whole)
    ));
    let line = file.add(&format!("TESSELLATED_CURVE_SET('',#{list},((1,2)))"));
    let place = file.frame([10.0, 0.0, 0.0], Z, X);
    let inner = file.add(&format!(
        "(GEOMETRIC_REPRESENTATION_ITEM()REPOSITIONED_TESSELLATED_ITEM(#{place})\
         REPRESENTATION_ITEM('inner')TESSELLATED_GEOMETRIC_SET((#{set},#{line}))TESSELLATED_ITEM())"
    ));
    let outer = file.add(&format!("TESSELLATED_GEOMETRIC_SET('outer',(#{inner}))"));
    // What is curves alone is no body and nothing is missing without it.
    let lines = file.add(&format!("TESSELLATED_GEOMETRIC_SET('lines',(#{line}))"));
    let found = model(&file.part(&[outer, lines]));
    assert_eq!(found.findings, []);
    assert_eq!(found.bodies.len(), 1);
    assert!(found.is_whole());
    let (low, high) = found.bodies[0].mesh.bounds().unwrap();
    assert_eq!((low.x, high.x), (10.0, 11.0));
}

#[test]
fn places_that_the_file_cannot_tell_apart_are_one() {
    // Six faces with places of their own, a little beside each other; the file's tolerance is 1e-5.
    for (apart, closed) in [(1e-9, true), (1e-3, false)] {
        let mut file = File::default();
        let mut faces = Vec::new();
        for (number, side) in SIDES.iter().enumerate() {
            let all = corners([0.0; 3], [30.0; 3]);
            let own = side.map(|i| all[i - 1].map(|c| c + apart * (number % 3) as f64));
            let list = coordinates(&mut file, &own);
            let triangles = "((1,2,3),(1,3,4))";
            faces.push(
                file.add(&format!("TRIANGULATED_FACE('',#{list},4,((0.,0.,1.)),$,(),{triangles})")),
            );
        }
        let solid = solid(&mut file, "", &faces);
        let body = only(file, solid);
        assert_eq!(body.is_sound(), closed, "{apart} {:?}", body.soundness);
        if closed {
            assert_eq!(body.mesh.vertices.len(), 8);
            near(solids::volume(&body.mesh), 27_000.0);
        }
    }
}

#[test]
fn a_chord_error_that_the_file_states_is_kept() {
    let mut file = File::default();
    let length = file.add("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.CENTI.,.METRE.))");
    let angle = file.add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))");
    let context = file.context_of(length, angle);
    let faces = block(&mut file, [0.0; 3], [1.0; 3]);
    let solid = solid(&mut file, "", &faces);
    let (_, shape) = file.product("block", &[], context);
    let with = file.add(&format!(
        "TESSELLATED_SHAPE_REPRESENTATION_WITH_ACCURACY_PARAMETERS('',(#{solid}),#{context},\
         (CHORDAL_DEVIATION(0.02),ANGULAR_DEVIATION(5.)))"
    ));
    file.add(&format!("SHAPE_REPRESENTATION_RELATIONSHIP('','',#{shape},#{with})"));
    let found = model(&file);
    assert_eq!(found.findings, []);
    let stated = found.bodies[0].deviation.unwrap();
    assert!((stated - 0.2).abs() < 1e-12, "{stated}");
    let (_, deviation) = found.bodies[0].placed(&step::Placement::default());
    assert_eq!(deviation.unwrap().basis, "chord error that its STEP file states");
}

/// A block of six exact faces with loops of straight edges, as a faceted solid.
fn exact_block(file: &mut File, at: [f64; 3], size: [f64; 3]) -> (u64, Vec<u64>) {
    let points = corners(at, size).into_iter().map(|p| file.point(p)).collect::<Vec<_>>();
    let faces: Vec<u64> = SIDES
        .iter()
        .map(|side| {
            let around = list(&side.map(|i| points[i - 1]));
            let around = file.add(&format!("POLY_LOOP('',({around}))"));
            let bound = file.add(&format!("FACE_OUTER_BOUND('',#{around},{})", flag(true)));
            file.add(&format!("FACE('',(#{bound}))"))
        })
        .collect();
    let shell = file.add(&format!("CLOSED_SHELL('',({}))", list(&faces)));
    (file.add(&format!("FACETED_BREP('exact',#{shell})")), faces)
}

#[test]
fn where_a_part_has_both_the_exact_body_counts() {
    let size = [2.0, 3.0, 4.0];
    // By the solid that it names, by the shell, by the faces, and by what it reaches and holds.
    for how in 0..4 {
        let mut file = File::default();
        let (exact, exact_faces) = exact_block(&mut file, [0.0; 3], size);
        // Twice as large, so that extents say nothing, where something else does.
        let sides = block(&mut file, [0.0; 3], size.map(|s| if how < 3 { 2.0 * s } else { s }));
        let item = match how {
            0 => file.add(&format!("TESSELLATED_SOLID('',({}),#{exact})", list(&sides))),
            1 => {
                let shell = exact - 1;
                file.add(&format!("TESSELLATED_SHELL('',({}),#{shell})", list(&sides)))
            }
            2 => {
                let list_of = coordinates(&mut file, &corners([0.0; 3], [9.0; 3]));
                let linked: Vec<u64> = exact_faces
                    .iter()
                    .map(|face| {
                        file.add(&format!(
                            "TRIANGULATED_FACE('',#{list_of},8,(),#{face},(),((1,2,3)))"
                        ))
                    })
                    .collect();
                solid(&mut file, "", &linked)
            }
            _ => solid(&mut file, "", &sides),
        };
        let found = model(&file.part(&[exact, item]));
        assert_eq!(found.findings, []);
        let kinds: Vec<BodyKind> = found.bodies.iter().map(|b| b.kind).collect();
        assert_eq!(kinds, [BodyKind::Faceted], "{how}");
        assert!(found.is_whole());
    }
}

#[test]
fn a_tessellation_beside_an_exact_body_that_it_is_not_is_a_body_of_its_own() {
    let mut file = File::default();
    let (exact, _) = exact_block(&mut file, [0.0; 3], [2.0, 3.0, 4.0]);
    let faces = block(&mut file, [7.0, 0.0, 0.0], [2.0, 3.0, 4.0]);
    let other = solid(&mut file, "other", &faces);
    let found = model(&file.part(&[exact, other]));
    let kinds: Vec<BodyKind> = found.bodies.iter().map(|b| b.kind).collect();
    assert_eq!(kinds, [BodyKind::Faceted, BodyKind::Tessellated]);
    assert_eq!(found.occurrences[0].bodies.len(), 2);
}

#[test]
fn a_body_that_no_part_has_is_read_and_what_annotations_draw_is_not() {
    let mut file = File::default();
    let faces = block(&mut file, [0.0; 3], [1.0; 3]);
    let loose = solid(&mut file, "loose", &faces);
    let letters = coordinates(&mut file, &corners([0.0; 3], [1.0; 3]));
    let glyph =
        file.add(&format!("COMPLEX_TRIANGULATED_SURFACE_SET('A',#{letters},8,(),(),(),((1,2,3)))"));
    let drawn = file.add(&format!("TESSELLATED_GEOMETRIC_SET('A',(#{glyph}))"));
    file.add(&format!("TESSELLATED_ANNOTATION_OCCURRENCE('',(),#{drawn})"));
    let context = file.context();
    let shape = format!("TESSELLATED_SHAPE_REPRESENTATION('',(#{loose},#{drawn}),#{context})");
    file.add(&shape);
    let found = model(&file);
    assert_eq!(found.findings, []);
    assert_eq!(found.bodies.len(), 1);
    near(solids::volume(&found.bodies[0].mesh), 1.0);
    // The same where the part lists both.
    let found = model(&file.part(&[loose, drawn]));
    assert_eq!((found.findings.len(), found.bodies.len()), (0, 1));
}

#[test]
fn colours_of_faces_are_those_of_their_triangles() {
    let mut file = File::default();
    let faces = block(&mut file, [0.0; 3], [1.0; 3]);
    let solid = solid(&mut file, "", &faces);
    let colour = file.add("DRAUGHTING_PRE_DEFINED_COLOUR('red')");
    let fill = file.add(&format!("FILL_AREA_STYLE_COLOUR('',#{colour})"));
    let fill = file.add(&format!("FILL_AREA_STYLE('',(#{fill}))"));
    let fill = file.add(&format!("SURFACE_STYLE_FILL_AREA(#{fill})"));
    let side = file.add(&format!("SURFACE_SIDE_STYLE('',(#{fill}))"));
    let usage = file.add(&format!("SURFACE_STYLE_USAGE(.BOTH.,#{side})"));
    let style = file.add(&format!("PRESENTATION_STYLE_ASSIGNMENT((#{usage}))"));
    file.add(&format!("STYLED_ITEM('',(#{style}),#{})", faces[2]));
    let body = only(file, solid);
    for (face, colour) in body.triangle_faces.iter().zip(&body.triangle_colours) {
        assert_eq!(colour.is_some(), *face == faces[2]);
    }
}

/// What is told of a body of two faces whose second has a piece of text replaced.
fn told(from: &str, to: &str) -> String {
    let mut file = File::default();
    let points = corners([0.0; 3], [1.0; 3]);
    let first = coordinates(&mut file, &points);
    let good = file.add(&format!("TRIANGULATED_FACE('',#{first},8,(),$,(),((1,2,3)))"));
    let second = coordinates(&mut file, &points);
    let face = file.add(&format!(
        "COMPLEX_TRIANGULATED_FACE('',#{second},4,(),$,(1,2,4,8),((1,2,3,4)),((2,3,4)))"
    ));
    let solid = solid(&mut file, "", &[good, face]);
    let text = file.part(&[solid]).text();
    let at = text.rfind(from).unwrap_or_else(|| panic!("{from}"));
    let text = [&text[..at], to, &text[at + from.len()..]].concat();
    let found = read(text.as_bytes(), Accuracy::default()).unwrap();
    assert!(!found.is_whole());
    let body = &found.bodies[0];
    assert!(!body.is_sound() && body.faces == 2 && !body.mesh.triangles.is_empty());
    assert_eq!(body.triangle_faces.iter().filter(|f| **f == face).count(), 0);
    let [lost] = &body.lost[..] else { panic!("{:?}", body.lost) };
    format!("{}: {}", lost.kind, lost.fault)
}

#[test]
fn lying_counts_and_indices_are_told_and_the_face_is_lost() {
    let cases = [
        ("((1,2,3,4))", "((0,2,3,4))", "#4: it uses point 0 of 4"),
        ("((1,2,3,4))", "((1,2,3,5))", "#4: it uses point 5 of 4"),
        ("((1,2,3,4))", "((1,2,3,999999999999))", "#4: an index is not a whole number"),
        ("((1,2,3,4))", "((1,2,3.5,4))", "#4: an index is not a whole number"),
        ("((1,2,3,4))", "((1,-2,3,4))", "#4: an index is not a whole number"),
        ("((1,2,3,4))", "((1,2))", "#4: a strip of triangles has fewer than three corners"),
        ("((1,2,3,4))", "(())", "#4: a strip of triangles has fewer than three corners"),
        ("((2,3,4))", "((2))", "#4: a fan of triangles has fewer than three corners"),
        ("((1,2,3,4)),((2,3,4))", "(),()", "#4: it has no triangle"),
        ("(1,2,4,8)", "(1,2,4,9)", "#4: it uses point 9 of 8"),
        ("(1,2,4,8)", "(1,2,4,0)", "#4: it uses point 0 of 8"),
        ("(1,2,4,8)", "(1,2,4)", "#4: it says that there are 4 points, and there are 3"),
        (
            "#3,4,(),$,(1,2,4,8)",
            "#3,999999999,(),$,()",
            "#4: it says that there are 999999999 points, and there are 8",
        ),
        ("#3,4,", "#3,'4',", "#4: parameter 3 of COMPLEX_TRIANGULATED_FACE is not a count"),
        ("#3,4,", "#2,4,", "#2 is TRIANGULATED_FACE, where COORDINATES_LIST belongs"),
        ("#3,4,", "#99,4,", "#99 is referred to and is not in the file"),
        ("LIST('',8,", "LIST('',7,", "#3: it says that there are 7 points, and there are 8"),
        (
            "LIST('',8,",
            "LIST('',800000000,",
            "#3: it says that there are 800000000 points, and there are 8",
        ),
        (
            "(1.0,1.0,1.0)))",
            "(1.0,1.0)))",
            "#3: parameter 3 of COORDINATES_LIST is not a list of places of three numbers",
        ),
        (
            "COMPLEX_TRIANGULATED_FACE",
            "CUBIC_BEZIER_TRIANGULATED_FACE",
            "#4: CUBIC_BEZIER_TRIANGULATED_FACE is not read",
        ),
        ("COMPLEX_TRIANGULATED_FACE", "PLATED_FACE", "#4: PLATED_FACE is not read"),
    ];
    for (from, to, expected) in cases {
        let found = told(from, to);
        assert!(found.ends_with(expected), "{from} as {to}: {found}\nexpected {expected}");
    }
}

#[test]
fn sets_that_hold_themselves_and_counts_beyond_reason_end() {
    let mut file = File::default();
    let list_of = coordinates(&mut file, &corners([0.0; 3], [1.0; 3]));
    let face = file.add(&format!("TRIANGULATED_FACE('',#{list_of},8,(),$,(),((1,2,3)))"));
    let own = face + 1;
    let set = file.add(&format!("TESSELLATED_GEOMETRIC_SET('',(#{face},#{own}))"));
    let found = model(&file.part(&[set]));
    assert_eq!(found.bodies[0].mesh.triangles.len(), 1);
    // A set within itself, a step farther each time.
    let mut file = File::default();
    let place = file.frame([1.0, 0.0, 0.0], Z, X);
    let set = file.add(&format!(
        "(REPOSITIONED_TESSELLATED_ITEM(#{place})TESSELLATED_GEOMETRIC_SET((#{})))",
        place + 1
    ));
    assert_eq!(set, place + 1);
    let found = model(&file.part(&[set]));
    assert!(!found.is_whole());
    // One long list of indices, used again and again.
    let mut file = File::default();
    let list_of = coordinates(&mut file, &corners([0.0; 3], [1.0; 3]));
    let index = vec!["1"; 200_000].join(",");
    let triangle = "((1,2,3))";
    let face =
        file.add(&format!("TRIANGULATED_FACE('',#{list_of},200000,(),$,({index}),{triangle})"));
    let items: Vec<u64> = (0..400).map(|_| solid(&mut file, "", &[face])).collect();
    let began = std::time::Instant::now();
    let found = model(&file.part(&items));
    assert!(began.elapsed().as_secs() < 20, "{:?}", began.elapsed());
    assert!(!found.is_whole());
    let too_many = "the file's tessellations hold too many triangles";
    let lost = found.bodies.iter().flat_map(|b| &b.lost).map(|l| l.fault.to_string());
    let told = found.findings.iter().map(Finding::to_string);
    assert!(lost.chain(told).any(|t| t.contains(too_many)));
}
