//! The bar on its links against a space frame solved by `PyNite`, as recorded by
//! `tests/outside/bar_frame`; rails against plates in plane stress and pins against beams in holes that
//! only press, as recorded by `tests/outside/bar_and_pin`.

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

/// Sixteen rails as plates in plane stress, block and saddles with their lengths. The model error of
/// bending and shear together: never less than the plate, and up to 4 % more, since a load on a length bends
/// a beam less than one on a point. Bending alone falls short of it.
#[test]
fn bending_and_shear_together_are_a_plates_within_four_percent() {
    let (mut rows, mut greatest) = (0, 0.0_f64);
    for line in include_str!("../outside/bar_and_pin/bars.csv").lines() {
        let row: Vec<f64> = line.split(',').map(|v| v.parse().unwrap()).collect();
        let [span, rail_width, rail_height, along, load, rises] = row[..].try_into().unwrap();
        let mm = |value: f64| Bounds::exactly(Length::from_mm(value));
        let (span, rail_width, rail_height) = (mm(span), mm(rail_width), mm(rail_height));
        let (slot, along, across) = (mm(40.0), mm(along), mm(0.0));
        let bar = Bar { span, rail_width, rail_height, slot, along, across };
        let load = Bounds::exactly(Force::from_newtons(load));
        let of = |mpa: f64| Bounds::exactly(Stress::from_mpa(mpa));
        let bends = bar.deflection_at_screw(load, of(200e3)).middle().mm();
        let shears = bar.shear_deflection(load, of(200e3 / 2.6)).middle().mm();
        let off = (bends + shears) / rises - 1.0;
        assert!((0.0..0.04).contains(&off), "{line}: {off}");
        assert!(bends < rises, "{line}: {bends}");
        greatest = greatest.max(shears / rises);
        rows += 1;
    }
    assert_eq!(rows, 16);
    // The comparison sees shear.
    assert!(greatest > 0.05, "{greatest}");
}

/// Sixty pins in beds from soft to stiff. The share of either link lies within what is told, and no pin is
/// bent more than by links that bear at their middles.
#[test]
fn the_links_shares_and_the_pins_moment_are_bounds_for_pins_that_bed_anyhow() {
    let (mut rows, mut outside_levers, mut greatest) = (0, 0, 0.0_f64);
    for line in include_str!("../outside/bar_and_pin/pins.csv").lines() {
        let row: Vec<f64> = line.split(',').map(|v| v.parse().unwrap()).collect();
        let [_, stem, inside, outside, apart, off, _] = row[..7].try_into().unwrap();
        let [of_inside, moment] = row[7..].try_into().unwrap();
        let mm = |value: f64| Bounds::exactly(Length::from_mm(value));
        let links =
            LinkPair { inside: mm(inside), outside: mm(outside), apart: mm(apart), off: mm(off) };
        assert_eq!(links.faults(mm(stem)), []);
        let told = [links.inside_share(), links.outside_share()].map(Bounds::interval);
        // The springs stand at finite distances.
        for (told, found) in told.into_iter().zip([of_inside, 1.0 - of_inside]) {
            assert!(told.widened(1e-4).contains(found), "{line}: {told:?} and {found}");
        }
        let by_middles = 0.5 - links.lean().middle().mm() / links.middles().middle().mm();
        let by_faces = 0.5 - off / apart;
        let within = f64::min(by_middles, by_faces)..=f64::max(by_middles, by_faces);
        outside_levers += usize::from(!within.contains(&of_inside));
        let pull = Bounds::exactly(Force::from_newtons(1.0));
        let most = links.pin_moment(pull, mm(stem)).high().newton_mm();
        assert!(moment <= most, "{line}: {moment} and {most}");
        greatest = greatest.max(moment / most);
        rows += 1;
    }
    assert_eq!(rows, 60);
    // Without what is told for uneven beds some shares would lie outside, and no pin comes near no moment.
    assert!(outside_levers > 10 && greatest > 0.8, "{outside_levers} {greatest}");
}
