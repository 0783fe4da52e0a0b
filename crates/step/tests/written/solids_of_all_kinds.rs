//! One solid for every kind of surface, each with the volume of its closed form.

use crate::file::{File, chord, holds, list, only_body, stated};
use std::f64::consts::{PI, TAU};
use step::Accuracy;

const X: [f64; 3] = [1.0, 0.0, 0.0];
const Z: [f64; 3] = [0.0, 0.0, 1.0];

/// A ring of one edge at a height, as vertex, circle and edge.
fn rim(file: &mut File, radius: f64, z: f64) -> (u64, u64) {
    let frame = file.frame([0.0, 0.0, z], Z, X);
    let circle = file.circle(frame, radius);
    let vertex = file.vertex([radius, 0.0, z]);
    (vertex, file.edge(vertex, vertex, circle, true))
}

fn disc(file: &mut File, edge: u64, z: f64, up: bool) -> u64 {
    let frame = file.frame([0.0, 0.0, z], Z, X);
    let plane = file.add(&format!("PLANE('',#{frame})"));
    let ring = file.edge_loop(&[(edge, up)]);
    file.face(plane, up, &[ring])
}

/// A wall between two rims, with a seam edge or with two loops that run around.
fn capped(
    file: &mut File,
    surface: u64,
    (r0, z0): (f64, f64),
    (r1, z1): (f64, f64),
    seam: bool,
) -> u64 {
    let (low, low_edge) = rim(file, r0, z0);
    let (high, high_edge) = rim(file, r1, z1);
    let wall = if seam {
        let line = file.line([r0, 0.0, z0], [r1, 0.0, z1]);
        let line = file.edge(low, high, line, true);
        let around =
            file.edge_loop(&[(low_edge, true), (line, true), (high_edge, false), (line, false)]);
        file.face(surface, true, &[around])
    } else {
        let low = file.edge_loop(&[(low_edge, true)]);
        let high = file.edge_loop(&[(high_edge, false)]);
        file.face(surface, true, &[low, high])
    };
    let (bottom, top) = (disc(file, low_edge, z0, false), disc(file, high_edge, z1, true));
    file.solid("body", &[wall, bottom, top])
}

#[test]
fn cylinder_with_and_without_a_seam() {
    for seam in [true, false] {
        let mut file = File::default();
        let frame = file.frame([0.0, 0.0, -4.0], Z, X);
        let surface = file.add(&format!("CYLINDRICAL_SURFACE('',#{frame},5.)"));
        let solid = capped(&mut file, surface, (5.0, 1.0), (5.0, 31.0), seam);
        let body = only_body(&file.part(&[solid]), chord(5.0));
        holds(&body, PI * 25.0 * 30.0, TAU * 5.0 * 30.0 + TAU * 25.0);
        assert_eq!(body.name, "body");
    }
}

#[test]
fn the_mesh_lies_within_the_stated_deviation_of_a_cylinder_and_nearly_reaches_it() {
    let mut file = File::default();
    let frame = file.frame([0.0; 3], Z, X);
    let surface = file.add(&format!("CYLINDRICAL_SURFACE('',#{frame},5.)"));
    let solid = capped(&mut file, surface, (5.0, 0.0), (5.0, 3.0), true);
    let body = only_body(&file.part(&[solid]), 0.05);
    let mut most: f64 = 0.0;
    for index in 0..body.mesh.triangles.len() {
        let [a, b, c] = body.mesh.corners(index);
        if (a.z - b.z).abs() < 1e-9 && (b.z - c.z).abs() < 1e-9 {
            continue;
        }
        for middle in [nalgebra::center(&a, &b), nalgebra::center(&b, &c), nalgebra::center(&c, &a)]
        {
            most = most.max((5.0 - middle.x.hypot(middle.y)).abs());
        }
    }
    assert!(most <= stated(&body), "{most} {}", stated(&body));
    assert!(most > 0.05 * stated(&body), "{most} {}", stated(&body));
}

