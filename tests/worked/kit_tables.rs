//! Kit parts made from published dimensions show those dimensions when their meshes are measured.
//!
//! Sources: ASME B16.11 threaded elbows class 3000, read in a secondary copy of the table (NPS 1 and
//! 1 1/4) and from memory (NPS 2); ASME B36.10M outside diameters as in the data of the `fluids`
//! library from the Python index; ASME B18.2.2 heavy hex nuts, ASME B1.20.1 pipe threads and ASME B18.8.1 clevis
//! pins, each read in a secondary copy of the table; the pipe thread formulas from memory.

#[path = "../support/sample_kit.rs"]
mod sample_kit;

use assembly::kit::Dim;
use assembly::parts;
use nalgebra::{Point2, Point3, Unit, Vector3};
use sample_kit::{dim, sample_kit};
use solids::build::{ChordError, hexagonal_prism, revolve};
use solids::{Mesh, section};

const INCH: f64 = 25.4;
/// Meshes show their dimensions along the axes to rounding, mm.
const EXACT: f64 = 1e-9;

/// Least and greatest corner of a plane section.
fn section_box(mesh: &Mesh, at: Point3<f64>, normal: Unit<Vector3<f64>>) -> [Point3<f64>; 2] {
    let lines = section(mesh, &at, &normal);
    assert!(!lines.is_empty() && lines.iter().all(|l| l.closed));
    let points: Vec<_> = lines.into_iter().flat_map(|l| l.points).collect();
    let first = points[0];
    points.iter().fold([first, first], |[lo, hi], p| [lo.inf(p), hi.sup(p)])
}

fn assert_near(got: f64, want: f64, within: f64, what: &str) {
    assert!((got - want).abs() <= within, "{what}: {got} instead of {want}");
}

/// Nominal size, outside diameter of the pipe (B36.10M), elbow centre to end A and band H (B16.11),
/// mm.
const ELBOWS: [(&str, f64, f64, f64); 3] =
    [("1", 33.4, 44.0, 56.0), ("1 1/4", 42.2, 51.0, 62.0), ("2", 60.3, 64.0, 84.0)];

#[test]
fn an_outlet_of_standard_pipe_has_the_envelope_of_its_elbow() {
    for (size, pipe, a, h) in ELBOWS {
        let mut kit = sample_kit();
        let o = &mut kit.outlet;
        (o.pipe_diameter, o.elbow_centre_to_end, o.elbow_band) = (dim(pipe), dim(a), dim(h));
        // A valve unlike the elbow, and a short stem, so that sections below meet the run alone.
        o.valve_diameter = dim(h + 10.0);
        let (nipple, riser) = (o.port_nipple.nominal, o.riser_nipple.nominal);
        let mesh = parts::outlet(&kit).unwrap().mesh;
        let across_port = |x| section_box(&mesh, Point3::new(x, 0.0, 0.0), Vector3::x_axis());
        let across_riser = |z| section_box(&mesh, Point3::new(0.0, 0.0, z), Vector3::z_axis());

        let [lo, hi] = across_port(0.5 * nipple);
        assert_near(hi.y - lo.y, pipe, EXACT, size);
        assert_near(hi.z - lo.z, pipe, EXACT, size);
        let [lo, hi] = across_riser(a + 0.5 * riser);
        assert_near(hi.x - lo.x, pipe, EXACT, size);
        // The riser's axis stands A from the elbow's end on the port nipple.
        assert_near(0.5 * (lo.x + hi.x) - nipple, a, EXACT, size);

        // Bands: H across just inside both ends, pipe just outside.
        for (at, across) in [(nipple + 1e-3, h), (nipple - 1e-3, pipe)] {
            let [lo, hi] = across_port(at);
            assert_near(hi.y - lo.y, across, EXACT, size);
        }
        for (at, across) in [(a - 1e-3, h), (a + 1e-3, pipe)] {
            let [lo, hi] = across_riser(at);
            assert_near(hi.y - lo.y, across, EXACT, size);
        }
        // The heel of the elbow lies half a band below and beyond the axes.
        let (lo, _) = mesh.bounds().unwrap();
        assert_near(lo.z, -0.5 * h, EXACT, size);
        let [_, hi] = across_riser(0.0);
        assert_near(hi.x - nipple - a, 0.5 * h, EXACT, size);
    }
}

/// Heavy hex nuts, B18.2.2, greatest dimensions: nominal size, width across flats F, width across
/// corners G, thickness H, in.
const HEAVY_HEX_NUTS: [(&str, f64, f64, f64); 4] = [
    ("5/8", 1.062, 1.227, 0.631),
    ("3/4", 1.250, 1.443, 0.758),
    ("7/8", 1.438, 1.660, 0.885),
    ("1", 1.625, 1.876, 1.012),
];

