//! House rules of the workspace, from `cargo metadata` and the files that git knows. Each rule is
//! also shown a bad sample, so that none can pass whatever happens.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod rules;

use rules::{Dependency, Package, Source};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_path_buf()
}

fn output(command: &mut Command) -> String {
    let output = command.current_dir(root()).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

/// Every package of the workspace.
fn packages() -> Vec<Package> {
    let text = output(Command::new(env!("CARGO")).args([
        "metadata",
        "--no-deps",
        "--format-version",
        "1",
        "--offline",
    ]));
    let metadata: Value = serde_json::from_str(&text).unwrap();
    let packages: Vec<Package> =
        metadata["packages"].as_array().unwrap().iter().map(package).collect();
    assert!(packages.len() >= 9, "rooms are missing: {}", packages.len());
    packages
}

fn package(value: &Value) -> Package {
    let text = |v: &Value| v.as_str().unwrap().to_owned();
    let dependency = |d: &Value| Dependency { name: text(&d["name"]), dev: d["kind"] == "dev" };
    let is_root = |t: &&Value| {
        let kinds = t["kind"].as_array().unwrap();
        kinds.iter().any(|k| k == "lib" || k == "bin")
    };
    Package {
        name: text(&value["name"]),
        licence: value["license"].as_str().map(str::to_owned),
        unpublished: value["publish"].as_array().is_some_and(Vec::is_empty),
        manifest: fs::read_to_string(text(&value["manifest_path"])).unwrap(),
        dependencies: value["dependencies"].as_array().unwrap().iter().map(dependency).collect(),
        roots: value["targets"]
            .as_array()
            .unwrap()
            .iter()
            .filter(is_root)
            .map(|t| {
                let path = text(&t["src_path"]);
                Source { text: fs::read_to_string(&path).unwrap(), path }
            })
            .collect(),
    }
}

/// Files that git keeps or would keep, and that are there.
fn files() -> Vec<String> {
    let listed = output(Command::new("git").args([
        "ls-files",
        "--cached",
        "--others",
        "--exclude-standard",
        "-z",
    ]));
    let files: Vec<String> = listed
        .split('\0')
        .filter(|path| !path.is_empty() && root().join(path).exists())
        .map(str::to_owned)
        .collect();
    assert!(files.iter().any(|f| f == "Cargo.toml"), "not run in the repository");
    files
}

fn sources() -> Vec<Source> {
    let sources: Vec<Source> = files()
        .into_iter()
        .filter(|path| Path::new(path).extension().is_some_and(|e| e == "rs"))
        .map(|path| Source { text: fs::read_to_string(root().join(&path)).unwrap(), path })
        .collect();
    assert!(sources.len() > 30, "sources are missing: {}", sources.len());
    sources
}

/// A package with nothing wrong.
fn good(name: &str, uses: &[(&str, bool)]) -> Package {
    Package {
        name: name.into(),
        licence: Some("MIT OR Apache-2.0".into()),
        unpublished: true,
        manifest: "[package]\n[lints]\nworkspace = true\n".into(),
        dependencies: uses
            .iter()
            .map(|&(name, dev)| Dependency { name: name.into(), dev })
            .collect(),
        roots: vec![source("crates/x/src/lib.rs", "//! Docs.\n")],
    }
}

fn source(path: &str, text: &str) -> Source {
    Source { path: path.into(), text: text.into() }
}

const NONE: [&str; 0] = [];

#[test]
fn arrows_between_rooms() {
    let sample = [
        good("gap", &[("solids", false), ("assembly", false)]),
        good("overcup", &[("fitup", false), ("solids", true), ("viewer", true), ("review", false)]),
        good("cellar", &[]),
    ];
    let expected = [
        "gap -> assembly",
        "overcup -> fitup",
        "overcup -> viewer",
        "cellar is no room of the design",
    ];
    assert_eq!(rules::arrows(&sample), expected);
    assert_eq!(rules::arrows(&packages()), NONE);
}

#[test]
fn libraries_stay_in_their_rooms() {
    let sample = [
        good("gap", &[("parry3d-f64", false), ("clap", false)]),
        good("fitup", &[("parry3d-f64", false), ("bevy_math", true), ("toml", true)]),
        good("intake", &[("toml", false), ("stl_io", false)]),
    ];
    let expected = ["gap uses clap", "fitup uses parry3d-f64", "fitup uses bevy_math"];
    assert_eq!(rules::kept_libraries(&sample), expected);
    assert_eq!(rules::kept_libraries(&packages()), NONE);
}

#[test]
fn manifests_are_alike() {
    let mut bad = good("gap", &[]);
    bad.unpublished = false;
    bad.licence = None;
    bad.manifest = "[lints]\n[dependencies]\nworkspace = true\n".into();
    assert_eq!(rules::manifests(&[bad]).len(), 3);
    assert_eq!(rules::manifests(&[good("gap", &[])]), NONE);
    assert_eq!(rules::manifests(&packages()), NONE);
}

#[test]
fn every_root_is_documented() {
    let mut bad = good("gap", &[]);
    bad.roots = vec![source("crates/gap/src/lib.rs", "mod a;\n")];
    assert_eq!(rules::documented(&[bad.clone()]).len(), 1);
    bad.roots.clear();
    assert_eq!(rules::documented(&[bad]).len(), 1);
    assert_eq!(rules::documented(&packages()), NONE);
}

#[test]
fn the_top_level_is_tidy() {
    let sample = ["Cargo.toml", ".ci/run", "LICENSE-MIT", "scripts/a", "scripts/b"];
    let sample: Vec<String> = sample.iter().map(|&s| s.to_owned()).collect();
    let expected = ["LICENSE-MIT lies at the top level", "scripts lies at the top level"];
    assert_eq!(rules::top_level(&sample), expected);
    assert_eq!(rules::top_level(&files()), NONE);
}

#[test]
fn no_holes() {
    let hole = ["fn f() { to", "do!() }\n"].concat();
    let skipped = ["#[ig", "nore]\nfn t() {}\n"].concat();
    let sample = [source("a.rs", &hole), source("b.rs", &skipped), source("c.rs", "fn f() {}\n")];
    assert_eq!(rules::holes(&sample).len(), 2);
    assert_eq!(rules::holes(&sources()), NONE);
}

#[test]
fn rooms_neither_read_the_environment_nor_end_the_process() {
    let text = "let x = std::env::var(\"X\");\n";
    let sample = [
        source("crates/gap/src/lib.rs", text),
        source("crates/gap/benches/gap.rs", text),
        source("crates/overcup/src/main.rs", text),
    ];
    assert_eq!(rules::rooms_are_quiet(&sample), ["crates/gap/src/lib.rs:1 has env::var"]);
    assert_eq!(rules::rooms_are_quiet(&sources()), NONE);
}