#[test]
fn frustum_and_cone_with_an_apex() {
    let mut file = File::default();
    let frame = file.frame([0.0; 3], Z, X);
    let angle = (0.2_f64).atan();
    let surface = file.add(&format!("CONICAL_SURFACE('',#{frame},4.,{angle:?})"));
    let solid = capped(&mut file, surface, (4.0, 0.0), (6.0, 10.0), false);
    let body = only_body(&file.part(&[solid]), chord(4.0));
    let slant = 104.0_f64.sqrt();
    let area = PI * (10.0 * slant + 16.0 + 36.0);
    holds(&body, PI * 10.0 / 3.0 * (16.0 + 24.0 + 36.0), area);

    // With an apex: the face has one loop, and beside it a vertex loop.
    for vertex_loop in [false, true] {
        let mut file = File::default();
        let frame = file.frame([0.0; 3], [0.0, 0.0, -1.0], X);
        let surface = file.add(&format!("CONICAL_SURFACE('',#{frame},6.,{:?})", 0.6_f64.atan()));
        let (_, edge) = rim(&mut file, 6.0, 0.0);
        let mut loops = vec![file.edge_loop(&[(edge, true)])];
        if vertex_loop {
            let apex = file.vertex([0.0, 0.0, 10.0]);
            loops.push(file.add(&format!("VERTEX_LOOP('',#{apex})")));
        }
        let wall = file.face(surface, true, &loops);
        let bottom = disc(&mut file, edge, 0.0, false);
        let solid = file.solid("", &[wall, bottom]);
        let body = only_body(&file.part(&[solid]), chord(6.0));
        holds(&body, PI * 36.0 * 10.0 / 3.0, PI * 6.0 * (6.0 + 136.0_f64.sqrt()));
    }
}

#[test]
fn sphere_by_a_vertex_loop_by_its_seam_and_by_halves() {
    let sphere = |file: &mut File| {
        let frame = file.frame([1.0, 2.0, 3.0], Z, X);
        file.add(&format!("SPHERICAL_SURFACE('',#{frame},7.)"))
    };
    let (volume, area) = (4.0 / 3.0 * PI * 343.0, 4.0 * PI * 49.0);
    // A vertex loop.
    let mut file = File::default();
    let surface = sphere(&mut file);
    let pole = file.vertex([1.0, 2.0, 10.0]);
    let at = file.add(&format!("VERTEX_LOOP('',#{pole})"));
    let face = file.face(surface, true, &[at]);
    let solid = file.solid("", &[face]);
    holds(&only_body(&file.part(&[solid]), chord(7.0)), volume, area);
    // A seam from pole to pole, run both ways.
    let mut file = File::default();
    let surface = sphere(&mut file);
    let (south, north) = (file.vertex([1.0, 2.0, -4.0]), file.vertex([1.0, 2.0, 10.0]));
    let frame = file.frame([1.0, 2.0, 3.0], [0.0, -1.0, 0.0], X);
    let circle = file.circle(frame, 7.0);
    let seam = file.edge(south, north, circle, true);
    let around = file.edge_loop(&[(seam, true), (seam, false)]);
    let face = file.face(surface, true, &[around]);
    let solid = file.solid("", &[face]);
    holds(&only_body(&file.part(&[solid]), chord(7.0)), volume, area);
    // Two halves that meet in a meridian circle through both poles, with no vertex at a pole.
    let mut file = File::default();
    let surface = sphere(&mut file);
    let frame = file.frame([1.0, 2.0, 3.0], [0.0, 1.0, 0.0], X);
    let circle = file.circle(frame, 7.0);
    let start = file.vertex([8.0, 2.0, 3.0]);
    let edge = file.edge(start, start, circle, true);
    let one = file.edge_loop(&[(edge, true)]);
    let other = file.edge_loop(&[(edge, false)]);
    let faces = [file.face(surface, true, &[one]), file.face(surface, true, &[other])];
    let solid = file.solid("", &faces);
    holds(&only_body(&file.part(&[solid]), chord(7.0)), volume, area);
}

