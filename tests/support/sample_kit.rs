//! A kit for tests. Its dimensions are invented; pipe, elbow and lower pins follow the standards
//! that `tests/worked/kit_tables.rs` names.

#[path = "steps.rs"]
mod steps;

use assembly::hold::KitFigures;
use assembly::kit::{Bar, Cup, Dim, Foot, Gasket, Kit, Link, Outlet, Pin, Rules, Saddle, Screw};
use measure::{Angle, LengthUnit};

/// A dimension with the sample kit's tolerance, mm.
pub(crate) fn dim(nominal: f64) -> Dim {
    Dim { nominal, tolerance: 0.1 }
}

/// A kit with one cup.
#[expect(clippy::too_many_lines, reason = "a table")]
pub(crate) fn sample_kit() -> Kit {
    let pin = |fitted_on_car| Pin {
        diameter: dim(15.7),
        length: dim(110.0),
        head_diameter: dim(20.6),
        head_thickness: dim(5.1),
        fitted_on_car,
    };
    Kit {
        title: "sample".into(),
        unit: LengthUnit::Millimetre,
        chord_error: 0.05,
        rules: Rules {
            need_otherwise: 1.0,
            needs: Vec::new(),
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
        },
        cups: vec![Cup {
            name: "A".into(),
            inside_diameter: dim(190.0),
            wall: dim(10.0),
            inside_height: dim(260.0),
            crown: dim(16.0),
            seat_diameter: dim(60.0),
            seat_height: dim(12.0),
            seat_depth: dim(10.0),
            port_height: dim(150.0),
            port_diameter: dim(84.0),
            port_bore: dim(52.5),
            port_face: dim(125.0),
            gasket: "GA".into(),
        }],
        gaskets: vec![Gasket {
            name: "GA".into(),
            inside_diameter: dim(168.0),
            outside_diameter: dim(232.0),
            thickness: dim(9.5),
            groove_depth: dim(3.0),
        }],
        outlet: Outlet {
            pipe_diameter: dim(60.3),
            port_nipple: dim(20.0),
            elbow_centre_to_end: dim(64.0),
            elbow_band: dim(84.0),
            riser_nipple: dim(25.0),
            valve_length: dim(110.0),
            valve_diameter: dim(90.0),
            stem_height: dim(75.0),
            handle_length: dim(180.0),
            handle_width: dim(25.0),
            handle_thickness: dim(6.0),
            handle_swing: Angle::from_degrees(90.0),
            elbow_turns: vec![Angle::from_degrees(-30.0), Angle::from_degrees(30.0)],
        },
        bar: Bar {
            length: dim(760.0),
            rail_width: dim(25.4),
            rail_height: dim(76.2),
            slot: dim(54.0),
            end: dim(40.0),
        },
        saddle: Saddle {
            length: dim(38.0),
            stem_width: dim(48.0),
            top_width: dim(100.0),
            top_height: dim(20.0),
            pin_drop: dim(25.0),
            edge: dim(20.0),
            hole: dim(17.5),
        },
        link: Link {
            width: dim(50.8),
            thicknesses: vec![dim(25.4), dim(19.05), dim(12.7)],
            hole: dim(17.5),
            holes: vec![dim(240.0), dim(270.0), dim(300.0)],
            edge: dim(25.4),
        },
        foot: Foot {
            depth: dim(38.0),
            width: dim(60.0),
            height: dim(50.0),
            seat: dim(25.0),
            hole: dim(17.5),
        },
        lower_pin: pin(true),
        upper_pin: pin(false),
        screw: Screw {
            diameter: dim(38.1),
            ball_diameter: dim(32.0),
            length: dim(300.0),
            retracted: dim(60.0),
            travel: dim(120.0),
            handle_length: dim(350.0),
            handle_diameter: dim(19.0),
            handle_drop: dim(25.0),
            block_length: dim(90.0),
            block_width: dim(110.0),
            block_height: dim(40.0),
        },
        hold: KitFigures::default(),
        steps: steps::steps(),
    }
}
