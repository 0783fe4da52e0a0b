//! Each falsified certificate is refused, and for what is wrong with it.

use crate::chance::Chance;
use crate::workshop::Workshop;
use recheck::Fault;
use review::proof::{Certificate, GapGround, Ground, Node, OverlapGround, RuleGround, Sense};

fn gap(certificate: &mut Certificate) -> &mut GapGround {
    let Ground::Gap(gap) = &mut certificate.witnesses[0].by else { unreachable!() };
    gap
}

fn overlap(certificate: &mut Certificate) -> &mut OverlapGround {
    let Ground::Overlap(overlap) = &mut certificate.witnesses[0].by else { unreachable!() };
    overlap
}

fn first_rule(certificate: &mut Certificate) -> &mut RuleGround {
    let Ground::Rule(rule) = &mut certificate.witnesses[0].by else { unreachable!() };
    rule
}

fn leaf(certificate: &mut Certificate) -> &mut Vec<(usize, f64)> {
    let of = certificate.nodes.iter_mut().find_map(|n| match n {
        Node::Leaf(weights) => Some(weights),
        _ => None,
    });
    of.unwrap()
}

/// Falsifies a certificate that holds and gives the fault.
fn refused(shop: &Workshop, good: Certificate, falsify: impl Fn(&mut Certificate)) -> Fault {
    assert!(shop.check(&good).is_ok(), "{}", shop.check(&good).unwrap_err());
    let mut bad = good;
    falsify(&mut bad);
    shop.check(&bad).unwrap_err()
}

macro_rules! refused_as {
    ($shop:expr, $good:expr, $falsify:expr, $fault:pat $(if $guard:expr)?) => {
        let fault = refused(&$shop, $good, $falsify);
        assert!(matches!(fault, $fault $(if $guard)?), "refused for: {fault}");
    };
}

#[test]
fn the_space() {
    let shop = Workshop::crowded();
    let good = || shop.in_the_way(2, Sense::Low, 2.5);
    for k in 0..6 {
        if k == 2 {
            continue;
        }
        let name = recheck::CONTINUOUS[k];
        // A third of a millimetre: the corners of the offsets' box hold no placement.
        let moved = |c: &mut Certificate| {
            c.space.low[k] += 0.3;
            c.space.high[k] += 0.3;
        };
        refused_as!(shop, good(), moved, Fault::Space { variable, .. } if variable == name);
    }
    refused_as!(shop, good(), |c| c.space.high[2] -= 0.01, Fault::Turn { .. });
    refused_as!(shop, good(), |c| c.space.low[4] = f64::NAN, Fault::NotFinite { .. });
    refused_as!(shop, good(), |c| c.space.high[6] = f64::INFINITY, Fault::NotFinite { .. });
    refused_as!(shop, good(), |c| c.space.low[6] = 1.0, Fault::NotFinite { .. });
}

#[test]
fn what_it_is_about() {
    let shop = Workshop::wide();
    let good = || shop.too_wide(Sense::Low);
    refused_as!(shop, good(), |c| c.ports[1] = "North".into(), Fault::Name { count: 0, .. });
    refused_as!(shop, good(), |c| c.ports[1] = "East".into(), Fault::Unusable { .. });
    refused_as!(shop, good(), |c| c.removed[0].piece = "plug".into(), Fault::Name { .. });
    refused_as!(shop, good(), |c| c.removed[0].fitting = "high".into(), Fault::Name { .. });
    refused_as!(shop, good(), |c| c.bound_mm = f64::NAN, Fault::NotFinite { .. });
    assert!(recheck::certificate(&shop.car, &shop.kit, 7, 1, &good()).is_err());
    assert!(recheck::certificate(&shop.car, &shop.kit, 0, 7, &good()).is_err());
}