#[test]
fn torus_whole_by_its_seams_and_in_two_rings() {
    let (volume, area) = (2.0 * PI * PI * 10.0 * 9.0, 4.0 * PI * PI * 10.0 * 3.0);
    let torus = |file: &mut File| {
        let frame = file.frame([0.0; 3], Z, X);
        file.add(&format!("TOROIDAL_SURFACE('',#{frame},10.,3.)"))
    };
    let mut file = File::default();
    let surface = torus(&mut file);
    let start = file.vertex([13.0, 0.0, 0.0]);
    let frame = file.frame([0.0; 3], Z, X);
    let large = file.circle(frame, 13.0);
    let frame = file.frame([10.0, 0.0, 0.0], [0.0, -1.0, 0.0], X);
    let small = file.circle(frame, 3.0);
    let (large, small) =
        (file.edge(start, start, large, true), file.edge(start, start, small, true));
    let around = file.edge_loop(&[(large, true), (small, true), (large, false), (small, false)]);
    let face = file.face(surface, true, &[around]);
    let solid = file.solid("", &[face]);
    holds(&only_body(&file.part(&[solid]), 0.01), volume, area);
    // Upper and lower half, and then inner and outer along the other parameter.
    let mut file = File::default();
    let surface = torus(&mut file);
    let (_, outer) = rim(&mut file, 13.0, 0.0);
    let (_, inner) = rim(&mut file, 7.0, 0.0);
    let faces = [true, false].map(|up| {
        let loops = [file.edge_loop(&[(outer, up)]), file.edge_loop(&[(inner, !up)])];
        file.face(surface, true, &loops)
    });
    let solid = file.solid("", &faces);
    holds(&only_body(&file.part(&[solid]), 0.01), volume, area);
    let mut file = File::default();
    let surface = torus(&mut file);
    let rings = [1.0, -1.0].map(|side| {
        let frame = file.frame([10.0 * side, 0.0, 0.0], [0.0, -side, 0.0], [side, 0.0, 0.0]);
        let circle = file.circle(frame, 3.0);
        let start = file.vertex([13.0 * side, 0.0, 0.0]);
        file.edge(start, start, circle, true)
    });
    let faces = [false, true].map(|forward| {
        let loops =
            [file.edge_loop(&[(rings[0], forward)]), file.edge_loop(&[(rings[1], !forward)])];
        file.face(surface, true, &loops)
    });
    let solid = file.solid("", &faces);
    holds(&only_body(&file.part(&[solid]), 0.01), volume, area);
}

/// A lemon: the inner sheet of a torus whose section is wider than its ring.
#[test]
fn degenerate_torus() {
    for outer in [false, true] {
        let (a, b) = (3.0_f64, 5.0_f64);
        let mut file = File::default();
        let frame = file.frame([0.0; 3], Z, X);
        let flag = if outer { ".T." } else { ".F." };
        let surface =
            file.add(&format!("DEGENERATE_TOROIDAL_SURFACE('',#{frame},{a:?},{b:?},{flag})"));
        let pole = file.vertex([0.0, 0.0, 4.0]);
        let at = file.add(&format!("VERTEX_LOOP('',#{pole})"));
        // On the inner sheet du cross dv points inward.
        let face = file.face(surface, outer, &[at]);
        let solid = file.solid("", &[face]);
        let body = only_body(&file.part(&[solid]), 0.01);
        // Pappus over the section: where the section's cosine is above -a/b, or below it.
        let half = (-a / b).acos();
        let range = if outer { (-half, half) } else { (half, TAU - half) };
        let n = 200_000;
        let (mut volume, mut area) = (0.0, 0.0);
        for i in 0..n {
            let v = range.0 + (range.1 - range.0) * (f64::from(i) + 0.5) / f64::from(n);
            let dv = (range.1 - range.0) / f64::from(n);
            let q = (a + b * v.cos()).abs();
            volume += PI * q * q * (b * v.cos() * dv);
            area += TAU * q * b * dv;
        }
        holds(&body, volume.abs(), area);
    }
}

