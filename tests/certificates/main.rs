//! Certificates made by hand on a car top built of boxes, falsified ones, each with the fault that
//! it must be refused for, and placements that the program found.

#![expect(clippy::unwrap_used, reason = "a test stops where its own set-up fails")]

#[path = "../verdicts/support/chance.rs"]
mod chance;
mod falsified;
mod placements;
#[path = "../verdicts/support/sample_car.rs"]
#[expect(dead_code, reason = "the tests of the verdicts use more of it")]
mod sample_car;
#[path = "../verdicts/support/sample_kit.rs"]
mod sample_kit;
mod workshop;

use assembly::Placement;
use assembly::kit::PartKind;
use assembly::rig;
use chance::Chance;
use fitup::{Scene, Situation, assess};
use measure::Angle;
use nalgebra::Vector2;
use review::proof::{Certificate, Node, Sense};
use workshop::Workshop;

/// The sum of two rooms on opposite sides is the same wherever the cup stands: one cell proves it.
#[test]
fn a_fitting_too_wide_is_proven_with_one_cell() {
    let shop = Workshop::wide();
    for sense in [Sense::Low, Sense::High] {
        let certificate = shop.too_wide(sense);
        let found = shop.check(&certificate).unwrap();
        assert_eq!((found.cells, found.witnesses, found.deepest), (1, 2, 0));
        assert!((found.bound_mm - certificate.bound_mm).abs() < 1e-12);
        // Half the inside, less half the diagonal, less the need: 87.3 - 70 sqrt 2 - 2.
        let nominal = 87.3 - 70.0 * 2.0_f64.sqrt() - 2.0;
        let off = if sense == Sense::Low { -0.125 } else { 0.125 };
        assert!((found.bound_mm - nominal - off).abs() < 1e-9, "{}", found.bound_mm);
    }
}

/// A box cuts through the cup's wall wherever the cup can stand over the fitting.
#[test]
fn a_neighbour_in_the_way_is_proven_with_few_cells() {
    let shop = Workshop::crowded();
    for (levels, sense, bound) in [(2, Sense::Low, 2.5), (4, Sense::High, -1.0)] {
        let certificate = shop.in_the_way(levels, sense, bound);
        let found = shop.check(&certificate).unwrap();
        assert_eq!(found.cells, 1 << (2 * levels));
        assert_eq!(found.witnesses, found.cells);
        assert_eq!(found.deepest, 2 * levels);
        assert!(found.bound_mm <= bound + 1e-9 && found.bound_mm > bound - 3.0);
    }
}

/// The fitting stands too far beside the ports for the bar to come over the cup.
#[test]
fn a_cup_off_the_line_is_proven_by_the_tolerance() {
    let shop = Workshop::aside();
    let certificate = shop.off_the_line();
    let found = shop.check(&certificate).unwrap();
    assert_eq!(found.cells, 1);
    assert!(found.bound_mm.is_infinite() && found.bound_mm < 0.0);
}

/// Holes that differ put the bar out of level; where they do not, the fitting is too wide.
#[test]
fn cells_choose_among_holes() {
    let shop = Workshop::wide();
    let certificate = shop.by_holes();
    let found = shop.check(&certificate).unwrap();
    assert_eq!((found.cells, found.deepest), (16, 2));
}

/// A gap can never be wider than the distance of two points of the parts.
#[test]
fn two_points_bound_a_gap() {
    let shop = Workshop::crowded();
    let found = shop.check(&shop.two_points("foot at A", "car:neighbour")).unwrap();
    assert!(found.bound_mm > 100.0);
}