#[test]
fn the_tree() {
    let shop = Workshop::wide();
    let good = || shop.by_holes();
    let last = good().nodes.len() - 1;
    refused_as!(shop, good(), |c| drop(c.nodes.pop()), Fault::TreeEnds { node, .. } if node == last);
    refused_as!(shop, good(), |c| c.nodes.clear(), Fault::TreeEnds { node: 0, open: 1 });
    let again = |c: &mut Certificate| c.nodes.push(Node::Leaf(vec![(0, 0.5), (1, 0.5)]));
    refused_as!(shop, good(), again, Fault::NodesLeft { node, .. } if node == last + 1);
    refused_as!(
        shop,
        good(),
        |c| c.nodes[0] = Node::Halve(7),
        Fault::NoVariable { node: 0, variable: 7 }
    );
    refused_as!(
        shop,
        good(),
        |c| c.nodes[0] = Node::Choose(9),
        Fault::NoVariable { variable: 9, .. }
    );
    refused_as!(shop, good(), |c| c.nodes[1] = Node::Choose(1), Fault::ChosenTwice { node: 1, .. });
    // Dropped in the middle: the cells that follow move up, and meet another cell's witness.
    refused_as!(shop, good(), |c| drop(c.nodes.remove(3)), Fault::OptionDiffers { .. });
}

#[test]
fn the_weights() {
    let shop = Workshop::wide();
    let good = || shop.too_wide(Sense::High);
    let is = |weights: &[(usize, f64)]| {
        let weights = weights.to_vec();
        move |c: &mut Certificate| leaf(c).clone_from(&weights)
    };
    refused_as!(shop, good(), is(&[(0, 1.5), (1, -0.5)]), Fault::Weight { witness: 1, .. });
    refused_as!(shop, good(), is(&[(0, f64::NAN), (1, 0.5)]), Fault::Weight { witness: 0, .. });
    refused_as!(
        shop,
        good(),
        is(&[(0, 0.5), (1, f64::INFINITY)]),
        Fault::Weight { witness: 1, .. }
    );
    refused_as!(shop, good(), is(&[(0, 0.5), (1, 0.501)]), Fault::Weights { node: 0, sum } if sum > 1.0);
    refused_as!(shop, good(), is(&[(0, 0.0), (1, 0.0)]), Fault::Weights { .. });
    refused_as!(shop, good(), is(&[]), Fault::Weights { .. });
    refused_as!(shop, good(), is(&[(2, 1.0)]), Fault::NoWitness { witness: 2, count: 2, .. });
    // One side alone does not prove it: the cup may stand on the other.
    refused_as!(shop, good(), is(&[(0, 1.0)]), Fault::Claim { node: 0, .. });
    refused_as!(shop, good(), is(&[(0, 0.51), (1, 0.49)]), Fault::Claim { .. });
}

#[test]
fn the_claims() {
    let shop = Workshop::wide();
    refused_as!(
        shop,
        shop.too_wide(Sense::High),
        |c| c.bound_mm -= 1e-6,
        Fault::Claim { node: 0, claimed, found, .. } if found > claimed
    );
    refused_as!(shop, shop.too_wide(Sense::Low), |c| c.sense = Sense::High, Fault::Claim { .. });
    let crowded = Workshop::crowded();
    let good = || crowded.in_the_way(2, Sense::Low, 2.5);
    refused_as!(crowded, good(), |c| c.bound_mm = -1.0, Fault::Claim { .. });
    refused_as!(crowded, good(), |c| overlap(c).on_b[0] += 8.0, Fault::Claim { .. });
    let aside = Workshop::aside();
    let other = |c: &mut Certificate| first_rule(c).sign = Some(-1.0);
    refused_as!(aside, aside.off_the_line(), other, Fault::Claim { claimed: 0.0, .. });
    // On the line, the same tolerance is not broken.
    let fault = crowded.check(&crowded.off_the_line()).unwrap_err();
    assert!(matches!(fault, Fault::Claim { .. }), "{fault}");
}