/// A quarter turn of a circle as a rational spline: `points` then `weights`, from +x to +y.
fn quarter(radius: f64) -> [([f64; 2], f64); 3] {
    [([radius, 0.0], 1.0), ([radius, radius], 0.5_f64.sqrt()), ([0.0, radius], 1.0)]
}

/// A cylinder's wall of four rational spline faces, with edges that are rational splines as well.
#[test]
fn rational_splines_make_a_cylinder() {
    let (radius, height) = (5.0, 8.0);
    let mut file = File::default();
    let turn = |i: usize, [x, y]: [f64; 2]| match i {
        0 => [x, y],
        1 => [-y, x],
        2 => [-x, -y],
        _ => [y, -x],
    };
    let corner = |file: &mut File, i: usize, z: f64| {
        let [x, y] = turn(i, [radius, 0.0]);
        file.vertex([x, y, z])
    };
    let low: Vec<u64> = (0..4).map(|i| corner(&mut file, i, 0.0)).collect();
    let high: Vec<u64> = (0..4).map(|i| corner(&mut file, i, height)).collect();
    let mut rims: [Vec<u64>; 2] = [Vec::new(), Vec::new()];
    for (rim, (z, corners)) in rims.iter_mut().zip([(0.0, &low), (height, &high)]) {
        for i in 0..4 {
            let points: Vec<u64> = quarter(radius)
                .iter()
                .map(|(p, _)| {
                    let [x, y] = turn(i, *p);
                    file.point([x, y, z])
                })
                .collect();
            let curve = file.add(&format!(
                "(BOUNDED_CURVE()B_SPLINE_CURVE(2,({}),.UNSPECIFIED.,.F.,.F.)\
                 B_SPLINE_CURVE_WITH_KNOTS((3,3),(0.,1.),.UNSPECIFIED.)CURVE()\
                 GEOMETRIC_REPRESENTATION_ITEM()RATIONAL_B_SPLINE_CURVE((1.,{:?},1.))\
                 REPRESENTATION_ITEM(''))",
                list(&points),
                0.5_f64.sqrt()
            ));
            rim.push(file.edge(corners[i], corners[(i + 1) % 4], curve, true));
        }
    }
    let uprights: Vec<u64> = (0..4)
        .map(|i| {
            let [x, y] = turn(i, [radius, 0.0]);
            let line = file.line([x, y, 0.0], [x, y, height]);
            file.edge(low[i], high[i], line, true)
        })
        .collect();
    let mut faces = Vec::new();
    for i in 0..4 {
        let rows: Vec<String> = quarter(radius)
            .iter()
            .map(|(p, _)| {
                let [x, y] = turn(i, *p);
                let (a, b) = (file.point([x, y, 0.0]), file.point([x, y, height]));
                format!("(#{a},#{b})")
            })
            .collect();
        let w = 0.5_f64.sqrt();
        let surface = file.add(&format!(
            "(BOUNDED_SURFACE()B_SPLINE_SURFACE(2,1,({}),.UNSPECIFIED.,.F.,.F.,.F.)\
             B_SPLINE_SURFACE_WITH_KNOTS((3,3),(2,2),(0.,1.),(0.,1.),.UNSPECIFIED.)\
             GEOMETRIC_REPRESENTATION_ITEM()\
             RATIONAL_B_SPLINE_SURFACE(((1.,1.),({w:?},{w:?}),(1.,1.)))\
             REPRESENTATION_ITEM('')SURFACE())",
            rows.join(",")
        ));
        let around = file.edge_loop(&[
            (rims[0][i], true),
            (uprights[(i + 1) % 4], true),
            (rims[1][i], false),
            (uprights[i], false),
        ]);
        faces.push(file.face(surface, true, &[around]));
    }
    for (z, up) in [(0.0, false), (height, true)] {
        let frame = file.frame([0.0, 0.0, z], Z, X);
        let plane = file.add(&format!("PLANE('',#{frame})"));
        let rim = &rims[usize::from(up)];
        let mut edges: Vec<(u64, bool)> = rim.iter().map(|e| (*e, up)).collect();
        if !up {
            edges.reverse();
        }
        let around = file.edge_loop(&edges);
        faces.push(file.face(plane, up, &[around]));
    }
    let solid = file.solid("", &faces);
    let body = only_body(&file.part(&[solid]), 0.005);
    holds(&body, PI * 25.0 * height, TAU * radius * height + TAU * 25.0);
}

