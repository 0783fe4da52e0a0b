//! The bar on its links against a space frame solved by `PyNite`, as recorded by
//! `tests/outside/bar_frame`.

use measure::{Bounds, Force, Length, Stress};
use sealing::{Bar, End, LinkPair};

fn assert_near(got: f64, want: f64, what: &str) {
    assert!((got - want).abs() <= 1e-7 * want.abs(), "{what}: {got} instead of {want}");
}

/// Forty bars of random sizes with the screw at random places. Statics and bending agree to seven
/// figures: both are the same theory, solved apart. The share of the more loaded rail is a bound,
/// never below the frame's and at most 5 % above.
#[test]
fn deflections_and_load_shares_agree_with_a_frame() {
    let mut rows = 0;
    for line in include_str!("../outside/bar_frame/recorded.csv").lines() {
        let row: Vec<f64> = line.split(',').map(|v| v.parse().unwrap()).collect();
        let [span, rail_width, rail_height, slot, along, across] = row[..6].try_into().unwrap();
        let [inside, outside, thickness_in, thickness_out, load] = row[6..11].try_into().unwrap();
        let [share, at_screw, most, of_inside, of_rail] = row[11..].try_into().unwrap();
        let mm = |value: f64| Bounds::exactly(Length::from_mm(value));
        let bar = Bar {
            span: mm(span),
            rail_width: mm(rail_width),
            rail_height: mm(rail_height),
            slot: mm(slot),
            along: mm(along),
            across: mm(across),
        };
        assert_eq!(bar.faults(), []);
        let load = Bounds::exactly(Force::from_newtons(load));
        let modulus = Bounds::exactly(Stress::from_mpa(200e3));
        assert_near(bar.end_share(End::A).middle(), share, "share of end A");
        assert_near(bar.end_share(End::B).middle(), 1.0 - share, "share of end B");
        let deflection = bar.deflection_at_screw(load, modulus).middle().mm();
        assert_near(deflection, at_screw, "deflection at the screw");
        assert_near(bar.deflection(load, modulus).middle().mm(), most, "greatest deflection");
        let apart = inside + outside - thickness_in.midpoint(thickness_out);
        let links = LinkPair {
            inside: mm(thickness_in),
            outside: mm(thickness_out),
            apart: mm(apart),
            off: mm(inside - thickness_in / 2.0 - apart / 2.0),
        };
        assert_near(links.middles().middle().mm(), inside + outside, "distance of the links");
        let at_middles = Bounds::exactly(0.5) - links.lean() / links.middles();
        assert_near(at_middles.middle(), of_inside, "share of the inside link");
        let bound = links.inside_share().interval().widened(1e-8);
        assert!(bound.contains(of_inside), "{bound:?} {of_inside}");
        // The frame's block bears in the rails' middles.
        let bound = bar.rail_share(bar.rail_distance()).middle();
        assert!(of_rail <= bound * (1.0 + 1e-7) && bound <= 1.05 * of_rail, "{bound} {of_rail}");
        rows += 1;
    }
    assert_eq!(rows, 40);
}
