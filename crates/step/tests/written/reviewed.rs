//! What a review found: parts that were placed wrong or left out silently, files that took for ever, and
//! bodies that were called sound without being it.

use crate::file::{File, chord, holds, list, only_body, stated};
use nalgebra::Point3;
use std::f64::consts::{PI, TAU};
use step::{Accuracy, Finding, Model, read};

const X: [f64; 3] = [1.0, 0.0, 0.0];
const Z: [f64; 3] = [0.0, 0.0, 1.0];

/// A ball of radius 2 around the origin.
fn ball(file: &mut File) -> u64 {
    let frame = file.frame([0.0; 3], Z, X);
    let surface = file.add(&format!("SPHERICAL_SURFACE('',#{frame},2.)"));
    let pole = file.vertex([0.0, 0.0, 2.0]);
    let at = file.add(&format!("VERTEX_LOOP('',#{pole})"));
    let face = file.face(surface, true, &[at]);
    file.solid("ball", &[face])
}

/// A ball in a whole, at 100 along x. What says so, to be written in other ways.
struct Pair {
    text: String,
    usage: String,
    placed: String,
    relation: String,
    frames: [u64; 2],
    parts: [(u64, u64); 2],
}

fn pair() -> Pair {
    let mut file = File::default();
    let context = file.context();
    let solid = ball(&mut file);
    let here = file.frame([0.0; 3], Z, X);
    let child = file.product("ball", &[solid, here], context);
    let there = file.frame([100.0, 0.0, 0.0], Z, X);
    let parent = file.product("whole", &[there], context);
    let mut said = |record: String| {
        let id = file.add(&record);
        (id, record)
    };
    let (id, usage) =
        said(format!("NEXT_ASSEMBLY_USAGE_OCCURRENCE('id','n','',#{},#{},$)", parent.0, child.0));
    let (shape, _) = said(format!("PRODUCT_DEFINITION_SHAPE('','',#{id})"));
    let (operator, placed) = said(format!("ITEM_DEFINED_TRANSFORMATION('','',#{here},#{there})"));
    let (id, relation) = said(format!(
        "(REPRESENTATION_RELATIONSHIP('','',#{},#{})\
         REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION(#{operator})\
         SHAPE_REPRESENTATION_RELATIONSHIP())",
        child.1, parent.1
    ));
    said(format!("CONTEXT_DEPENDENT_SHAPE_REPRESENTATION(#{id},#{shape})"));
    let (frames, parts) = ([here, there], [child, parent]);
    Pair { text: file.text(), usage, placed, relation, frames, parts }
}

fn model(text: &str) -> Model {
    read(text.as_bytes(), Accuracy::default()).unwrap()
}

/// Where the origins of all placed bodies lie.
fn places(model: &Model) -> Vec<Point3<f64>> {
    model.placed().map(|(.., at)| at.of(&Point3::origin())).collect()
}

fn replaced(text: &str, from: &str, to: &str) -> String {
    assert!(text.contains(from), "{from}");
    text.replacen(from, to, 1)
}