/// Wherever the cup stands, its rim is as high above the plate as the gasket is thick but for its
/// groove; a rectangle proves it in one cell.
#[test]
fn a_rectangle_bounds_a_gap_along_a_face() {
    let shop = Workshop::crowded();
    let [low, high] = [Sense::Low, Sense::High].map(|sense| {
        let found = shop.check(&Certificate { sense, ..shop.over_the_plate() }).unwrap();
        assert_eq!(found.cells, 1);
        found.bound_mm
    });
    let gasket = shop.kit.gaskets.iter().find(|g| g.name == shop.kit.cups[1].gasket).unwrap();
    let rim = gasket.thickness.nominal - gasket.groove_depth.nominal;
    let need = shop.kit.rules.need(PartKind::Cup, PartKind::Plate);
    // Half a millimetre under the face; the deviations count either way.
    assert!(low < high && (f64::midpoint(low, high) - (rim + 0.5 - need)).abs() < 1e-6, "{low}");
}

/// Placements drawn by chance in the space of a certificate never do better than it says.
#[test]
fn no_placement_does_better_than_its_certificate() {
    let mut chance = Chance::new(11);
    for (shop, certificate) in [
        (Workshop::crowded(), Workshop::crowded().in_the_way(2, Sense::Low, 2.5)),
        (Workshop::crowded(), Workshop::crowded().in_the_way(4, Sense::High, -1.0)),
        (Workshop::wide(), Workshop::wide().by_holes()),
    ] {
        let bound = shop.check(&certificate).unwrap().bound_mm;
        let scene = Scene::new(&shop.car, &shop.kit).unwrap();
        let choice = shop.choice();
        let mut kept_all = 0;
        for _ in 0..60 {
            let mut draw =
                |k: usize| chance.between(certificate.space.low[k], certificate.space.high[k]);
            let v = [0, 1, 2, 3, 4, 5, 6].map(&mut draw);
            let (plain, hole) = (chance.happens(0.8), chance.below(4));
            let mut placement = Placement {
                cup_offset: Vector2::new(v[0], v[1]),
                outlet_bearing: Angle::from_radians(v[2]),
                elbow_turn: shop.kit.outlet.elbow_turns[0],
                // Mostly with the bar's line over the cup and level; the ports face apart.
                foot_shift: if plain { [v[1], -v[1]] } else { [v[3], v[4]] },
                link_thickness: [[chance.below(3), chance.below(3)]; 2],
                link_hole: if plain { [hole; 2] } else { [hole, chance.below(4)] },
                bar_slide: v[5],
                screw_extension: 0.0,
                lid_opening: Angle::ZERO,
            };
            let pose = rig::pose(&shop.kit, &shop.car, &choice, &placement).unwrap();
            placement.screw_extension = pose.extension_to_seat;
            let found = assess(&Situation::new(&scene, &choice, &placement).unwrap());
            let low = certificate.sense == Sense::Low;
            let end = |m: &fitup::Margin| if low { m.margin.low } else { m.margin.high };
            let all = || found.outcomes.iter().flat_map(|o| &o.margins);
            let kept = all()
                .filter(|m| m.rule.is_tolerance() && m.rule != fitup::Rule::Contact)
                .all(|m| end(m) >= 0.0);
            let least =
                all().filter(|m| !m.rule.is_tolerance()).map(end).fold(f64::INFINITY, f64::min);
            kept_all += usize::from(kept);
            assert!(!kept || least <= bound + 1e-9, "{least} above {bound}: {placement:?}");
        }
        assert!(kept_all >= 20, "only {kept_all} keep the tolerances");
    }
}

/// Deep chains of halves are no trouble.
#[test]
fn a_long_chain_of_halves_is_gone_through() {
    let shop = Workshop::wide();
    let mut certificate = shop.too_wide(Sense::Low);
    let leaf = certificate.nodes[0].clone();
    certificate.nodes.clear();
    for _ in 0..20_000 {
        certificate.nodes.extend([Node::Halve(0), leaf.clone()]);
    }
    certificate.nodes.push(leaf);
    assert_eq!(shop.check(&certificate).unwrap().deepest, 20_000);
}

/// The written form reads back as it was.
#[test]
fn a_certificate_reads_back() {
    for certificate in
        [Workshop::wide().by_holes(), Workshop::crowded().in_the_way(1, Sense::Low, 9.0)]
    {
        let text = serde_json::to_string(&certificate).unwrap();
        assert_eq!(serde_json::from_str::<Certificate>(&text).unwrap(), certificate);
    }
}
