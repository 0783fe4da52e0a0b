//! A rig for tests of the mechanics. Its dimensions and strengths are invented.

use measure::{Bounds, Force, Length, Moment, Stress};
use sealing::hold::{LinkShape, Material, Part, Rig, RigEnd, Screw};
use sealing::{
    Bar, Block, CodeFactors, Cup, EndHold, Face, Foot, Friction, Gasket, LinkPair, Profile, Saddle,
    SidePort, SupplierStress, ball_in_socket, socket_mouth,
};

/// A length with the sample's tolerance, mm.
pub(crate) fn about(nominal: f64) -> Bounds<Length> {
    Bounds::about(Length::from_mm(nominal), Length::from_mm(0.1))
}

/// A range of friction.
pub(crate) fn friction(low: f64, high: f64) -> Option<Friction> {
    Friction::new(Bounds::between(low, high)).ok()
}

/// Three figures of one material, N/mm2.
fn material(part: Part, yield_strength: f64, tensile_strength: f64) -> Material {
    let exactly = |mpa: f64| Some(Bounds::exactly(Stress::from_mpa(mpa)));
    Material {
        part,
        yield_strength: exactly(yield_strength),
        tensile_strength: exactly(tensile_strength),
        modulus: Some(Bounds::between(Stress::from_mpa(200e3), Stress::from_mpa(210e3))),
        basis: "invented".into(),
    }
}

/// A rig that holds a moderate pressure, everything given.
pub(crate) fn sample_rig() -> Rig {
    let links = LinkPair {
        inside: about(12.7),
        outside: about(12.7),
        apart: about(32.3),
        off: Bounds::between(Length::from_mm(-1.0), Length::from_mm(1.0)),
    };
    let end = RigEnd { upper: links, lower: links, wall: about(19.05) };
    let mpa = |value: f64| Bounds::exactly(Stress::from_mpa(value));
    Rig {
        gasket: Gasket {
            face: Face { inside: about(167.0), outside: about(193.0) },
            rim: Face { inside: about(170.0), outside: about(190.0) },
            code: Some(CodeFactors::soft_rubber()),
            supplier: Some(SupplierStress {
                least: Some(mpa(2.0)),
                most: Some(mpa(30.0)),
                basis: "invented".into(),
            }),
        },
        offset: Bounds::between(Length::from_mm(0.0), Length::from_mm(3.0)),
        seat_height: about(320.0),
        lean: Bounds::between(0.0, 0.003),
        links_held: Some(true),
        pin_friction: friction(0.15, 0.2),
        side_moment: Some(Bounds::between(
            Moment::from_newton_mm(0.0),
            Moment::from_newton_mm(2e4),
        )),
        side_port: Some(SidePort {
            bore: about(50.8),
            boss: about(84.0),
            reach: about(12.0),
            clear: about(60.0),
        }),
        cup: Cup { inside: about(175.0), wall: about(8.0), crown: about(20.0), seat: about(60.0) },
        screw: Screw {
            diameter: about(38.1),
            profile: Some(Profile::Acme),
            pitch: Some(Bounds::exactly(Length::from_mm(6.35))),
            starts: Some(1),
            thread_friction: friction(0.1, 0.15),
            pivot_radius: ball_in_socket(about(31.75), about(12.0)).ok(),
            tip: socket_mouth(about(31.75), about(12.0)).unwrap_or(about(30.0)),
            pivot_friction: friction(0.08, 0.15),
            ball: about(31.75),
            extension: about(120.0),
            held: Some(EndHold::FixedFree),
            lever: about(500.0),
            rod: about(30.0),
            hand: Some(Bounds::between(Force::from_newtons(600.0), Force::from_newtons(700.0))),
            torque_error: Some(0.04),
        },
        block: Block { length: about(90.0), width: about(100.0), height: about(45.0) },
        bar: Bar {
            span: about(750.0),
            rail_width: about(30.0),
            rail_height: about(75.0),
            slot: about(42.0),
            along: Bounds::between(Length::from_mm(20.0), Length::from_mm(60.0)),
            across: Bounds::between(Length::from_mm(-1.0), Length::from_mm(1.0)),
        },
        saddle: Saddle {
            length: about(30.0),
            stem_width: about(40.0),
            top_width: about(95.0),
            top_height: about(30.0),
            edge: about(32.0),
            hole: about(23.0),
        },
        upper_pin: about(22.0),
        link: LinkShape {
            width: about(45.0),
            hole: about(23.0),
            edge: about(30.0),
            spacing: about(40.0),
        },
        lower_pin: about(22.0),
        foot: Foot { depth: about(28.0), width: about(75.0), seat: about(30.0), hole: about(23.0) },
        ends: [end, end],
        materials: Part::ALL
            .into_iter()
            .map(|part| match part {
                Part::Cup | Part::Sidewall | Part::Foot => material(part, 250.0, 400.0),
                Part::Link | Part::Bar | Part::Block | Part::Saddle => material(part, 345.0, 450.0),
                _ => material(part, 650.0, 850.0),
            })
            .collect(),
        required_factor: 1.5,
    }
}
