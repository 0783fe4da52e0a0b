//! Bodies out of what a scanner saw, and the space into which it did not see.
//!
//! A scan is points, or an open mesh, of whatever could be seen from one place. Nothing in it says
//! what is plate and what is valve, and behind everything that was seen lies a shadow in which
//! anything may be. So the space above the plate is divided into three: free where a line of sight
//! passed, seen where points lie, and unseen where neither is so. What stands on the plate becomes a
//! closed body that is surely there, just behind the seen surface, and the rest of its shadow another
//! that may be filled or empty: a part that must pass through it leaves the verdict open.
//!
//! Everything here is in millimetres and knows no kit and no verdict. No file is read.

mod bins;
mod carve;
mod cells;
mod chance;
mod clean;
mod confidence;
mod grid;
mod near;
mod off;
mod plane;
mod plate;
mod prepare;
mod rebuilt;
mod register;
mod shot;
mod skin;
mod split;
#[cfg(test)]
mod synthetic;
mod things;
mod unit;
mod wall;

pub use clean::{Cleaned, Dropped, clean};
pub use confidence::Confidence;
pub use plate::{Judged, NoPlate, Plate, find_plate};
pub use prepare::{Given, Prepared, Unprepared, prepare};
pub use rebuilt::{Kind, PointAt, RebuildFault, Rebuilt, Settings, Thing, rebuild};
pub use register::{Registration, Start, Unregistered, register};
pub use shot::Shot;
pub use unit::{ScanUnit, UnitRead, unit_of};
pub use wall::{Form, Opening, WallSeen};
