//! Can the clamp hold: the mechanics of a cup pressed over a fitting by a screw under a bar.
//!
//! Functions of quantities with units and bounds, each with its equation's source and its limits of
//! validity, usable one by one; and [`hold`], which puts them together for a whole rig.

mod bar;
mod column;
mod cup;
mod end;
mod fault;
mod friction;
mod gasket;
mod handle;
pub mod hold;
mod housing;
mod lading;
mod links;
mod numbers;
mod pin_plate;
mod pivot;
mod side_port;
mod supports;
mod tank;
mod thread;

pub use bar::{Bar, Block, rectangle_torsion};
pub use column::{Column, EndHold};
pub use cup::{Cup, even_plate_moment, metal_poisson, plate_moment, round_bending};
pub use end::End;
pub use fault::Fault;
pub use friction::Friction;
pub use gasket::{
    Aim, CodeFactors, Face, Gasket, Ring, SupplierStress, contact, effective_width, end_load,
    load_for_contact, operating_load, seating_load,
};
pub use handle::{bending_stress, hand_force};
pub use housing::{Bolting, CarLoads, MOST_SHEAR_SHARE, shear_share};
pub use lading::{ATMOSPHERE, Lading, gauge, gauge_vapour_pressure};
pub use links::{LinkPair, LinkPlace};
pub use numbers::safety_factor;
pub use pin_plate::PinPlate;
pub use pivot::{ball_in_socket, even_collar, socket_mouth, worn_collar};
pub use side_port::SidePort;
pub use supports::{Foot, Saddle};
pub use tank::{Jacket, TankClass};
pub use thread::{Profile, Thread};
