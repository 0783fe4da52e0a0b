//! A folder that is filled beside the one asked for and gets its name at the end.

use crate::Plain;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Fails unless the folder is new or empty.
pub fn check_free(folder: &Path) -> Result<(), Plain> {
    let taken = |why: &str| {
        Plain::new(
            format!("{} {why}", folder.display()),
            "name a folder that does not exist yet or is empty",
        )
    };
    match fs::read_dir(folder) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(()),
        Err(error) => Err(taken(&format!("cannot be written into: {error}"))),
        Ok(mut entries) => match entries.next() {
            Some(_) => Err(taken("is not empty")),
            None => Ok(()),
        },
    }
}

/// A folder that goes away again unless it is published.
#[derive(Debug)]
pub struct Draft(PathBuf);

impl Draft {
    /// Makes it beside the folder asked for.
    pub fn beside(folder: &Path) -> io::Result<Self> {
        let path = crate::draft_beside(folder)?;
        fs::create_dir(&path)?;
        Ok(Self(path))
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.0
    }

    /// Gives it the name asked for.
    pub fn publish(&self, folder: &Path) -> io::Result<()> {
        if folder.is_dir() {
            // Refuses a folder that has been filled meanwhile.
            fs::remove_dir(folder)?;
        }
        fs::rename(&self.0, folder)
    }
}

impl Drop for Draft {
    fn drop(&mut self) {
        // Gone already once it is published.
        let _ = fs::remove_dir_all(&self.0);
    }
}
