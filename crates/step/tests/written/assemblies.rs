//! Units, parts within parts, names and colours.

use crate::file::{File, list, stated};
use nalgebra::Point3;
use step::{Accuracy, Colour, Finding};

const X: [f64; 3] = [1.0, 0.0, 0.0];
const Z: [f64; 3] = [0.0, 0.0, 1.0];

/// A ball around a place.
fn ball(file: &mut File, [x, y, z]: [f64; 3], radius: f64) -> u64 {
    let frame = file.frame([x, y, z], Z, X);
    let surface = file.add(&format!("SPHERICAL_SURFACE('',#{frame},{radius:?})"));
    let pole = file.vertex([x, y, z + radius]);
    let at = file.add(&format!("VERTEX_LOOP('',#{pole})"));
    let face = file.face(surface, true, &[at]);
    file.solid("ball", &[face])
}

/// A use of a child in a parent, placed by a frame of each.
#[allow(clippy::too_many_arguments, reason = "what the standard strings together")]
fn use_of(
    file: &mut File,
    name: &str,
    parent: (u64, u64),
    child: (u64, u64),
    from: u64,
    to: u64,
    backward: bool,
) {
    let usage = file.add(&format!(
        "NEXT_ASSEMBLY_USAGE_OCCURRENCE('id','{name}','',#{},#{},$)",
        parent.0, child.0
    ));
    let shape = file.add(&format!("PRODUCT_DEFINITION_SHAPE('','',#{usage})"));
    let (first, second, from, to) =
        if backward { (parent.1, child.1, to, from) } else { (child.1, parent.1, from, to) };
    let operator = file.add(&format!("ITEM_DEFINED_TRANSFORMATION('','',#{from},#{to})"));
    let relation = file.add(&format!(
        "(REPRESENTATION_RELATIONSHIP('','',#{first},#{second})\
         REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION(#{operator})\
         SHAPE_REPRESENTATION_RELATIONSHIP())"
    ));
    file.add(&format!("CONTEXT_DEPENDENT_SHAPE_REPRESENTATION(#{relation},#{shape})"));
}

#[test]
fn units_of_length_by_prefix_and_by_conversion() {
    // Millimetres in each by the SI and by the international inch of 1959.
    let cases = [
        ("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT($,.METRE.))", 1000.0, "m"),
        ("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.CENTI.,.METRE.))", 10.0, "cm"),
        ("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MICRO.,.METRE.))", 1e-3, "\u{b5}m"),
        ("(CONVERSION_BASED_UNIT('INCH',#2)LENGTH_UNIT()NAMED_UNIT(*))", 25.4, "inch"),
    ];
    for (unit, millimetres, name) in cases {
        let mut file = File::default();
        let base = file.add("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.CENTI.,.METRE.))");
        file.add(&format!("LENGTH_MEASURE_WITH_UNIT(LENGTH_MEASURE(2.54),#{base})"));
        let length = file.add(unit);
        let angle = file.add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))");
        let context = file.context_of(length, angle);
        let solid = ball(&mut file, [3.0, 0.0, 0.0], 2.0);
        file.product("ball", &[solid], context);
        let model = file.model(Accuracy::default());
        assert_eq!(model.unit.name, name);
        assert!((model.unit.millimetres / millimetres - 1.0).abs() < 1e-12);
        let (low, high) = model.bodies[0].mesh.bounds().unwrap();
        assert!((high.z - low.z - 4.0 * millimetres).abs() < 1e-3 * millimetres, "{name}");
        assert!((0.5 * (high.x + low.x) - 3.0 * millimetres).abs() < 1e-2 * millimetres, "{name}");
        assert!(model.bodies[0].is_sound());
    }
}

