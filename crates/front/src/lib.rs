//! What the programs do alike: read the documents that the command line names, review what is asked
//! for, tell why they stopped, write a file whole.
//!
//! Nothing is printed here, and nothing read from the command line.

mod fault;
pub mod file;
pub mod folder;
mod reviewed;

pub use fault::{Plain, Stopped};
pub use reviewed::{Documents, Reviewed, document, lesson, one_fitting, read, reviewed, unmade};

use std::io;
use std::path::{Path, PathBuf};

/// Where a result is made before it gets its name: hidden beside it, no other run's.
fn draft_beside(path: &Path) -> io::Result<PathBuf> {
    let name = path.file_name().ok_or(io::ErrorKind::InvalidInput)?.to_string_lossy();
    Ok(path.with_file_name(format!(".{name}.{}.draft", std::process::id())))
}