/// A paraboloid's cup: a parabola that is turned, closed by a disc.
#[test]
fn revolution_of_a_trimmed_parabola() {
    // r = 2 f t and z = f t^2 with f = 2: at t = 1.5 the radius is 6 and the height 4.5.
    let mut file = File::default();
    let frame = file.frame([0.0; 3], [0.0, -1.0, 0.0], Z);
    let parabola = file.add(&format!("PARABOLA('',#{frame},2.)"));
    let trimmed = file.add(&format!(
        "TRIMMED_CURVE('',#{parabola},(PARAMETER_VALUE(0.)),(PARAMETER_VALUE(1.5)),.T.,.PARAMETER.)"
    ));
    let (origin, axis) = (file.point([0.0; 3]), file.direction(Z));
    let axis = file.add(&format!("AXIS1_PLACEMENT('',#{origin},#{axis})"));
    let surface = file.add(&format!("SURFACE_OF_REVOLUTION('',#{trimmed},#{axis})"));
    let (_, edge) = rim(&mut file, 6.0, 4.5);
    let ring = file.edge_loop(&[(edge, false)]);
    let wall = file.face(surface, true, &[ring]);
    let top = disc(&mut file, edge, 4.5, true);
    let solid = file.solid("", &[wall, top]);
    let body = only_body(&file.part(&[solid]), 0.01);
    // Half of the cylinder around it; the area by integrating.
    let area: f64 = PI / 6.0 * 6.0 / 4.5_f64.powi(2) * ((36.0 + 4.0 * 20.25_f64).powf(1.5) - 216.0);
    holds(&body, PI * 36.0 * 4.5 / 2.0, area + PI * 36.0);
}