#[test]
fn a_part_is_placed_however_the_file_says_it() {
    let pair = pair();
    let [child, parent] = pair.parts;
    let [here, there] = pair.frames;
    let complex = format!(
        "(ASSEMBLY_COMPONENT_USAGE($)NEXT_ASSEMBLY_USAGE_OCCURRENCE()\
         PRODUCT_DEFINITION_RELATIONSHIP('id','n','',#{},#{})PRODUCT_DEFINITION_USAGE())",
        parent.0, child.0
    );
    let swapped = format!("ITEM_DEFINED_TRANSFORMATION('','',#{there},#{here})");
    let (along, against) =
        (format!("'',#{},#{})", child.1, parent.1), format!("'',#{},#{})", parent.1, child.1));
    let turned = pair.relation.replace(&along, &against);
    assert_ne!(turned, pair.relation);
    let mapped = {
        // No usage at all: a mapped item in the whole.
        let text = replaced(&pair.text, &pair.usage, "GROUP('','')");
        let text = replaced(&text, &format!("('',(#{there}),"), &format!("('',(#{there},#9002),"));
        let map = format!("#9001=REPRESENTATION_MAP(#{here},#{});", child.1);
        let item = format!("#9002=MAPPED_ITEM('n',#9001,#{there});");
        replaced(&text, "DATA;\n", &format!("DATA;\n{map}{item}"))
    };
    let cases = [
        pair.text.clone(),
        replaced(&pair.text, &pair.usage, &complex),
        replaced(&pair.text, &pair.placed, &swapped),
        replaced(&pair.text, &pair.relation, &turned),
        replaced(&replaced(&pair.text, &pair.relation, &turned), &pair.placed, &swapped),
        mapped,
    ];
    for (case, text) in cases.iter().enumerate() {
        let model = model(text);
        assert_eq!(model.findings, [], "case {case}");
        assert_eq!(places(&model), [Point3::new(100.0, 0.0, 0.0)], "case {case}");
        assert_eq!(model.occurrences[1].instance, "n", "case {case}");
    }
    // Related without a transformation: as it is.
    let plain = format!("SHAPE_REPRESENTATION_RELATIONSHIP('','',#{},#{})", child.1, parent.1);
    let model = model(&replaced(&pair.text, &pair.relation, &plain));
    assert_eq!(model.findings, []);
    assert_eq!(places(&model), [Point3::origin()]);
}

#[test]
fn a_part_without_a_place_is_told_and_shown_nowhere() {
    let pair = pair();
    let frame = |axis: &str| {
        let text = format!("AXIS2_PLACEMENT_3D('',#{},#", pair.frames[1] - 3);
        let at = pair.text.find(&text).unwrap() + text.len() - 1;
        let end = at + pair.text[at..].find(',').unwrap();
        format!("{}{axis}{}", &pair.text[..at], &pair.text[end..])
    };
    let nowhere = [
        replaced(&pair.text, &pair.relation, "GROUP('','')"),
        // An axis that is not there, is no direction, or has no length.
        frame("#9999"),
        frame("#1"),
        replaced(&frame("#9001"), "DATA;\n", "DATA;\n#9001=DIRECTION('',(0.,0.,0.));\n"),
    ];
    for (case, text) in nowhere.iter().enumerate() {
        let model = model(text);
        assert!(matches!(model.findings[0], Finding::Place { .. }), "{case} {:?}", model.findings);
        assert_eq!(places(&model), [], "case {case}");
        assert!(!model.is_whole());
    }
    // Left out, an axis is the standard's own.
    assert_eq!(places(&model(&frame("$"))), [Point3::new(100.0, 0.0, 0.0)]);
    // In a circle that nothing holds.
    let mut file = File::default();
    let context = file.context();
    let solid = ball(&mut file);
    let (a, b) = (file.product("a", &[solid], context), file.product("b", &[], context));
    for (holder, held) in [(a, b), (b, a)] {
        file.add(&format!("NEXT_ASSEMBLY_USAGE_OCCURRENCE('','','',#{},#{},$)", holder.0, held.0));
    }
    let found = file.model(Accuracy::default());
    assert!(found.findings.contains(&Finding::Circle("a".into())), "{:?}", found.findings);
    assert_eq!(places(&found), []);
    // A part that is kept elsewhere.
    let sdr = format!("#{})", pair.parts[0].1);
    let text = pair.text.replace(
        &format!("SHAPE_DEFINITION_REPRESENTATION(#{},{sdr}", pair.parts[0].1 - 1),
        "GROUP('','')",
    );
    assert!(model(&text).findings.contains(&Finding::NoShape("ball".into())));
}

#[test]
fn no_item_of_a_part_is_left_out_silently() {
    let with = |items: &[&str]| {
        let mut file = File::default();
        let context = file.context();
        let mut all = vec![ball(&mut file)];
        all.extend(items.iter().map(|i| file.add(i)));
        file.product("part", &all, context);
        file.model(Accuracy::default())
    };
    for unread in [
        "RIGHT_ANGULAR_WEDGE('',$,1.,1.,1.,1.)",
        "GEOMETRIC_SET('',(#9999))",
        "(GEOMETRIC_REPRESENTATION_ITEM()REPRESENTATION_ITEM('')TESSELLATED_ITEM()TESSELLATED_SOLID($,$))",
    ] {
        let model = with(&[unread]);
        assert!(matches!(model.findings[..], [Finding::Item(_)]), "{:?}", model.findings);
        assert!(!model.is_whole());
    }
    let point = "CARTESIAN_POINT('',(0.,0.,0.))";
    let beside = [point, "POLYLINE('',())", "PLANE('',$)", "STYLED_ITEM('',(),$)"];
    assert!(with(&beside).is_whole());
}

