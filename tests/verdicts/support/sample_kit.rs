//! A sample kit. Its dimensions are invented, of the size that is common practice (no source).

#[path = "../../support/steps.rs"]
mod steps;

use assembly::hold::KitFigures;
use assembly::kit::{
    Bar, Cup, Dim, Foot, Gasket, Kit, Link, Need, Outlet, PartKind, Pin, Rules, Saddle, Screw,
};
use measure::{Angle, LengthUnit};

fn dim(nominal: f64) -> Dim {
    Dim { nominal, tolerance: 0.05 }
}

fn cup(name: &str, inside: f64, height: f64, port_height: f64) -> Cup {
    Cup {
        name: name.into(),
        inside_diameter: dim(inside),
        wall: dim(8.0),
        inside_height: dim(height),
        crown: dim(12.7),
        seat_diameter: dim(60.0),
        seat_height: dim(25.0),
        seat_depth: dim(12.0),
        port_height: dim(port_height),
        port_diameter: dim(84.0),
        port_bore: dim(50.0),
        port_face: dim(0.5 * inside + 8.0 + 12.0),
        gasket: format!("G{name}"),
    }
}

fn gasket(cup: &Cup) -> Gasket {
    let inside = cup.inside_diameter.nominal;
    Gasket {
        name: cup.gasket.clone(),
        inside_diameter: dim(inside - 5.0),
        outside_diameter: dim(inside + 16.0 + 10.0),
        thickness: dim(12.7),
        groove_depth: dim(6.35),
    }
}

/// The cups' indices: too low for most valves, the usual one, a wide one.
pub(crate) const CUPS: usize = 3;

/// A kit with a bar of this length.
pub(crate) fn kit(bar_length: f64, upper_pin_on_car: bool) -> Kit {
    let cups = vec![
        cup("B", 136.5, 150.0, 100.0),
        cup("C", 174.6, 270.0, 150.0),
        cup("D", 219.1, 279.4, 150.0),
    ];
    let pin = Pin {
        diameter: dim(15.9),
        length: dim(85.0),
        head_diameter: dim(20.8),
        head_thickness: dim(5.3),
        fitted_on_car: true,
    };
    Kit {
        title: "sample kit".into(),
        unit: LengthUnit::Inch,
        chord_error: 0.5,
        rules: rules(),
        gaskets: cups.iter().map(gasket).collect(),
        cups,
        outlet: Outlet {
            pipe_diameter: dim(60.3),
            port_nipple: dim(6.0),
            elbow_centre_to_end: dim(64.0),
            elbow_band: dim(84.0),
            riser_nipple: dim(76.0),
            valve_length: dim(120.0),
            valve_diameter: dim(76.0),
            stem_height: dim(60.0),
            handle_length: dim(160.0),
            handle_width: dim(20.0),
            handle_thickness: dim(8.0),
            handle_swing: Angle::from_degrees(90.0),
            elbow_turns: vec![Angle::from_degrees(-30.0), Angle::from_degrees(30.0)],
        },
        bar: Bar {
            length: dim(bar_length),
            rail_width: dim(25.4),
            rail_height: dim(50.8),
            slot: dim(39.7),
            end: dim(25.4),
        },
        saddle: Saddle {
            length: dim(21.0),
            stem_width: dim(38.0),
            top_width: dim(80.0),
            top_height: dim(12.0),
            pin_drop: dim(22.0),
            edge: dim(22.0),
            hole: dim(17.5),
        },
        link: Link {
            width: dim(38.1),
            thicknesses: vec![dim(25.4), dim(19.05), dim(12.7)],
            hole: dim(17.5),
            holes: vec![dim(241.3), dim(266.7), dim(292.1), dim(317.5)],
            edge: dim(19.0),
        },
        foot: Foot {
            depth: dim(23.8),
            width: dim(76.0),
            height: dim(60.0),
            seat: dim(20.0),
            hole: dim(17.5),
        },
        upper_pin: Pin { fitted_on_car: upper_pin_on_car, ..pin.clone() },
        lower_pin: pin,
        screw: Screw {
            diameter: dim(31.75),
            ball_diameter: dim(31.75),
            length: dim(300.0),
            retracted: dim(45.0),
            travel: dim(120.0),
            handle_length: dim(300.0),
            handle_diameter: dim(16.0),
            handle_drop: dim(20.0),
            block_length: dim(70.0),
            block_width: dim(80.0),
            block_height: dim(25.0),
        },
        hold: KitFigures::default(),
        steps: steps::steps(),
    }
}

fn rules() -> Rules {
    let need = |a, b, gap| Need { between: (a, b), gap };
    Rules {
        need_otherwise: 1.0,
        needs: vec![
            need(PartKind::Cup, PartKind::Fitting, 2.0),
            need(PartKind::Link, PartKind::Housing, 0.3),
            need(PartKind::Bar, PartKind::Housing, 3.0),
            need(PartKind::Outlet, PartKind::Lid, 5.0),
            need(PartKind::ScrewHandle, PartKind::Lid, 12.0),
        ],
        plan_spacing: 19.05,
        land_flatness: 0.8,
        land_seal_width: 6.0,
        screw_offset: 3.0,
        bar_level: 2.0,
        overhang_difference: 6.35,
        link_lean: 2.0,
        foot_skew: Angle::from_degrees(3.0),
        pin_hand_room: 63.5,
        contact: 0.2,
        path_clearance: Rules::PATH_CLEARANCE,
        hand_room: Rules::HAND_ROOM,
    }
}