/// Revolutions and extrusions that are elementary surfaces under another name.
#[test]
fn revolved_and_moved_lines_and_circles() {
    // A line turned about the axis, parallel to it.
    let mut file = File::default();
    let line = file.line([5.0, 0.0, 0.0], [5.0, 0.0, 1.0]);
    let (origin, axis) = (file.point([0.0; 3]), file.direction(Z));
    let axis = file.add(&format!("AXIS1_PLACEMENT('',#{origin},#{axis})"));
    let surface = file.add(&format!("SURFACE_OF_REVOLUTION('',#{line},#{axis})"));
    let solid = capped(&mut file, surface, (5.0, 0.0), (5.0, 10.0), true);
    holds(&only_body(&file.part(&[solid]), chord(5.0)), PI * 250.0, TAU * 75.0);
    // A slanted one: a frustum.
    let mut file = File::default();
    let line = file.line([4.0, 0.0, 0.0], [6.0, 0.0, 10.0]);
    let (origin, axis) = (file.point([0.0; 3]), file.direction(Z));
    let axis = file.add(&format!("AXIS1_PLACEMENT('',#{origin},#{axis})"));
    let surface = file.add(&format!("SURFACE_OF_REVOLUTION('',#{line},#{axis})"));
    let solid = capped(&mut file, surface, (4.0, 0.0), (6.0, 10.0), false);
    let area = PI * (10.0 * 104.0_f64.sqrt() + 52.0);
    holds(&only_body(&file.part(&[solid]), chord(4.0)), PI * 760.0 / 3.0, area);
    // A skew line: a hyperboloid of one sheet. r^2 = 9 + (z tan)^2 with tan = 0.5.
    let mut file = File::default();
    let line = file.line([3.0, 0.0, 0.0], [3.0, 0.5, 1.0]);
    let (origin, axis) = (file.point([0.0; 3]), file.direction(Z));
    let axis = file.add(&format!("AXIS1_PLACEMENT('',#{origin},#{axis})"));
    let surface = file.add(&format!("SURFACE_OF_REVOLUTION('',#{line},#{axis})"));
    let solid = capped(&mut file, surface, (5.0, -8.0), (5.0, 8.0), false);
    let volume = PI * (9.0 * 16.0 + 0.25 * 2.0 * 512.0 / 3.0);
    let body = only_body(&file.part(&[solid]), 0.005);
    let slack = stated(&body) * 800.0;
    assert!((solids::volume(&body.mesh) - volume).abs() < slack, "{}", solids::volume(&body.mesh));
    // A circle moved along its axis.
    let mut file = File::default();
    let frame = file.frame([0.0, 0.0, 2.0], Z, X);
    let circle = file.circle(frame, 5.0);
    let along = file.direction(Z);
    let vector = file.add(&format!("VECTOR('',#{along},3.)"));
    let surface = file.add(&format!("SURFACE_OF_LINEAR_EXTRUSION('',#{circle},#{vector})"));
    let solid = capped(&mut file, surface, (5.0, 0.0), (5.0, 10.0), true);
    holds(&only_body(&file.part(&[solid]), chord(5.0)), PI * 250.0, TAU * 75.0);
}

/// A rod with an elliptic section: an ellipse moved square to itself.
#[test]
fn extrusion_of_an_ellipse_and_an_offset_of_one() {
    let (a, b, height) = (6.0, 3.0, 10.0);
    for offset in [0.0, 0.5] {
        let mut file = File::default();
        let frame = file.frame([0.0; 3], Z, X);
        let ellipse = file.add(&format!("ELLIPSE('',#{frame},{a:?},{b:?})"));
        let along = file.direction(Z);
        let vector = file.add(&format!("VECTOR('',#{along},1.)"));
        let mut surface =
            file.add(&format!("SURFACE_OF_LINEAR_EXTRUSION('',#{ellipse},#{vector})"));
        if offset > 0.0 {
            surface = file.add(&format!("OFFSET_SURFACE('',#{surface},{offset:?},.F.)"));
        }
        // The rims: the ellipse, or its parallel curve as a spline through many of its points.
        let rims = [0.0, height].map(|z| {
            let curve = if offset > 0.0 {
                let n = 4000;
                let points: Vec<u64> = (0..=n)
                    .map(|i| {
                        let (s, c) = (TAU * f64::from(i % n) / f64::from(n)).sin_cos();
                        let out = (b * c).hypot(a * s);
                        file.point([a * c + offset * b * c / out, b * s + offset * a * s / out, z])
                    })
                    .collect();
                file.add(&format!("POLYLINE('',({}))", list(&points)))
            } else {
                let frame = file.frame([0.0, 0.0, z], Z, X);
                file.add(&format!("ELLIPSE('',#{frame},{a:?},{b:?})"))
            };
            let start = file.vertex([a + offset, 0.0, z]);
            file.edge(start, start, curve, true)
        });
        let loops = [file.edge_loop(&[(rims[0], true)]), file.edge_loop(&[(rims[1], false)])];
        let wall = file.face(surface, true, &loops);
        let (bottom, top) =
            (disc(&mut file, rims[0], 0.0, false), disc(&mut file, rims[1], height, true));
        let solid = file.solid("", &[wall, bottom, top]);
        let body = only_body(&file.part(&[solid]), 0.02);
        // Steiner: the parallel region adds the perimeter times the offset and a disc.
        let n = 100_000;
        let perimeter: f64 = (0..n)
            .map(|i| {
                let (s, c) = (TAU * (f64::from(i) + 0.5) / f64::from(n)).sin_cos();
                (a * s).hypot(b * c) * TAU / f64::from(n)
            })
            .sum();
        let section = PI * a * b + perimeter * offset + PI * offset * offset;
        let around = perimeter + TAU * offset;
        holds(&body, section * height, around * height + 2.0 * section);
    }
}