#[test]
fn the_options() {
    let shop = Workshop::wide();
    let good = || shop.by_holes();
    let given = |c: &mut Certificate, given: Vec<(usize, usize)>| c.witnesses[2].given = given;
    refused_as!(
        shop,
        good(),
        |c| given(c, vec![(1, 0)]),
        Fault::GivenMissing { witness: 2, variable: "hole at B" }
    );
    refused_as!(shop, good(), |c| given(c, vec![]), Fault::GivenMissing { witness: 2, .. });
    refused_as!(
        shop,
        good(),
        |c| given(c, vec![(1, 0), (2, 3)]),
        Fault::OptionDiffers { witness: 2, given: 3, chosen: Some(1), .. }
    );
    refused_as!(
        shop,
        good(),
        |c| given(c, vec![(1, 0), (2, 1), (0, 0)]),
        Fault::OptionDiffers { chosen: None, .. }
    );
    refused_as!(shop, good(), |c| given(c, vec![(1, 0), (2, 4)]), Fault::Given { option: 4, .. });
    refused_as!(
        shop,
        good(),
        |c| given(c, vec![(1, 0), (2, 1), (7, 0)]),
        Fault::Given { variable: 7, .. }
    );
    refused_as!(
        shop,
        good(),
        |c| given(c, vec![(1, 0), (1, 1), (2, 1)]),
        Fault::Given { variable: 1, .. }
    );
    let pin = shop.two_points("upper pin at A", "car:neighbour");
    let fault = shop.check(&pin).unwrap_err();
    assert!(matches!(fault, Fault::GivenMissing { variable: "hole at A", .. }), "{fault}");
}

#[test]
fn the_rectangles() {
    let shop = Workshop::crowded();
    let good = || shop.over_the_plate();
    let wide = |c: &mut Certificate| overlap(c).across.as_mut().unwrap()[0][0] = 351.0;
    refused_as!(shop, good(), wide, Fault::Across { why: "it reaches out of the part", .. });
    for far in [1e6, 1e10, 1e12, 1e14] {
        let vast = |c: &mut Certificate| {
            let across = overlap(c).across.as_mut().unwrap();
            (across[0], across[1]) = ([far, 0.3 * far, 0.0], [-0.3 * far, far, 0.0]);
        };
        refused_as!(shop, good(), vast, Fault::Across { why: "it reaches out of the part", .. });
    }
    let askew = |c: &mut Certificate| overlap(c).across.as_mut().unwrap()[0][2] = 2.0;
    refused_as!(shop, good(), askew, Fault::Across { why: "it reaches out of the part", .. });
    let at_the_face = |c: &mut Certificate| overlap(c).on_b[2] = -1e-7;
    refused_as!(shop, good(), at_the_face, Fault::Across { .. });
    let beside = |c: &mut Certificate| overlap(c).on_b[0] = 900.0;
    refused_as!(shop, good(), beside, Fault::Outside { .. });
    let unbounded = |c: &mut Certificate| overlap(c).across.as_mut().unwrap()[1][1] = f64::NAN;
    refused_as!(shop, good(), unbounded, Fault::Across { why: "its sides are not finite", .. });
    // The plate's own depth is not that of all of the rectangle.
    refused_as!(shop, good(), |c| overlap(c).depth = 0.4, Fault::Depth { .. });
    let on_the_outlet = |c: &mut Certificate| {
        let overlap = overlap(c);
        overlap.b = "outlet".into();
        overlap.a = "car:plate".into();
        overlap.on_a = [0.0, 0.0, -1.0];
        overlap.on_b = [20.0, 0.0, 0.0];
        c.witnesses[0].given = vec![(0, 0)];
    };
    refused_as!(shop, good(), on_the_outlet, Fault::Across { why: "the part turns", .. });
}

#[test]
fn the_points() {
    let shop = Workshop::crowded();
    let good = || shop.two_points("foot at A", "car:neighbour");
    refused_as!(shop, good(), |c| gap(c).a = "foot at C".into(), Fault::NoPart { .. });
    refused_as!(shop, good(), |c| gap(c).b = "neighbour".into(), Fault::NoPart { .. });
    refused_as!(shop, good(), |c| gap(c).b = "car:plate".into(), Fault::OffTriangle { .. });
    refused_as!(shop, good(), |c| gap(c).triangles[1] = 9, Fault::OffTriangle { triangle: 9, .. });
    refused_as!(shop, good(), |c| gap(c).triangles[1] = 12, Fault::NoTriangle { count: 12, .. });
    refused_as!(shop, good(), |c| gap(c).on_a[1] += 1e-3, Fault::OffTriangle { found, .. } if found < 2e-3);
    refused_as!(shop, good(), |c| gap(c).on_b[2] = f64::NAN, Fault::NotFinite { .. });
    let deep = || shop.in_the_way(2, Sense::Low, 2.5);
    refused_as!(shop, deep(), |c| overlap(c).depth = 30.5, Fault::Depth { claimed, found, .. } if claimed > found);
    refused_as!(shop, deep(), |c| overlap(c).depth = f64::NAN, Fault::NotFinite { .. });
    refused_as!(shop, deep(), |c| overlap(c).depth = -1.0, Fault::NotFinite { .. });
    refused_as!(shop, deep(), |c| overlap(c).on_a[2] -= 500.0, Fault::Outside { winding, .. } if winding < 0.5);
    refused_as!(shop, deep(), |c| overlap(c).on_b[1] = 67.0, Fault::Outside { .. });
}

