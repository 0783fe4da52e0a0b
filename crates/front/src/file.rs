//! Writes one file, all or nothing.

use crate::fault::Plain;
use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// Fails where something of that name is there already.
pub fn check_free(path: &Path) -> Result<(), Plain> {
    let remedy = "name a file that does not exist yet";
    match path.symlink_metadata() {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(()),
        Err(error) => {
            Err(Plain::new(format!("{} cannot be written: {error}", path.display()), remedy))
        }
        Ok(_) => Err(Plain::new(format!("{} is there already", path.display()), remedy)),
    }
}

/// Writes a file beside the one asked for and gives it its name at the end.
pub fn write(path: &Path, bytes: &[u8]) -> Result<(), Plain> {
    let written = || -> io::Result<()> {
        let draft = Draft(crate::draft_beside(path)?);
        let mut file = fs::File::create_new(&draft.0)?;
        file.write_all(bytes)?;
        file.sync_all()?;
        // A link, unlike a new name, never takes the place of a file that has come meanwhile.
        fs::hard_link(&draft.0, path)
    };
    written().map_err(|error| Plain::unwritten(&path.display().to_string(), &error))
}

/// Writes files into a folder of their own that is not there yet: all of them or none.
pub fn write_folder(path: &Path, files: &[(String, Vec<u8>)]) -> Result<(), Plain> {
    let unwritten = |error: &io::Error| Plain::unwritten(&path.display().to_string(), error);
    check_free(path)?;
    let draft = DraftFolder(crate::draft_beside(path).map_err(|error| unwritten(&error))?);
    let written = || -> io::Result<()> {
        fs::create_dir(&draft.0)?;
        for (name, bytes) in files {
            let mut file = fs::File::create_new(draft.0.join(name))?;
            file.write_all(bytes)?;
            file.sync_all()?;
        }
        fs::rename(&draft.0, path)
    };
    written().map_err(|error| unwritten(&error))
}

/// A folder that goes away again.
struct DraftFolder(PathBuf);

impl Drop for DraftFolder {
    fn drop(&mut self) {
        // Where it has its name there is nothing to wipe.
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// A file that goes away again.
struct Draft(PathBuf);

impl Drop for Draft {
    fn drop(&mut self) {
        // Where it could not be made there is nothing to wipe.
        let _ = fs::remove_file(&self.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_is_written_whole_and_never_over_another() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("bodies");
        let files = [("a.ply".to_owned(), b"a".to_vec()), ("b.ply".to_owned(), b"b".to_vec())];
        write_folder(&path, &files).unwrap();
        assert_eq!(fs::read(path.join("b.ply")).unwrap(), b"b");
        assert!(write_folder(&path, &files).is_err());
        let twice = [files[0].clone(), files[0].clone()];
        assert!(write_folder(&folder.path().join("other"), &twice).is_err());
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_file_is_written_whole_and_never_over_another() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.glb");
        assert!(check_free(&path).is_ok());
        write(&path, b"first").unwrap();
        assert!(check_free(&path).is_err());
        assert!(write(&path, b"second").is_err());
        assert_eq!(fs::read(&path).unwrap(), b"first");
        // Nothing else is left.
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
        assert!(write(&folder.path().join("no").join("a.glb"), b"").is_err());
    }
}