#[test]
fn degrees_and_files_that_say_no_unit() {
    let mut file = File::default();
    let radian = file.add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))");
    let degree = file.add(&format!(
        "PLANE_ANGLE_MEASURE_WITH_UNIT(PLANE_ANGLE_MEASURE(0.0174532925199433),#{radian})"
    ));
    let degree = file.add(&format!(
        "(CONVERSION_BASED_UNIT('DEGREE',#{degree})NAMED_UNIT(*)PLANE_ANGLE_UNIT())"
    ));
    let context = file.add(&format!(
        "(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNIT_ASSIGNED_CONTEXT((#{degree}))\
         REPRESENTATION_CONTEXT('',''))"
    ));
    // A cone of 45 degrees with its apex: height as its radius.
    let frame = file.frame([0.0; 3], [0.0, 0.0, -1.0], X);
    let surface = file.add(&format!("CONICAL_SURFACE('',#{frame},6.,45.)"));
    let ring = file.frame([0.0; 3], Z, X);
    let circle = file.circle(ring, 6.0);
    let start = file.vertex([6.0, 0.0, 0.0]);
    let edge = file.edge(start, start, circle, true);
    let loops = [file.edge_loop(&[(edge, true)]), file.edge_loop(&[(edge, false)])];
    let wall = file.face(surface, true, &loops[..1]);
    let plane = file.add(&format!("PLANE('',#{ring})"));
    let bottom = file.face(plane, false, &loops[1..]);
    let solid = file.solid("", &[wall, bottom]);
    file.product("cone", &[solid], context);
    let model = file.model(Accuracy::default());
    assert_eq!(model.findings, [Finding::NoUnit]);
    let (_, high) = model.bodies[0].mesh.bounds().unwrap();
    assert!((high.z - 6.0).abs() < 1e-9);
}

#[test]
fn parts_within_parts_lie_where_their_frames_say_and_keep_their_names() {
    for backward in [false, true] {
        let mut file = File::default();
        let context = file.context();
        let solid = ball(&mut file, [1.0, 0.0, 0.0], 0.5);
        let origin = file.frame([0.0; 3], Z, X);
        let nut = file.product("nut", &[solid, origin], context);
        // A quarter turn and ten along x, in the row; the row three up in the whole, and also far away.
        let turned = file.frame([10.0, 0.0, 0.0], Z, [0.0, 1.0, 0.0]);
        let row = file.product("row \\X2\\00E9\\X0\\", &[origin, turned], context);
        let up = file.frame([0.0, 0.0, 3.0], Z, X);
        let away = file.frame([0.0, 100.0, 0.0], X, Z);
        let whole = file.product("whole", &[up, away, origin], context);
        use_of(&mut file, "nut 1", row, nut, origin, turned, backward);
        use_of(&mut file, "row up", whole, row, origin, up, backward);
        use_of(&mut file, "row away", whole, row, origin, away, backward);
        let model = file.model(Accuracy::default());
        assert_eq!(model.findings, []);
        assert_eq!(model.bodies.len(), 1, "a body is meshed once");
        let names: Vec<(&str, &str)> =
            model.occurrences.iter().map(|o| (o.product.as_str(), o.instance.as_str())).collect();
        let expected = [
            ("whole", "whole"),
            ("row \u{e9}", "row up"),
            ("nut", "nut 1"),
            ("row \u{e9}", "row away"),
            ("nut", "nut 1"),
        ];
        assert_eq!(names, expected);
        let placed: Vec<Point3<f64>> =
            model.placed().map(|(.., at)| at.of(&Point3::new(1.0, 0.0, 0.0))).collect();
        // In the row at (10, 1, 0): up that is (10, 1, 3). Away, z runs along x and x along z, so that y
        // runs against y.
        let expected = [Point3::new(10.0, 1.0, 3.0), Point3::new(0.0, 99.0, 10.0)];
        for (found, expected) in placed.iter().zip(expected) {
            assert!((found - expected).norm() < 1e-9, "{found} {expected}");
        }
        assert_eq!(placed.len(), 2);
    }
}

#[test]
fn a_mirrored_mapped_item_stays_a_sound_body() {
    let mut file = File::default();
    let context = file.context();
    let solid = ball(&mut file, [5.0, 0.0, 0.0], 1.0);
    let origin = file.frame([0.0; 3], Z, X);
    let inner = file.add(&format!("SHAPE_REPRESENTATION('',(#{solid},#{origin}),#{context})"));
    let map = file.add(&format!("REPRESENTATION_MAP(#{origin},#{inner})"));
    // The third axis turned over: left and right change places.
    let (x, y, z) = (file.direction(X), file.direction([0.0, -1.0, 0.0]), file.direction(Z));
    let at = file.point([0.0, 0.0, 20.0]);
    let operator =
        file.add(&format!("CARTESIAN_TRANSFORMATION_OPERATOR_3D('',#{x},#{y},#{at},2.,#{z})"));
    let item = file.add(&format!("MAPPED_ITEM('',#{map},#{operator})"));
    file.product("twin", &[item], context);
    let model = file.model(Accuracy::default());
    assert_eq!(model.findings, []);
    let placed: Vec<_> = model.placed().collect();
    assert_eq!(placed.len(), 1);
    let (_, body, placement) = placed[0];
    assert!(placement.is_mirrored() && (placement.scale() - 2.0).abs() < 1e-12);
    let (there, deviation) = model.bodies[body].placed(&placement);
    let eight = 8.0 * solids::volume(&model.bodies[body].mesh);
    assert!((solids::volume(&there) / eight - 1.0).abs() < 1e-9, "turned inside out");
    assert!((deviation.unwrap().bound / stated(&model.bodies[body]) - 2.0).abs() < 1e-9);
    let (low, high) = there.bounds().unwrap();
    assert!((nalgebra::center(&low, &high) - Point3::new(10.0, 0.0, 20.0)).norm() < 0.02);
}

