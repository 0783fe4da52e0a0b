//! What the programs do alike: read the documents that the command line names, review what is asked
//! for, tell why they stopped, write a file whole.
//!
//! Nothing is printed here, and nothing read from the command line.

mod fault;
pub mod file;
pub mod folder;
mod reviewed;

pub use fault::{Plain, Stopped};
pub use reviewed::{Documents, Reviewed, document, one_fitting, read, reviewed, unmade};