#[test]
fn what_is_said_twice_is_there_once_and_every_missing_unit_is_told() {
    let mut file = File::default();
    let context = file.context();
    let solid = ball(&mut file);
    let (_, representation) = file.product("ball", &[solid], context);
    file.add(&format!(
        "SHAPE_DEFINITION_REPRESENTATION(#{},#{representation})",
        representation - 1
    ));
    assert_eq!(file.model(Accuracy::default()).placed().count(), 1);
    let second = ball(&mut file);
    let none = file.add("REPRESENTATION_CONTEXT('','')");
    file.product("second", &[second], none);
    assert_eq!(file.model(Accuracy::default()).findings, [Finding::NoUnit]);
}

#[test]
fn a_measure_in_parts_and_an_uncertainty_in_no_unit_lose_no_body() {
    let mut file = File::default();
    let mm = file.add("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))");
    let measure = file
        .add(&format!("(LENGTH_MEASURE_WITH_UNIT()MEASURE_WITH_UNIT(LENGTH_MEASURE(25.4),#{mm}))"));
    let inch =
        file.add(&format!("(CONVERSION_BASED_UNIT('INCH',#{measure})LENGTH_UNIT()NAMED_UNIT(*))"));
    let strange = file.add("(CONVERSION_BASED_UNIT('X',#9999)LENGTH_UNIT()NAMED_UNIT(*))");
    let about =
        file.add(&format!("UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-5),#{strange},'','')"));
    let context = file.add(&format!(
        "(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT((#{about}))\
         GLOBAL_UNIT_ASSIGNED_CONTEXT((#{inch}))REPRESENTATION_CONTEXT('',''))"
    ));
    let solid = ball(&mut file);
    file.product("ball", &[solid], context);
    let model = file.model(Accuracy::default());
    assert_eq!(model.findings, []);
    let (low, high) = model.bodies[0].mesh.bounds().unwrap();
    // The international inch of 1959.
    assert!((high.z - low.z - 4.0 * 25.4).abs() < 0.1);
}

#[test]
fn what_doubles_at_every_level_ends_soon() {
    let began = std::time::Instant::now();
    // Mapped items of mapped items.
    let mut file = File::default();
    let context = file.context();
    let at = file.frame([0.0; 3], Z, X);
    let mut inner = file.add(&format!("SHAPE_REPRESENTATION('',(#{at}),#{context})"));
    for _ in 0..50 {
        let map = file.add(&format!("REPRESENTATION_MAP(#{at},#{inner})"));
        let twice = [0, 1].map(|_| file.add(&format!("MAPPED_ITEM('',#{map},#{at})")));
        inner = file.add(&format!("SHAPE_REPRESENTATION('',({}),#{context})", list(&twice)));
    }
    let map = file.add(&format!("REPRESENTATION_MAP(#{at},#{inner})"));
    let item = file.add(&format!("MAPPED_ITEM('',#{map},#{at})"));
    file.product("part", &[item], context);
    let model = file.model(Accuracy::default());
    assert!(model.findings.iter().any(|f| matches!(f, Finding::TooManyItems(_))));
    // Styles of styles, and curves of curves.
    let mut file = File::default();
    let mut style = file.add("FILL_AREA_STYLE('',())");
    for _ in 0..60 {
        style = file.add(&format!("FILL_AREA_STYLE('',(#{style},#{style},#{style}))"));
    }
    let circle = file.frame([0.0; 3], Z, X);
    let mut curve = file.circle(circle, 5.0);
    for _ in 0..22 {
        let piece = file.add(&format!("COMPOSITE_CURVE_SEGMENT(.CONTINUOUS.,.T.,#{curve})"));
        curve = file.add(&format!("COMPOSITE_CURVE('',({}),.U.)", list(&[piece; 4])));
    }
    let start = file.vertex([5.0, 0.0, 0.0]);
    let edge = file.edge(start, start, curve, true);
    let around = file.edge_loop(&[(edge, true)]);
    let plane = file.add(&format!("PLANE('',#{circle})"));
    let face = file.face(plane, true, &[around]);
    let solid = file.solid("", &[face]);
    file.add(&format!("STYLED_ITEM('',(#{style}),#{solid})"));
    let model = file.part(&[solid]).model(Accuracy::default());
    assert_eq!(model.bodies[0].lost.len(), 1);
    assert!(began.elapsed().as_secs() < 60, "{:?}", began.elapsed());
}