#[test]
fn the_surfaces() {
    let mut shop = Workshop::crowded();
    let good = shop.in_the_way(2, Sense::Low, 2.5);
    let neighbour = shop.car.bodies.iter_mut().find(|b| b.body.name == "neighbour").unwrap();
    // The lid of the box: far from the points, which still lie in it by more than half a turn.
    let high = |t: &[u32; 3]| t.iter().all(|v| neighbour.body.mesh.vertices[*v as usize].z > 200.0);
    let lid: Vec<[u32; 3]> = neighbour.body.mesh.triangles.iter().copied().filter(high).collect();
    assert_eq!(lid.len(), 2);
    neighbour.body.mesh.triangles.retain(|t| !lid.contains(t));
    let fault = shop.check(&good).unwrap_err();
    assert!(matches!(fault, Fault::Open { witness: 0, .. }), "{fault}");
    shop.car.bodies[0].body.mesh.triangles[0][0] = 8;
    let fault = shop.check(&good).unwrap_err();
    assert!(matches!(fault, Fault::Unusable { .. }), "{fault}");
}

#[test]
fn the_pairs() {
    let shop = Workshop::crowded();
    // By design they touch, or they are one, or neither moves.
    for (a, b) in [
        ("foot at A", "car:sidewall"),
        ("gasket", "car:plate"),
        ("car:plate", "gasket"),
        ("cup", "gasket"),
        ("foot at A", "foot at A"),
        ("car:plate", "car:neighbour"),
    ] {
        let fault = shop.check(&shop.two_points(a, b)).unwrap_err();
        assert!(matches!(fault, Fault::NoGap { witness: 0, .. }), "{a}, {b}: {fault}");
    }
    for (a, b) in
        [("foot at A", "foot at B"), ("gasket", "car:sidewall"), ("foot at A", "car:plate")]
    {
        assert!(shop.check(&shop.two_points(a, b)).is_ok(), "{a}, {b}");
    }
    // Taken off, and opened for the foot.
    for off in ["car:wheel", "car:cover of East"] {
        let fault = shop.check(&shop.two_points("foot at A", off)).unwrap_err();
        assert!(matches!(fault, Fault::Absent { witness: 0, .. }), "{off}: {fault}");
    }
}

#[test]
fn the_rules() {
    let shop = Workshop::wide();
    let good = || shop.too_wide(Sense::Low);
    refused_as!(shop, good(), |c| first_rule(c).rule = "gap".into(), Fault::NoRule { .. });
    refused_as!(shop, good(), |c| first_rule(c).body = None, Fault::Field { .. });
    refused_as!(shop, good(), |c| first_rule(c).vertex = Some(8), Fault::Field { .. });
    refused_as!(shop, good(), |c| first_rule(c).toward = Some([0.5, 0.5]), Fault::Field { .. });
    refused_as!(
        shop,
        good(),
        |c| first_rule(c).toward = Some([f64::NAN, 0.5]),
        Fault::Field { .. }
    );
    refused_as!(shop, good(), |c| first_rule(c).body = Some("wheel".into()), Fault::Absent { .. });
    refused_as!(
        shop,
        good(),
        |c| first_rule(c).body = Some("neighbour".into()),
        Fault::Absent { .. }
    );
    refused_as!(shop, good(), |c| first_rule(c).body = Some("nobody".into()), Fault::NoPart { .. });
    let with = |words: &'static str, end, sign| {
        move |c: &mut Certificate| {
            *first_rule(c) = RuleGround { end, sign, ..RuleGround::bare(words) };
        }
    };
    let seat = "foot beside port edge";
    refused_as!(shop, good(), with(seat, Some(2), None), Fault::Field { .. });
    refused_as!(shop, good(), with(seat, Some(0), Some(1.0)), Fault::Field { .. });
    refused_as!(shop, good(), with("foot out of square", Some(0), Some(0.5)), Fault::Field { .. });
    refused_as!(shop, good(), with("link out of upright", None, None), Fault::Field { .. });
    refused_as!(
        shop,
        good(),
        with("screw travel left", None, Some(1.0)),
        Fault::GivenMissing { .. }
    );
    refused_as!(
        shop,
        good(),
        with("slot beyond the outside link", Some(1), None),
        Fault::GivenMissing { variable: "thickness outside at B", .. }
    );
}

