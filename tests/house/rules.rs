//! The house rules as functions of what they look at, each giving the breaches that it finds.

/// One package of the workspace.
#[derive(Debug, Clone, Default)]
pub(crate) struct Package {
    pub(crate) name: String,
    pub(crate) licence: Option<String>,
    /// Whether cargo refuses to publish it anywhere.
    pub(crate) unpublished: bool,
    pub(crate) manifest: String,
    pub(crate) dependencies: Vec<Dependency>,
    /// The root source files of its library and its binaries.
    pub(crate) roots: Vec<Source>,
}

/// One dependency.
#[derive(Debug, Clone)]
pub(crate) struct Dependency {
    pub(crate) name: String,
    /// Only for tests and benches.
    pub(crate) dev: bool,
}

/// One source file.
#[derive(Debug, Clone)]
pub(crate) struct Source {
    /// From the workspace's root, with forward slashes.
    pub(crate) path: String,
    pub(crate) text: String,
}

/// The package of the tests that need more than one room.
const TESTS: &str = "overcup-tests";

/// The rooms, each with the rooms that it may use.
const ARROWS: [(&str, &[&str]); 19] = [
    ("measure", &[]),
    ("solids", &["measure"]),
    ("gap", &["measure", "solids"]),
    ("assembly", &["measure", "solids"]),
    ("fitup", &["measure", "solids", "gap", "assembly"]),
    ("sealing", &["measure", "assembly"]),
    ("review", &["measure", "solids", "assembly", "fitup", "sealing"]),
    ("recheck", &["measure", "solids", "assembly", "review"]),
    ("lesson", &["assembly"]),
    ("scan", &["measure", "solids"]),
    ("survey", &["measure", "solids", "gap", "assembly", "scan"]),
    ("step", &["solids"]),
    ("intake", &["measure", "solids", "assembly", "lesson", "survey", "step", "scan"]),
    ("tryout", &["measure", "assembly", "fitup", "review", "lesson"]),
    ("display", &["measure", "solids", "assembly", "fitup", "review"]),
    ("front", &["assembly", "review", "intake"]),
    ("sheet", &["measure", "solids", "assembly", "review"]),
    (
        "viewer",
        &[
            "measure", "solids", "assembly", "fitup", "review", "display", "front", "lesson",
            "tryout",
        ],
    ),
    (
        "overcup",
        &[
            "measure", "assembly", "review", "recheck", "survey", "intake", "display", "front",
            "sheet",
        ],
    ),
];

/// Libraries that only some rooms may use, by how their names begin.
const KEPT_IN: [(&str, &[&str]); 10] = [
    ("parry", &["gap"]),
    ("clap", &["overcup", "viewer"]),
    ("bevy", &["viewer"]),
    ("egui", &["viewer"]),
    ("image", &["viewer"]),
    ("wgpu", &["viewer"]),
    ("toml", &["intake"]),
    ("stl_io", &["intake"]),
    ("quick-xml", &["intake"]),
    ("zip", &["intake"]),
];

/// Every package is a known room, and uses no room that no arrow leads to. Tests and benches may
/// use any room but the viewer.
pub(crate) fn arrows(packages: &[Package]) -> Vec<String> {
    let mut breaches = Vec::new();
    for package in packages.iter().filter(|p| p.name != TESTS) {
        let Some((_, allowed)) = ARROWS.iter().find(|(room, _)| *room == package.name) else {
            breaches.push(format!("{} is no room of the design", package.name));
            continue;
        };
        for dependency in &package.dependencies {
            let is_room = ARROWS.iter().any(|(room, _)| *room == dependency.name);
            let may = allowed.contains(&dependency.name.as_str())
                || (dependency.dev && dependency.name != "viewer");
            if is_room && !may {
                breaches.push(format!("{} -> {}", package.name, dependency.name));
            }
        }
    }
    breaches
}

/// Libraries stay in the rooms that own them.
pub(crate) fn kept_libraries(packages: &[Package]) -> Vec<String> {
    let mut breaches = Vec::new();
    for package in packages {
        for dependency in
            package.dependencies.iter().filter(|d| !d.dev || d.name.starts_with("bevy"))
        {
            let kept = KEPT_IN.iter().find(|(library, _)| dependency.name.starts_with(library));
            if kept.is_some_and(|(_, rooms)| !rooms.contains(&package.name.as_str())) {
                breaches.push(format!("{} uses {}", package.name, dependency.name));
            }
        }
    }
    breaches
}

/// Every package is kept from publication, carries the licence and takes the workspace's lints.
pub(crate) fn manifests(packages: &[Package]) -> Vec<String> {
    let mut breaches = Vec::new();
    for package in packages {
        if !package.unpublished {
            breaches.push(format!("{} can be published", package.name));
        }
        if package.licence.as_deref() != Some("MIT OR Apache-2.0") {
            breaches.push(format!("{} has licence {:?}", package.name, package.licence));
        }
        let mut lines = package.manifest.lines().map(str::trim);
        let takes_lints = lines.any(|l| l == "[lints]") && lines.next() == Some("workspace = true");
        if !takes_lints {
            breaches.push(format!("{} does not take the workspace's lints", package.name));
        }
    }
    breaches
}

/// The root of every library and binary begins with documentation.
pub(crate) fn documented(packages: &[Package]) -> Vec<String> {
    let mut breaches = Vec::new();
    for package in packages {
        if package.roots.is_empty() {
            breaches.push(format!("{} has no library and no binary", package.name));
        }
        for root in package.roots.iter().filter(|r| !r.text.starts_with("//! ")) {
            breaches.push(format!("{} does not begin with documentation", root.path));
        }
    }
    breaches
}

/// The top level holds what the design says and files whose names begin with a dot.
pub(crate) fn top_level(paths: &[String]) -> Vec<String> {
    const ALLOWED: [&str; 8] = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "crates",
        "assets",
        "examples",
        "tests",
    ];
    let mut breaches: Vec<String> = paths
        .iter()
        .filter_map(|path| path.split('/').next())
        .filter(|top| !top.starts_with('.') && !ALLOWED.contains(top))
        .map(|top| format!("{top} lies at the top level"))
        .collect();
    breaches.dedup();
    breaches
}

/// No test is skipped and no hole is left.
pub(crate) fn holes(sources: &[Source]) -> Vec<String> {
    // In pieces, so that this file does not find itself.
    const HOLES: [&str; 5] = [
        concat!("#[", "ignore"),
        concat!("to", "do!("),
        concat!("unimple", "mented!("),
        concat!("db", "g!("),
        concat!("cfg(any", "())"),
    ];
    found_in(sources, &HOLES)
}

/// No room reads the environment or ends the process.
pub(crate) fn rooms_are_quiet(sources: &[Source]) -> Vec<String> {
    const LOUD: [&str; 4] = ["env::var", "env::args", "process::exit", "process::Command"];
    let in_a_room: Vec<Source> = sources
        .iter()
        .filter(|s| {
            let mut parts = s.path.split('/');
            parts.next() == Some("crates")
                && !matches!(parts.next(), Some("overcup" | "viewer"))
                && parts.next() == Some("src")
        })
        .cloned()
        .collect();
    found_in(&in_a_room, &LOUD)
}

fn found_in(sources: &[Source], words: &[&str]) -> Vec<String> {
    let mut breaches = Vec::new();
    for source in sources {
        for (i, line) in source.text.lines().enumerate() {
            for word in words.iter().filter(|w| line.contains(**w)) {
                breaches.push(format!("{}:{} has {word}", source.path, i + 1));
            }
        }
    }
    breaches
}