/// A wall between two rims, with its discs.
fn closed(file: &mut File, surface: u64, height: f64, rims: &[Vec<u64>; 2]) -> u64 {
    let mut faces = Vec::new();
    let mut loops = Vec::new();
    for (up, rim) in [false, true].into_iter().zip(rims) {
        let mut edges: Vec<(u64, bool)> = rim.iter().map(|e| (*e, !up)).collect();
        if up {
            edges.reverse();
        }
        loops.push(file.edge_loop(&edges));
        let turned: Vec<(u64, bool)> = edges.iter().rev().map(|(e, f)| (*e, !f)).collect();
        let frame = file.frame([0.0, 0.0, if up { height } else { 0.0 }], Z, X);
        let plane = file.add(&format!("PLANE('',#{frame})"));
        let around = file.edge_loop(&turned);
        faces.push(file.face(plane, up, &[around]));
    }
    faces.push(file.face(surface, true, &loops));
    file.solid("", &faces)
}

#[test]
fn a_circle_between_two_vertices_at_one_place_is_a_full_turn() {
    let mut file = File::default();
    let rims = [0.0, 10.0].map(|z| {
        let frame = file.frame([0.0, 0.0, z], Z, X);
        let circle = file.circle(frame, 5.0);
        let (from, to) = (file.vertex([5.0, 0.0, z]), file.vertex([5.0, 0.0, z]));
        vec![file.edge(from, to, circle, true)]
    });
    let frame = file.frame([0.0; 3], Z, X);
    let surface = file.add(&format!("CYLINDRICAL_SURFACE('',#{frame},5.)"));
    let solid = closed(&mut file, surface, 10.0, &rims);
    holds(&only_body(&file.part(&[solid]), chord(5.0)), PI * 250.0, TAU * 75.0);
}

#[test]
fn a_parabola_with_a_negative_focal_length_bends_as_much() {
    // x = -10 t^2, y = -20 t, closed by the plane x = -10.
    let (focal, height) = (-10.0, 10.0);
    let mut file = File::default();
    let at = |t: f64, z: f64| [focal * t * t, 2.0 * focal * t, z];
    let ends = [0.0, height].map(|z| [-1.0, 1.0].map(|t| file.vertex(at(t, z))));
    let curves = [0.0, height].map(|z| {
        let frame = file.frame([0.0, 0.0, z], Z, X);
        file.add(&format!("PARABOLA('',#{frame},{focal:?})"))
    });
    let bent = [0, 1].map(|i| file.edge(ends[i][0], ends[i][1], curves[i], true));
    let straight = [0, 1].map(|i| {
        let z = if i == 0 { 0.0 } else { height };
        let line = file.line(at(-1.0, z), at(1.0, z));
        file.edge(ends[i][0], ends[i][1], line, true)
    });
    let upright = [0, 1].map(|i| {
        let t = if i == 0 { -1.0 } else { 1.0 };
        let line = file.line(at(t, 0.0), at(t, height));
        file.edge(ends[0][i], ends[1][i], line, true)
    });
    let along = file.direction(Z);
    let vector = file.add(&format!("VECTOR('',#{along},1.)"));
    let surface = file.add(&format!("SURFACE_OF_LINEAR_EXTRUSION('',#{},#{vector})", curves[0]));
    let mut faces = Vec::new();
    let wall =
        |low: u64, high: u64| [(low, true), (upright[1], true), (high, false), (upright[0], false)];
    // The curve runs toward lower y: seen so, what is inside lies on its right.
    let turned = |mut edges: [(u64, bool); 4]| {
        edges.reverse();
        edges.map(|(e, forward)| (e, !forward))
    };
    let around = file.edge_loop(&turned(wall(bent[0], bent[1])));
    faces.push(file.face(surface, false, &[around]));
    let frame = file.frame([focal, 0.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 1.0, 0.0]);
    let plane = file.add(&format!("PLANE('',#{frame})"));
    let around = file.edge_loop(&wall(straight[0], straight[1]));
    faces.push(file.face(plane, true, &[around]));
    for (i, up) in [false, true].into_iter().enumerate() {
        let frame = file.frame([0.0, 0.0, if up { height } else { 0.0 }], Z, X);
        let plane = file.add(&format!("PLANE('',#{frame})"));
        let around = file.edge_loop(&[(bent[i], !up), (straight[i], up)]);
        faces.push(file.face(plane, up, &[around]));
    }
    let solid = file.solid("", &faces);
    let body = only_body(&file.part(&[solid]), 0.02);
    // Two thirds of the box around it (Archimedes); the arc from 0 to t is f (t r + asinh t) with
    // r = sqrt(1 + t^2).
    let section = 2.0 / 3.0 * 10.0 * 40.0;
    let arc = 2.0 * 10.0 * (2.0_f64.sqrt() + 1.0_f64.asinh());
    holds(&body, section * height, 2.0 * section + (40.0 + arc) * height);
}

