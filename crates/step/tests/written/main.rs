//! STEP files written here, by hand and by a few lines of code, with bodies whose volume and area are
//! known in closed form (plane and solid geometry; no library). The outside check with OCCT is in
//! `tests/outside/step`.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod assemblies;
mod bad;
mod file;
mod reviewed;
mod solids_of_all_kinds;
mod tessellated;
