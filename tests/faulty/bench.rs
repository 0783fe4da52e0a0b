//! A scratch folder with the valid documents and meshes in it.

use crate::meshes;
use intake::{CaseFile, Faults, Finding, KitFile, LessonFile};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

pub(crate) const CASE: &str = include_str!("valid/case.toml");
pub(crate) const KIT: &str = include_str!("valid/kit.toml");
pub(crate) const LESSON: &str = include_str!("valid/lesson.toml");

pub(crate) struct Bench(tempfile::TempDir);

impl Bench {
    pub(crate) fn new() -> Self {
        let bench = Self(tempfile::tempdir().unwrap());
        bench.write("case.toml", CASE.as_bytes());
        bench.write("kit.toml", KIT.as_bytes());
        bench.write("lesson.toml", LESSON.as_bytes());
        for (name, triangles) in meshes::bench() {
            bench.write(name, &meshes::binary("bench", &triangles));
        }
        bench
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub(crate) fn write(&self, name: &str, bytes: &[u8]) {
        fs::write(self.path(name), bytes).unwrap();
    }

    pub(crate) fn case(&self) -> Result<CaseFile, Faults> {
        intake::read_case(&self.path("case.toml"))
    }

    pub(crate) fn kit(&self) -> Result<KitFile, Faults> {
        intake::read_kit(&self.path("kit.toml"))
    }

    pub(crate) fn lesson(&self) -> Result<LessonFile, Faults> {
        intake::read_lesson(&self.path("lesson.toml"))
    }

    /// Every file with its bytes.
    pub(crate) fn files(&self) -> BTreeMap<PathBuf, Vec<u8>> {
        fn walk(folder: &Path, files: &mut BTreeMap<PathBuf, Vec<u8>>) {
            for entry in fs::read_dir(folder).unwrap() {
                let path = entry.unwrap().path();
                if path.is_dir() {
                    walk(&path, files);
                } else {
                    files.insert(path.clone(), fs::read(&path).unwrap());
                }
            }
        }
        let mut files = BTreeMap::new();
        walk(self.0.path(), &mut files);
        files
    }

    /// A text without the scratch folder's name in it.
    pub(crate) fn plain(&self, text: &str) -> String {
        text.replace(&format!("{}/", self.0.path().display()), "")
    }
}

/// A document after replacements, each of which must occur exactly once.
pub(crate) fn edited(document: &str, edits: &[(&str, &str)]) -> String {
    edits.iter().fold(document.to_owned(), |text, (from, to)| {
        assert_eq!(text.matches(from).count(), 1, "{from:?} must occur once");
        text.replace(from, to)
    })
}

pub(crate) fn shown(findings: &[Finding]) -> String {
    let mut text = String::new();
    for f in findings {
        let file = f.file.as_ref().map_or(String::new(), |file| format!(" ({file})"));
        let count = f.count.map_or(String::new(), |count| format!(": {count}"));
        let at = f.at.map_or(String::new(), |p| format!(" at {:.1} {:.1} {:.1}", p.x, p.y, p.z));
        writeln!(text, "finding: {}{file}: {}{count}{at}\n  remedy: {}", f.about, f.what, f.remedy)
            .unwrap();
    }
    text
}