#[test]
fn pieces_of_a_composite_curve_that_do_not_meet_are_no_curve() {
    for gap in [0.0, 0.5] {
        let mut file = File::default();
        let rims = [0.0, 10.0].map(|z| {
            let pieces = [(0.0, PI - gap / 5.0), (PI, TAU)].map(|(from, to)| {
                let frame = file.frame([0.0, 0.0, z], Z, X);
                let circle = file.circle(frame, 5.0);
                let arc = file.add(&format!(
                    "TRIMMED_CURVE('',#{circle},(PARAMETER_VALUE({from:?})),\
                     (PARAMETER_VALUE({to:?})),.T.,.PARAMETER.)"
                ));
                file.add(&format!("COMPOSITE_CURVE_SEGMENT(.CONTINUOUS.,.T.,#{arc})"))
            });
            let curve = file.add(&format!("COMPOSITE_CURVE('',({}),.F.)", list(&pieces)));
            let start = file.vertex([5.0, 0.0, z]);
            vec![file.edge(start, start, curve, true)]
        });
        let frame = file.frame([0.0; 3], Z, X);
        let surface = file.add(&format!("CYLINDRICAL_SURFACE('',#{frame},5.)"));
        let solid = closed(&mut file, surface, 10.0, &rims);
        let file = file.part(&[solid]);
        if gap == 0.0 {
            holds(&only_body(&file, chord(5.0)), PI * 250.0, TAU * 75.0);
        } else {
            let body = &file.model(Accuracy::default()).bodies[0];
            assert!(!body.is_sound() && body.lost.len() == 3, "{:?}", body.lost);
        }
    }
}