#[test]
fn a_hexagonal_prism_is_a_heavy_hex_nut() {
    for (size, f, g, h) in HEAVY_HEX_NUTS {
        let mesh = hexagonal_prism(f * INCH, h * INCH).unwrap();
        let (lo, hi) = mesh.bounds().unwrap();
        assert_near((hi.y - lo.y) / INCH, f, EXACT, size);
        assert_near((hi.z - lo.z) / INCH, h, EXACT, size);
        // The table rounds G, and F before it, to three places.
        assert_near((hi.x - lo.x) / INCH, g, 0.0011, size);
        // Across flats the other two ways.
        for degrees in [30.0_f64, 150.0] {
            let (sin, cos) = degrees.to_radians().sin_cos();
            let reach = |p: &Point3<f64>| p.x * cos + p.y * sin;
            let far = mesh.vertices.iter().map(reach).fold(f64::NEG_INFINITY, f64::max);
            assert_near(2.0 * far / INCH, f, EXACT, size);
        }
    }
}

/// NPT, B1.20.1: nominal size, pipe outside diameter D, threads per inch, hand engagement L1,
/// effective length L2, pitch diameter E1 at L1, and E0 at the pipe's end by the formula, in.
const PIPE_THREADS: [(&str, f64, f64, f64, f64, f64, f64); 2] = [
    ("1", 1.315, 11.5, 0.400, 0.6828, 1.238_63, 1.213_63),
    ("2", 2.375, 11.5, 0.436, 0.7565, 2.296_27, 2.269_02),
];

#[test]
fn a_cone_of_pipe_thread_has_the_tables_pitch_diameters() {
    let chord = ChordError::from_mm(0.001).unwrap();
    for (size, d, per_inch, l1, l2, e1, e0) in PIPE_THREADS {
        let pitch = 1.0 / per_inch;
        // E0 = D - (0.05 D + 1.1) p; L2 = (0.8 D + 6.8) p; taper 1 in 16 on the diameter.
        let end = d - (0.05 * d + 1.1) * pitch;
        let effective = (0.8 * d + 6.8) * pitch;
        assert_near(end, e0, 5e-6, size);
        assert_near(effective, l2, 5e-5, size);
        let radius = |length: f64| 0.5 * (end + length / 16.0) * INCH;
        let cone = revolve(
            &[
                Point2::origin(),
                Point2::new(radius(0.0), 0.0),
                Point2::new(radius(effective), effective * INCH),
                Point2::new(0.0, effective * INCH),
            ],
            chord,
        )
        .unwrap();
        let at = Point3::new(0.0, 0.0, l1 * INCH);
        let [lo, hi] = section_box(&cone, at, Vector3::z_axis());
        assert_near((hi.x - lo.x) / INCH, e1, 5e-6, size);
        assert_near((hi.y - lo.y) / INCH, e1, 5e-6, size);
    }
}

#[test]
fn a_lower_pin_can_be_a_clevis_pin_of_five_eighths() {
    // B18.8.1, 5/8: greatest and least, in.
    let (shank, head, thickness, length) = ([0.621, 0.616], [0.82, 0.80], [0.21, 0.19], 1.61);
    let between = |[most, least]: [f64; 2]| Dim {
        nominal: 0.5 * (most + least) * INCH,
        tolerance: 0.5 * (most - least) * INCH,
    };
    let mut kit = sample_kit();
    let pin = &mut kit.lower_pin;
    (pin.diameter, pin.head_diameter) = (between(shank), between(head));
    pin.head_thickness = between(thickness);
    pin.length = Dim { nominal: length * INCH, tolerance: 0.0 };
    // Of its length of the table it reaches through links no thicker than these, and no thicker ones.
    let room = length * INCH - kit.foot.depth.nominal.max(kit.saddle.length.nominal);
    let link = |thickness: f64| Dim { nominal: thickness, tolerance: 0.0 };
    kit.link.thicknesses = vec![link(0.5 * room + 0.001)];
    let fault = parts::lower_pin(&kit, 0).unwrap_err().to_string();
    assert!(fault.contains("length must reach through the links"), "{fault}");
    kit.link.thicknesses = vec![link(0.5 * room), link(0.25 * room)];
    for (number, link) in kit.link.thicknesses.iter().enumerate() {
        let body = parts::lower_pin(&kit, number).unwrap();
        let under_head = parts::pin_head_offset(&kit, link.nominal);
        // The head bears on the outside link, which stands against the foot.
        assert_near(under_head, 0.5 * kit.foot.depth.nominal + link.nominal, EXACT, "head");
        let (lo, hi) = body.mesh.bounds().unwrap();
        assert_near((under_head - lo.x) / INCH, length, EXACT, "length under head");
        let across = |x: f64| {
            let [lo, hi] = section_box(&body.mesh, Point3::new(x, 0.0, 0.0), Vector3::x_axis());
            (hi.y - lo.y) / INCH
        };
        // Every pin within the standard's limits lies within the deviation of the mesh.
        let bound = body.deviation.bound / INCH;
        for (measured, [most, least]) in [
            (across(lo.x + 1e-3), shank),
            (across(under_head - 1e-3), shank),
            (across(under_head + 1e-3), head),
            ((hi.x - under_head) / INCH, thickness),
        ] {
            assert!(least < measured && measured < most, "{measured}");
            assert!(measured + 2.0 * bound >= most && measured - 2.0 * bound <= least);
        }
    }
}
