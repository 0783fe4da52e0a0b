//! Can the clamp hold: the mechanics of a cup pressed over a fitting by a screw under a bar.
//!
//! Functions of quantities with units and bounds, each with its equation's source and its limits of
//! validity, usable one by one; and [`hold`], which puts them together for a whole rig. All
//! pressures are gauge pressures unless said. Bounds hold the true value, so that a safety factor's
//! lower end may be relied on: tolerances, ranges of friction and the spread of published figures
//! go in, and what is not given stays untold.
//!
//! What torque seats a cup against chlorine at 30 degrees Celsius?
//!
//! ```
//! use measure::{Bounds, Length, Moment, Stress, Temperature};
//! use sealing::{
//!     ATMOSPHERE, Aim, Cut, Face, Friction, Gasket, Lading, Profile, SupplierStress, Thread,
//!     ball_in_socket, gauge_vapour_pressure,
//! };
//!
//! # fn main() -> Result<(), sealing::Fault> {
//! let mm = |nominal: f64| Bounds::about(Length::from_mm(nominal), Length::from_mm(0.1));
//! let warm = Bounds::exactly(Temperature::from_celsius(30.0));
//! let pressure = gauge_vapour_pressure(Lading::Chlorine, warm, ATMOSPHERE.into())?;
//! assert!(pressure.low().psi() > 112.0 && pressure.high().psi() < 116.0);
//!
//! let face = Face { inside: mm(170.0), outside: mm(190.0) };
//! let gasket = Gasket {
//!     face,
//!     rim: face,
//!     code: None,
//!     supplier: Some(SupplierStress {
//!         least: Some(Bounds::exactly(Stress::from_mpa(2.0))),
//!         most: None,
//!         basis: "invented for this example".into(),
//!     }),
//! };
//! let aim = Aim {
//!     offset: Bounds::between(Length::from_mm(0.0), Length::from_mm(2.0)),
//!     side_moment: Bounds::exactly(Moment::from_newton_mm(0.0)),
//! };
//! let load = gasket.needed_load(pressure, &aim)?;
//!
//! let thread =
//!     Thread { profile: Profile::Acme, diameter: mm(38.1), pitch: mm(6.35), starts: 1, cut: Cut::Made };
//! let greased = Friction::new(Bounds::between(0.1, 0.15))?;
//! let tip = ball_in_socket(mm(31.75), mm(12.0))?;
//! let torque = load * (thread.raising_arm(greased)? + tip * greased.range());
//! assert!(torque.low().newton_mm() > 140e3 && torque.high().newton_mm() < 220e3);
//! # Ok(())
//! # }
//! ```

mod bar;
mod column;
mod cup;
mod end;
mod fault;
mod friction;
mod gasket;
mod handle;
mod hang;
pub mod hold;
mod housing;
mod lading;
mod links;
mod numbers;
mod pin_plate;
mod pivot;
mod pressed;
mod side_port;
mod supports;
mod tank;
mod thread;

pub use bar::{Bar, Block, rectangle_torsion};
pub use column::{Column, EndHold};
pub use cup::{Cup, boss_moment, even_plate_moment, metal_poisson, plate_moment, round_bending};
pub use end::End;
pub use fault::Fault;
pub use friction::Friction;
pub use gasket::{
    Aim, CodeFactors, Face, Gasket, Ring, SupplierStress, contact, effective_width, end_load,
    load_for_contact, operating_load, seating_load,
};
pub use handle::{bending_stress, hand_force};
pub use hang::Hang;
pub use housing::{Bolting, CarLoads, MOST_SHEAR_SHARE, shear_share};
pub use lading::{ATMOSPHERE, Lading, OPEN_AIR, gauge, gauge_vapour_pressure};
pub use links::{LinkPair, link_bending};
pub use numbers::safety_factor;
pub use pin_plate::PinPlate;
pub use pivot::{
    ball_in_socket, ball_of_any_fit, even_collar, socket_mouth, tilting_radius, worn_collar,
};
pub use pressed::PressedColumn;
pub use side_port::SidePort;
pub use supports::{Foot, Saddle};
pub use tank::{Jacket, TankClass, starts_to_discharge};
pub use thread::{Cut, Profile, Thread};