/// A block of polygons, with a block within it as a void.
#[test]
fn faceted_block_with_a_void() {
    let mut file = File::default();
    let mut block = |low: f64, high: f64| {
        let at = |i: usize, bit: usize| if i >> bit & 1 == 1 { high } else { low };
        let corners: Vec<u64> =
            (0..8).map(|i| file.point([at(i, 0), at(i, 1), at(i, 2)])).collect();
        let sides =
            [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
        let faces: Vec<u64> = sides
            .iter()
            .map(|side| {
                let corners: Vec<u64> = side.iter().map(|i| corners[*i]).collect();
                let poly = file.add(&format!("POLY_LOOP('',({}))", list(&corners)));
                let bound = file.add(&format!("FACE_OUTER_BOUND('',#{poly},.T.)"));
                file.add(&format!("FACE('',(#{bound}))"))
            })
            .collect();
        file.add(&format!("CLOSED_SHELL('',({}))", list(&faces)))
    };
    let (outer, inner) = (block(0.0, 10.0), block(2.0, 5.0));
    let void = file.add(&format!("ORIENTED_CLOSED_SHELL('',*,#{inner},.F.)"));
    let solid = file.add(&format!("BREP_WITH_VOIDS('hollow',#{outer},(#{void}))"));
    let body = only_body(&file.part(&[solid]), 0.1);
    holds(&body, 1000.0 - 27.0, 600.0 + 54.0);
    assert_eq!(body.turned_shells, 0);
    assert_eq!(body.kind, step::BodyKind::SolidWithVoids);
}

/// A plate with a hole, one face of it missing: never sound.
#[test]
fn an_open_shell_is_never_sound() {
    let mut file = File::default();
    let (_, edge) = rim(&mut file, 5.0, 0.0);
    let face = disc(&mut file, edge, 0.0, true);
    let shell = file.add(&format!("OPEN_SHELL('',(#{face}))"));
    let surfaces = file.add(&format!("SHELL_BASED_SURFACE_MODEL('',(#{shell}))"));
    let model = file.part(&[surfaces]).model(Accuracy::default());
    assert_eq!(model.bodies.len(), 1);
    assert!(!model.bodies[0].is_sound() && !model.is_whole());
    assert!((solids::area(&model.bodies[0].mesh) / (PI * 25.0) - 1.0).abs() < 1e-3);
    assert!(model.bodies[0].lost.is_empty());
}

/// Inside out in the file: turned, and told.
#[test]
fn a_solid_inside_out_is_turned_and_told() {
    let mut file = File::default();
    let frame = file.frame([0.0; 3], Z, X);
    let surface = file.add(&format!("SPHERICAL_SURFACE('',#{frame},7.)"));
    let pole = file.vertex([0.0, 0.0, 7.0]);
    let at = file.add(&format!("VERTEX_LOOP('',#{pole})"));
    let face = file.face(surface, false, &[at]);
    let solid = file.solid("", &[face]);
    let body = only_body(&file.part(&[solid]), chord(7.0));
    holds(&body, 4.0 / 3.0 * PI * 343.0, 4.0 * PI * 49.0);
    assert_eq!(body.turned_shells, 1);
}