/// The sides of a block of polygons, which face outward or inward.
fn block(file: &mut File, low: f64, high: f64, outward: bool) -> Vec<u64> {
    let at = |i: usize, bit: usize| if i >> bit & 1 == 1 { high } else { low };
    let corners: Vec<u64> = (0..8).map(|i| file.point([at(i, 0), at(i, 1), at(i, 2)])).collect();
    let sides =
        [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    let side = |mut side: [usize; 4]| {
        if !outward {
            side.reverse();
        }
        let around = list(&side.map(|corner| corners[corner]));
        let around = file.add(&format!("POLY_LOOP('',({around}))"));
        let bound = file.add(&format!("FACE_OUTER_BOUND('',#{around},.T.)"));
        file.add(&format!("FACE('',(#{bound}))"))
    };
    sides.map(side).to_vec()
}

#[test]
fn a_body_whose_shells_contradict_each_other_is_not_sound() {
    use solids::ContradictionKind::{Cancelled, Overlap, VoidOfNothing};
    // A block from 0 to 10, and another in the same shell.
    let cases = [
        (20.0, 25.0, true, None),
        (2.0, 5.0, false, None),
        (2.0, 5.0, true, Some(Overlap)),
        (5.0, 15.0, true, Some(Overlap)),
        (20.0, 25.0, false, Some(VoidOfNothing)),
        (5.0, 14.0, false, Some(Cancelled)),
    ];
    for (low, high, outward, expected) in cases {
        let mut file = File::default();
        let mut faces = block(&mut file, 0.0, 10.0, true);
        faces.extend(block(&mut file, low, high, outward));
        let solid = file.solid("", &faces);
        let body = &file.part(&[solid]).model(Accuracy::default()).bodies[0];
        assert!(body.soundness.is_closed() && body.lost.is_empty());
        assert_eq!(body.contradiction.map(|c| c.kind), expected, "{low} {high} {outward}");
        assert_eq!(body.is_sound(), expected.is_none());
    }
    // As a void of its own, which is turned as voids are.
    for (low, high, expected) in
        [(2.0, 5.0, None), (20.0, 25.0, Some(VoidOfNothing)), (5.0, 14.0, Some(Cancelled))]
    {
        let mut file = File::default();
        let shells = [block(&mut file, 0.0, 10.0, true), block(&mut file, low, high, true)]
            .map(|faces| file.add(&format!("CLOSED_SHELL('',({}))", list(&faces))));
        let void = file.add(&format!("ORIENTED_CLOSED_SHELL('',*,#{},.F.)", shells[1]));
        let solid = file.add(&format!("BREP_WITH_VOIDS('',#{},(#{void}))", shells[0]));
        let body = &file.part(&[solid]).model(Accuracy::default()).bodies[0];
        assert_eq!(body.contradiction.map(|c| c.kind), expected, "{low} {high}");
        assert_eq!(body.is_sound(), expected.is_none());
    }
}
/// A circle as a rational spline of four quarters.
fn round_spline(file: &mut File, radius: f64, z: f64) -> u64 {
    let corner = 0.5_f64.sqrt();
    let places = [
        (1.0, 0.0),
        (1.0, 1.0),
        (0.0, 1.0),
        (-1.0, 1.0),
        (-1.0, 0.0),
        (-1.0, -1.0),
        (0.0, -1.0),
        (1.0, -1.0),
        (1.0, 0.0),
    ];
    let points = places.map(|(x, y)| file.point([radius * x, radius * y, z]));
    let weights: Vec<String> =
        (0..9).map(|i| format!("{:?}", if i % 2 == 1 { corner } else { 1.0 })).collect();
    rational(file, &points, &weights)
}

/// A closed rational spline of four quarters.
fn rational(file: &mut File, points: &[u64], weights: &[String]) -> u64 {
    file.add(&format!(
        "(BOUNDED_CURVE()B_SPLINE_CURVE(2,({}),.UNSPECIFIED.,.T.,.F.)\
         B_SPLINE_CURVE_WITH_KNOTS((3,2,2,2,3),(0.,1.,2.,3.,4.),.UNSPECIFIED.)CURVE()\
         GEOMETRIC_REPRESENTATION_ITEM()RATIONAL_B_SPLINE_CURVE(({}))REPRESENTATION_ITEM(''))",
        list(points),
        weights.join(",")
    ))
}

#[test]
fn an_edge_that_ends_just_before_the_seam_of_a_closed_spline() {
    // The seam lies at 0 degrees; at 352 the sample nearest by is the seam itself.
    let (radius, height) = (50.0, 10.0);
    let mut file = File::default();
    let rims = [0.0, height].map(|z| {
        let ends = [100.0_f64, 352.0].map(|degrees| {
            let (s, c) = degrees.to_radians().sin_cos();
            file.vertex([radius * c, radius * s, z])
        });
        let curve = round_spline(&mut file, radius, z);
        vec![file.edge(ends[0], ends[1], curve, true), file.edge(ends[1], ends[0], curve, true)]
    });
    let (profile, along) = (round_spline(&mut file, radius, 0.0), file.direction(Z));
    let vector = file.add(&format!("VECTOR('',#{along},1.)"));
    let surface = file.add(&format!("SURFACE_OF_LINEAR_EXTRUSION('',#{profile},#{vector})"));
    let solid = closed(&mut file, surface, height, &rims);
    let body = only_body(&file.part(&[solid]), chord(radius));
    let disc = PI * radius * radius;
    holds(&body, disc * height, 2.0 * disc + TAU * radius * height);
}

#[test]
fn a_ring_of_a_closed_spline_is_cut_just_before_its_seam() {
    // Two faces of a torus, between the circles at 100 and at 352 degrees of its section.
    let (ring, radius) = (50.0, 10.0);
    let mut file = File::default();
    // The section stands in the plane of x and z.
    let corner = 0.5_f64.sqrt();
    let places = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)];
    let points =
        places.map(|(x, z)| file.point([ring + radius * f64::from(x), 0.0, radius * f64::from(z)]));
    let weights: Vec<String> =
        (0..9).map(|i| format!("{:?}", if i % 2 == 1 { corner } else { 1.0 })).collect();
    let profile = rational(&mut file, &points, &weights);
    let (origin, along) = (file.point([0.0; 3]), file.direction(Z));
    let axis = file.add(&format!("AXIS1_PLACEMENT('',#{origin},#{along})"));
    let surface = file.add(&format!("SURFACE_OF_REVOLUTION('',#{profile},#{axis})"));
    let edges = [100.0_f64, 352.0].map(|degrees| {
        let (s, c) = degrees.to_radians().sin_cos();
        let frame = file.frame([0.0, 0.0, radius * s], Z, X);
        let out = ring + radius * c;
        let circle = file.circle(frame, out);
        let at = file.vertex([out, 0.0, radius * s]);
        file.edge(at, at, circle, true)
    });
    let mut faces = Vec::new();
    for [low, high] in [[edges[0], edges[1]], [edges[1], edges[0]]] {
        let loops = [file.edge_loop(&[(low, true)]), file.edge_loop(&[(high, false)])];
        faces.push(file.face(surface, true, &loops));
    }
    let solid = file.solid("", &faces);
    let body = only_body(&file.part(&[solid]), 0.02);
    // Pappus.
    holds(&body, 2.0 * PI * PI * ring * radius * radius, 4.0 * PI * PI * ring * radius);
}