#[test]
fn colours_of_solids_and_faces() {
    let mut file = File::default();
    let context = file.context();
    // Two half balls as one solid, of which one half has a colour of its own.
    let frame = file.frame([0.0; 3], Z, X);
    let surface = file.add(&format!("SPHERICAL_SURFACE('',#{frame},3.)"));
    let circle = file.circle(frame, 3.0);
    let start = file.vertex([3.0, 0.0, 0.0]);
    let edge = file.edge(start, start, circle, true);
    let faces = [true, false].map(|up| {
        let around = file.edge_loop(&[(edge, up)]);
        file.face(surface, true, &[around])
    });
    let solid = file.solid("", &faces);
    file.product("ball", &[solid], context);
    let mut paint = |item: u64, colour: &str, kind: &str, over: &str| {
        let colour = file.add(colour);
        let fill = file.add(&format!("FILL_AREA_STYLE_COLOUR('',#{colour})"));
        let fill = file.add(&format!("FILL_AREA_STYLE('',(#{fill}))"));
        let fill = file.add(&format!("SURFACE_STYLE_FILL_AREA(#{fill})"));
        let side = file.add(&format!("SURFACE_SIDE_STYLE('',(#{fill}))"));
        let usage = file.add(&format!("SURFACE_STYLE_USAGE(.BOTH.,#{side})"));
        let style = file.add(&format!("PRESENTATION_STYLE_ASSIGNMENT((#{usage}))"));
        file.add(&format!("{kind}('',(#{style}),#{item}{over})"))
    };
    let whole = paint(solid, "COLOUR_RGB('',0.25,0.5,0.75)", "STYLED_ITEM", "");
    let over = format!(",#{whole}");
    paint(faces[1], "DRAUGHTING_PRE_DEFINED_COLOUR('red')", "OVER_RIDING_STYLED_ITEM", &over);
    let model = file.model(Accuracy::default());
    let body = &model.bodies[0];
    assert!(body.is_sound());
    assert_eq!(body.colour, Some(Colour { red: 0.25, green: 0.5, blue: 0.75 }));
    assert_eq!(body.triangle_colours.len(), body.mesh.triangles.len());
    for (index, colour) in body.triangle_colours.iter().enumerate() {
        let below = body.mesh.corners(index).iter().map(|p| p.z).sum::<f64>() < 0.0;
        let red = Colour { red: 1.0, green: 0.0, blue: 0.0 };
        assert_eq!(*colour, below.then_some(red));
        assert_eq!(body.triangle_faces[index], faces[usize::from(below)]);
    }
}

#[test]
fn parts_that_hold_each_other_and_uses_beyond_counting_end() {
    // In a circle.
    let mut file = File::default();
    let context = file.context();
    let origin = file.frame([0.0; 3], Z, X);
    let a = file.product("a", &[origin], context);
    let b = file.product("b", &[origin], context);
    let c = file.product("c", &[origin], context);
    use_of(&mut file, "1", a, b, origin, origin, false);
    use_of(&mut file, "2", b, c, origin, origin, false);
    use_of(&mut file, "3", c, b, origin, origin, false);
    let model = file.model(Accuracy::default());
    assert!(model.findings.contains(&Finding::Circle("b".into())), "{:?}", model.findings);
    assert!(!model.is_whole());
    // Ten of ten of ten of ten and so on.
    let mut file = File::default();
    let context = file.context();
    let solid = ball(&mut file, [0.0; 3], 1.0);
    let origin = file.frame([0.0; 3], Z, X);
    let mut part = file.product("ball", &[solid, origin], context);
    for level in 0..12 {
        let holder = file.product(&format!("level {level}"), &[origin], context);
        for _ in 0..10 {
            use_of(&mut file, "", holder, part, origin, origin, false);
        }
        part = holder;
    }
    let model = file.model(Accuracy::default());
    assert!(matches!(model.findings[..], [Finding::TooManyOccurrences(_)]));
    assert_eq!(list(&[1, 2]), "#1,#2");
}