/// Whatever a certificate says, it is refused or held to be true, and nothing breaks.
#[test]
fn nonsense_breaks_nothing() {
    let mut chance = Chance::new(21);
    let shop = Workshop::crowded();
    let goods = [
        shop.by_holes(),
        shop.in_the_way(1, Sense::High, 12.0),
        shop.two_points("foot at A", "car:neighbour"),
        shop.off_the_line(),
    ];
    let mut refused = 0;
    for round in 0..3000 {
        let mut bad = goods[round % goods.len()].clone();
        for _ in 0..=chance.below(3) {
            nonsense(&mut bad, &mut chance);
        }
        refused += usize::from(shop.check(&bad).is_err());
    }
    assert!(refused > 1500, "{refused}");
}

fn odd(chance: &mut Chance) -> f64 {
    const ODD: [f64; 9] =
        [0.0, -0.0, 1.0, -1.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MAX, 1e-320];
    ODD[chance.below(ODD.len())]
}

fn odd_index(chance: &mut Chance) -> usize {
    [0, 1, 2, 6, 7, 8, 100, usize::MAX][chance.below(8)]
}

fn nonsense(bad: &mut Certificate, chance: &mut Chance) {
    let (node, witness) = (chance.below(bad.nodes.len()), chance.below(bad.witnesses.len()));
    match chance.below(9) {
        0 => bad.space.low[chance.below(7)] = odd(chance),
        1 => bad.space.high[chance.below(7)] = odd(chance),
        2 => bad.nodes[node] = Node::Halve(odd_index(chance)),
        3 => bad.nodes[node] = Node::Choose(odd_index(chance)),
        4 => bad.nodes[node] = Node::Leaf(vec![(odd_index(chance), odd(chance)), (0, odd(chance))]),
        5 => bad.bound_mm = odd(chance),
        6 => bad.witnesses[witness].given.push((odd_index(chance), odd_index(chance))),
        7 => bad.ports.reverse(),
        _ => match &mut bad.witnesses[witness].by {
            Ground::Gap(gap) => {
                gap.on_a[chance.below(3)] = odd(chance);
                gap.triangles[1] = u32::MAX;
            }
            Ground::Overlap(overlap) => {
                overlap.on_b[chance.below(3)] = odd(chance);
                overlap.depth = odd(chance);
            }
            Ground::Rule(rule) => {
                const RULES: [&str; 5] = [
                    "room inside the cup",
                    "slot beyond the outside link",
                    "link out of upright",
                    "screw travel left",
                    "foot out of square",
                ];
                rule.rule = RULES[chance.below(RULES.len())].into();
                rule.end = Some(odd_index(chance));
                rule.sign = Some(odd(chance));
                rule.vertex = Some(odd_index(chance));
                rule.toward = Some([odd(chance), odd(chance)]);
            }
        },
    }
}

/// Every message names the node or witness, what was claimed and what was found.
#[test]
fn messages() {
    let shop = Workshop::wide();
    let fault = refused(&shop, shop.too_wide(Sense::High), |c| c.bound_mm = -20.0);
    let text = fault.to_string();
    assert!(text.starts_with("node 0: claimed no more than -20 mm, found -13.5"), "{text}");
    let crowded = Workshop::crowded();
    let deep = crowded.in_the_way(2, Sense::Low, 2.5);
    let text = refused(&crowded, deep, |c| overlap(c).depth = 50.0).to_string();
    assert!(text.starts_with("witness 0: claimed to be 50 mm deep, found "), "{text}");
}