/// A solid within a profile of control points (radius, height) that is turned about z, between the circles
/// at height 0 and at a height, of these radii.
fn turned(control: &[[f64; 2]], radii: [f64; 2], height: f64) -> File {
    let mut file = File::default();
    let rims: [Vec<u64>; 2] = [0, 1].map(|i| {
        let z = [0.0, height][i];
        let frame = file.frame([0.0, 0.0, z], Z, X);
        let circle = file.circle(frame, radii[i]);
        let at = file.vertex([radii[i], 0.0, z]);
        vec![file.edge(at, at, circle, true)]
    });
    let points: Vec<u64> = control.iter().map(|[r, z]| file.point([*r, 0.0, *z])).collect();
    let degree = control.len() - 1;
    let profile = file.add(&format!(
        "B_SPLINE_CURVE_WITH_KNOTS('',{degree},({}),.UNSPECIFIED.,.F.,.F.,({ends},{ends}),(0.,1.),\
         .UNSPECIFIED.)",
        list(&points),
        ends = degree + 1
    ));
    let (origin, along) = (file.point([0.0; 3]), file.direction(Z));
    let axis = file.add(&format!("AXIS1_PLACEMENT('',#{origin},#{along})"));
    let surface = file.add(&format!("SURFACE_OF_REVOLUTION('',#{profile},#{axis})"));
    let solid = closed(&mut file, surface, height, &rims);
    file.part(&[solid])
}

