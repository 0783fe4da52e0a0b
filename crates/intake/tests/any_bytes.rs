//! Mesh files of any bytes: what the fuzzer kept and what once broke a law, and files changed by chance.

#![allow(clippy::unwrap_used, reason = "a helper that fails fails its test")]

#[path = "../../../tests/fuzz/readers/law.rs"]
mod law;

use law::{READERS, holds, look, wrapped};
use proptest::prelude::*;
use std::fs;
use std::path::{Path, PathBuf};

/// The inputs kept for a reader, by the files' names.
fn kept(ending: &str, folder: &str) -> Vec<(PathBuf, Vec<u8>)> {
    let name = if ending == "3mf" { "threemf" } else { ending };
    let readers = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/fuzz/readers");
    let Ok(folder) = fs::read_dir(readers.join(name).join(folder)) else { return Vec::new() };
    let mut files: Vec<PathBuf> = folder.map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files.into_iter().map(|path| (path.clone(), fs::read(path).unwrap())).collect()
}

#[test]
fn inputs_that_a_fuzzer_kept_hold_the_laws() {
    for ending in READERS {
        let corpus = kept(ending, "corpus");
        assert!(corpus.len() > 10, "{ending}: {} inputs", corpus.len());
        for (path, bytes) in corpus.into_iter().chain(kept(ending, "found")) {
            for bytes in [&bytes, &wrapped(ending, &bytes)] {
                look(ending, bytes).unwrap_or_else(|wrong| panic!("{}: {wrong}", path.display()));
            }
        }
    }
}

#[test]
fn a_model_that_breaks_a_law_is_found() {
    let text = "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n";
    let model = intake::meshes::read_bytes(text.as_bytes(), Path::new("a.obj"), None).unwrap();
    assert_eq!(holds(&model, text.len()), Ok(()));
    let broken = |change: &dyn Fn(&mut intake::meshes::Model)| {
        let mut model = model.clone();
        change(&mut model);
        assert!(holds(&model, text.len()).is_err());
    };
    broken(&|m| m.bodies[0].mesh.triangles[0] = [0, 1, 3]);
    broken(&|m| m.bodies[0].mesh.triangles[0] = [0, 1, 1]);
    broken(&|m| m.bodies[0].mesh.triangles.clear());
    broken(&|m| m.bodies[0].mesh.vertices[1].y = f64::NAN);
    broken(&|m| m.bodies[0].name = "a\u{1b}[2J".to_owned());
    broken(&|m| m.bodies[0].vertex_colours = vec![[0; 4]; 2]);
    broken(&|m| m.bodies.clear());
}

proptest! {
    #[test]
    fn files_changed_by_chance_hold_the_laws(
        reader in 0..READERS.len(),
        which in any::<prop::sample::Index>(),
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..8),
        cut in prop::option::of(any::<prop::sample::Index>()),
    ) {
        let ending = READERS[reader];
        let corpus = kept(ending, "corpus");
        let mut bytes = wrapped(ending, &corpus[which.index(corpus.len())].1);
        for (at, to) in &changes {
            if !bytes.is_empty() {
                let at = at.index(bytes.len());
                bytes[at] = *to;
            }
        }
        if let Some(cut) = cut {
            bytes.truncate(cut.index(bytes.len() + 1));
        }
        prop_assert_eq!(look(ending, &bytes), Ok(()));
    }
}