#[test]
fn a_profile_that_crosses_itself_makes_no_body_too_many() {
    // x - 16 = (1 - 2 t) (81 a - 6) and z = 75 a with a = t (1 - t): it passes (16, 50/9) twice.
    let control = [[10.0, 0.0], [41.0, 25.0], [-9.0, 25.0], [22.0, 0.0]];
    let height = 50.0 / 9.0;
    let crossing = 0.5 - (0.25 - 2.0 / 27.0_f64).sqrt();
    // The wall up to where it crosses: pi r^2 dz by Simpson's rule, which errs by nothing that shows.
    let (mut volume, n) = (0.0, 2000);
    for i in 0..=n {
        let t = crossing * f64::from(i) / f64::from(n);
        let r = 16.0 + (1.0 - 2.0 * t) * (81.0 * t * (1.0 - t) - 6.0);
        let weight = if i == 0 || i == n { 1.0 } else { f64::from(2 + 2 * (i % 2)) };
        volume += weight * PI * r * r * 75.0 * (1.0 - 2.0 * t) * crossing / (3.0 * f64::from(n));
    }
    for mirrored in [false, true] {
        // From either end of the profile.
        let mut control = control;
        if mirrored {
            control = control.map(|[x, z]| [32.0 - x, z]);
        }
        let radii = if mirrored { [22.0, 16.0] } else { [10.0, 16.0] };
        let model = turned(&control, radii, height).model(Accuracy::Length(0.01));
        let body = &model.bodies[0];
        let found = solids::volume(&body.mesh);
        if !mirrored {
            assert!(!body.is_sound() || (found / volume - 1.0).abs() < 0.01, "{found} {volume}");
        }
        let (_, high) = body.mesh.bounds().unwrap();
        assert!(!body.is_sound() || high.z < height + 0.1, "the loop is no part of it");
    }
}

#[test]
fn a_profile_that_crosses_its_axis_is_told() {
    let model = turned(&[[10.0, 0.0], [2.0, 8.0], [-6.0, 16.0]], [10.0, 6.0], 16.0)
        .model(Accuracy::Length(0.01));
    let body = &model.bodies[0];
    assert!(!body.is_sound());
    assert!(body.lost[0].fault.to_string().contains("axis"), "{:?}", body.lost);
    // One that ends on it is a dome.
    let file = turned(&[[10.0, 0.0], [10.0, 8.0], [6.0, 8.0]], [10.0, 6.0], 8.0);
    assert!(only_body(&file, 0.01).is_sound());
}

#[test]
fn places_that_are_made_one_count_in_the_deviation() {
    // A block in whose last corner one edge ends beside the others, within ten times what the file calls
    // one place.
    let (long, beside) = (1000.0, 0.3);
    let mut file = File::default();
    let at = |i: usize| [0, 1, 2].map(|bit| if i >> bit & 1 == 1 { long } else { 0.0 });
    let corners: Vec<u64> = (0..8).map(|i| file.vertex(at(i))).collect();
    let twin = file.vertex([long + beside, long, long]);
    let mut edges = std::collections::HashMap::new();
    for from in 0..8_usize {
        for to in (0..3).map(|bit| from | 1 << bit).filter(|to| *to != from) {
            let line = file.line(at(from), at(to));
            let end = if (from, to) == (6, 7) { twin } else { corners[to] };
            edges.insert((from, to), file.edge(corners[from], end, line, true));
        }
    }
    let sides =
        [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    let normals = [-Z[2], Z[2]].map(|z| [0.0, 0.0, z]).into_iter().chain([
        [0.0, -1.0, 0.0],
        [0.0, 1.0, 0.0],
        [-1.0, 0.0, 0.0],
        [1.0, 0.0, 0.0],
    ]);
    let mut faces = Vec::new();
    for (side, normal) in sides.iter().zip(normals) {
        let steps: Vec<(u64, bool)> = (0..4)
            .map(|i| (side[i], side[(i + 1) % 4]))
            .map(|(a, b)| (edges[&(a.min(b), a.max(b))], a < b))
            .collect();
        let around = file.edge_loop(&steps);
        let across = if normal[0] == 0.0 { X } else { Z };
        let frame = file.frame(at(side[0]), normal, across);
        let plane = file.add(&format!("PLANE('',#{frame})"));
        faces.push(file.face(plane, true, &[around]));
    }
    let solid = file.solid("", &faces);
    let length = file.add("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))");
    let about = file.add(&format!(
        "UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(0.05),#{length},'distance','')"
    ));
    let context = file.add(&format!(
        "(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT((#{about}))\
         GLOBAL_UNIT_ASSIGNED_CONTEXT((#{length}))REPRESENTATION_CONTEXT('',''))"
    ));
    file.product("block", &[solid], context);
    let model = file.model(Accuracy::Length(0.01));
    let body = &model.bodies[0];
    assert!(body.is_sound(), "{:?}", body.lost);
    assert!((beside - 1e-9..1.5).contains(&stated(body)), "{}", stated(body));
}
