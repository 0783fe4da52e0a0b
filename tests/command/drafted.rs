//! Cases drafted from meshes alone, their questions answered as a planner would, beside the shipped
//! documents: the same verdicts, and margins that differ by no more than the meshes may be off.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use measure::Length;
use serde_json::Value;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn examples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").canonicalize().unwrap()
}

fn overcup(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_overcup")).args(args).current_dir(folder).output().unwrap()
}

/// Copies an example's STL files into a folder as `body-01.stl` and on, turned, shifted and in inches;
/// gives what `body-..` the plate became.
fn strip(example: &str, folder: &Path) -> String {
    // A turn by 0.7 about (1, 2, 3), by the formula of Rodrigues, and a shift of some hundred mm.
    let k = [1.0, 2.0, 3.0].map(|c: f64| c / 14.0_f64.sqrt());
    let (s, c) = 0.7_f64.sin_cos();
    let moved = |p: [f64; 3]| {
        let dot = k[0] * p[0] + k[1] * p[1] + k[2] * p[2];
        let cross =
            [k[1] * p[2] - k[2] * p[1], k[2] * p[0] - k[0] * p[2], k[0] * p[1] - k[1] * p[0]];
        let shift = [310.0, -120.0, 77.0];
        [0, 1, 2].map(|i| p[i] * c + cross[i] * s + k[i] * dot * (1.0 - c) + shift[i])
    };
    let mut files: Vec<PathBuf> = fs::read_dir(examples().join(example).join("mesh"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    files.sort();
    fs::create_dir_all(folder.join("mesh")).unwrap();
    let mut plate = String::new();
    for (i, file) in files.iter().enumerate() {
        let mut bytes = fs::read(file).unwrap();
        for facet in bytes[84..].chunks_exact_mut(50) {
            for corner in facet[12..48].chunks_exact_mut(12) {
                let at = |i: usize| {
                    f64::from(f32::from_le_bytes(corner[4 * i..4 * i + 4].try_into().unwrap()))
                };
                let p = moved([at(0), at(1), at(2)]).map(|v| v / 25.4);
                for (i, v) in p.into_iter().enumerate() {
                    #[expect(
                        clippy::cast_possible_truncation,
                        reason = "the file's own precision"
                    )]
                    corner[4 * i..4 * i + 4].copy_from_slice(&(v as f32).to_le_bytes());
                }
            }
        }
        let name = format!("body-{:02}", i + 1);
        fs::write(folder.join("mesh").join(format!("{name}.stl")), bytes).unwrap();
        if file.file_stem().unwrap() == "plate" {
            plate = name;
        }
    }
    plate
}

/// The value of a key in a block of a document, as written.
fn value<'a>(block: &'a str, key: &str) -> Option<&'a str> {
    let start = format!("{key} = ");
    block.lines().find_map(|line| line.strip_prefix(start.as_str()))
}

fn mm(text: &str) -> f64 {
    text.trim().trim_matches('"').parse::<Length>().unwrap().mm()
}

fn place(block: &str, key: &str) -> [f64; 2] {
    let list = value(block, key).unwrap().trim_matches(['[', ']']);
    let both: Vec<f64> = list.split(',').map(mm).collect();
    [both[0], both[1]]
}

/// A block with some keys as another has them.
fn taken(block: &str, other: &str, keys: &[&str]) -> String {
    let line = |line: &str| {
        let key = keys.iter().find(|key| line.starts_with(&format!("{key} = ")));
        key.map_or_else(|| line.to_owned(), |key| format!("{key} = {}", value(other, key).unwrap()))
    };
    block.lines().map(line).collect::<Vec<_>>().join("\n")
}

/// A block with what is guessed filled in where its key is empty.
fn filled(block: &str) -> String {
    let line = |line: &str| match line.split_once(" # guess: ") {
        Some((empty, guess)) => {
            let key = empty.split_once(" = ").unwrap().0;
            format!("{key} = {guess}")
        }
        None => line.to_owned(),
    };
    block.lines().map(line).collect::<Vec<_>>().join("\n")
}

/// The block of the true document that stands at the same place; how far off that is is kept.
fn true_block<'a>(truth: &'a str, head: &str, block: &str, key: &str, off: &mut f64) -> &'a str {
    let at = place(block, key);
    let far = |b: &&str| {
        let p = place(b, key);
        (p[0] - at[0]).hypot(p[1] - at[1])
    };
    let all = truth.split("\n\n").filter(|b| b.lines().any(|line| line == head));
    let found = all.min_by(|a, b| far(a).total_cmp(&far(b))).unwrap();
    *off = off.max(far(&found));
    found
}

/// Answers every question as a planner with the drawing (and, for the survey, a tape) would, and
/// corrects what the answers show to be wrong.
fn planned(draft: &str, truth: &str, with_tape: bool) -> (String, f64) {
    let mut off = 0.0;
    let mut out = Vec::new();
    for block in draft.split("\n\n") {
        let head = block.lines().find(|line| line.starts_with('[')).unwrap_or("");
        let block = &filled(block);
        out.push(match head {
            "[[question]]" => block.replace("answer = \"\"", "answer = \"as on the drawing\""),
            "[[fitting]]" => {
                let real = true_block(truth, head, block, "centre", &mut off);
                off = off.max(
                    (mm(value(block, "flange").unwrap()) - mm(value(real, "flange").unwrap()))
                        .abs(),
                );
                taken(block, real, &["name", "kind", "size"])
            }
            "[[port]]" => {
                let real = true_block(truth, head, block, "at", &mut off);
                if with_tape {
                    let keys = ["name", "width", "height", "sill", "wall", "deviation"];
                    taken(block, real, &keys)
                } else {
                    for key in ["width", "height", "sill", "wall"] {
                        let [a, b] = [block, real].map(|b| mm(value(b, key).unwrap()));
                        off = off.max((a - b).abs());
                    }
                    taken(block, real, &["name"])
                }
            }
            "[lid]" => {
                let real = truth.split("\n\n").find(|b| b.contains("[lid]")).unwrap();
                taken(block, real, &["stop"])
            }
            "[measured]" => block.replace("= \"\"", "= \"the test\""),
            _ if block.starts_with("# No lid was found") => "[lid]\nfitted = false".to_owned(),
            _ if block.starts_with("# No hinge was found") => "[hinge]\nmeshes = []".to_owned(),
            _ => block.to_owned(),
        });
    }
    (out.join("\n\n"), off)
}

fn checked(folder: &Path, case: &str) -> Vec<Value> {
    let kit = examples().join("kit.toml");
    let output = overcup(folder, &["check", case, "--kit", kit.to_str().unwrap(), "--json"]);
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(matches!(output.status.code(), Some(0 | 1)), "{case}: {told}");
    let record: Value = serde_json::from_slice(&output.stdout).unwrap();
    let mut fittings = record["fittings"].as_array().unwrap().clone();
    fittings.sort_by_key(|f| f["name"].as_str().unwrap().to_owned());
    fittings
}

/// Drafts, answers, checks, and holds the verdicts against those of the shipped case; tells how far
/// figures and margins are off, mm.
fn same_verdicts(
    example: &str,
    folder: &Path,
    args: &[&str],
    with_tape: bool,
    most: f64,
) -> String {
    let output = overcup(folder, args);
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(1), "{told}");
    let draft = fs::read_to_string(folder.join("case.toml")).unwrap();
    let truth = fs::read_to_string(examples().join(example).join("case.toml")).unwrap();
    // As it is drafted it is refused, once for each question.
    let asked = draft.matches("[[question]]").count();
    let kit = examples().join("kit.toml");
    let refused = overcup(folder, &["check", "case.toml", "--kit", kit.to_str().unwrap()]);
    assert_eq!(refused.status.code(), Some(2));
    let text = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert_eq!(text.matches("is not answered").count(), asked, "{text}");

    // Without its questions, or with marks for answers, what was guessed is still not used.
    let unasked: Vec<&str> =
        draft.split("\n\n").filter(|b| !b.lines().any(|line| line == "[[question]]")).collect();
    for hushed in [unasked.join("\n\n"), draft.replace("answer = \"\"", "answer = \"?\"")] {
        fs::write(folder.join("hushed.toml"), hushed).unwrap();
        let refused = overcup(folder, &["check", "hushed.toml", "--kit", kit.to_str().unwrap()]);
        assert_eq!(refused.status.code(), Some(2));
        let text = String::from_utf8_lossy(&refused.stderr).into_owned();
        assert!(text.contains("\"by\" is empty"), "{text}");
    }

    let (answered, off) = planned(&draft, &truth, with_tape);
    fs::write(folder.join("answered.toml"), answered).unwrap();
    assert!(off <= most, "{example}: a figure is {off} mm off");
    let (mine, shipped) = (checked(folder, "answered.toml"), checked(&examples(), example));
    assert_eq!(mine.len(), shipped.len());
    let mut apart: f64 = 0.0;
    for (mine, shipped) in mine.iter().zip(&shipped) {
        assert_eq!(mine["name"], shipped["name"]);
        assert_eq!(mine["verdict"], shipped["verdict"], "{}", shipped["name"]);
        for end in ["low", "high"] {
            let [a, b] = [mine, shipped].map(|f| f["least_margin_mm"][end].as_f64().unwrap_or(0.0));
            apart = apart.max((a - b).abs());
        }
    }
    // The search itself stops within 0.1 mm of the best there is.
    assert!(apart <= 2.0 * most + 0.1, "{example}: margins are {apart} mm apart");
    format!("{example}: {asked} questions, off by {off:.5} mm, margins by {apart:.4} mm")
}

#[test]
fn the_first_example_drafted_by_its_names() {
    let folder = tempfile::tempdir().unwrap();
    let mut args = vec!["intake"];
    let mut files: Vec<String> = fs::read_dir(examples().join("pressure-car/mesh"))
        .unwrap()
        .map(|entry| entry.unwrap().path().to_str().unwrap().to_owned())
        .collect();
    files.sort();
    args.extend(files.iter().map(String::as_str));
    args.extend(["--unit", "mm", "--deviation", "0.05 mm", "--out", "case.toml"]);
    println!("{}", same_verdicts("pressure-car", folder.path(), &args, false, 0.1));
}

#[test]
fn the_first_example_without_names_turned_and_in_inches() {
    let folder = tempfile::tempdir().unwrap();
    strip("pressure-car", folder.path());
    let args = stripped(folder.path(), &["--units", "mm", "--deviation", "0.05 mm"]);
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    println!("{}", same_verdicts("pressure-car", folder.path(), &args, false, 0.1));
    // The picture's questions are the document's, and nothing is written over.
    let svg = fs::read_to_string(folder.path().join("plan.svg")).unwrap();
    let draft = fs::read_to_string(folder.path().join("case.toml")).unwrap();
    let asked = draft.matches("[[question]]").count();
    assert!(svg.contains(&format!("{asked} questions")) && svg.contains("not a procedure"));
    let again = overcup(folder.path(), &args);
    assert_eq!(again.status.code(), Some(2));
    assert_eq!(fs::read_to_string(folder.path().join("case.toml")).unwrap(), draft);
}

/// A body whose triangles face inward is asked about, and nothing goes on with it.
#[test]
fn a_body_inside_out_leaves_its_file_to_be_named_again() {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("mesh")).unwrap();
    let mut args: Vec<String> = vec!["intake".to_owned()];
    for entry in fs::read_dir(examples().join("pressure-car/mesh")).unwrap() {
        let path = entry.unwrap().path();
        let mut bytes = fs::read(&path).unwrap();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        if name == "prd-body.stl" {
            for facet in bytes[84..].chunks_exact_mut(50) {
                let (second, third) = facet[24..48].split_at_mut(12);
                second.swap_with_slice(third);
            }
        }
        fs::write(folder.path().join("mesh").join(&name), bytes).unwrap();
        args.push(format!("mesh/{name}"));
    }
    args[1..].sort();
    args.extend(
        ["--unit", "mm", "--deviation", "0.05 mm", "--out", "case.toml"].map(str::to_owned),
    );
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    assert_eq!(overcup(folder.path(), &args).status.code(), Some(1));
    let draft = fs::read_to_string(folder.path().join("case.toml")).unwrap();
    let empty = |line: &&str| line.starts_with("file = \"\"");
    let left: Vec<&str> = draft.lines().filter(empty).collect();
    assert_eq!(left, ["file = \"\" # guess: \"mesh/prd-body.stl\""]);
    assert!(draft.contains("it is inside out"), "{draft}");
    // Answered and filled in otherwise, the case is still refused for it.
    let unasked: Vec<String> = draft
        .split("\n\n")
        .filter(|b| !b.lines().any(|line| line == "[[question]]"))
        .map(|b| if b.lines().any(|line| empty(&line)) { b.to_owned() } else { filled(b) })
        .collect();
    fs::write(folder.path().join("hushed.toml"), unasked.join("\n\n")).unwrap();
    let kit = examples().join("kit.toml");
    let refused = overcup(folder.path(), &["check", "hushed.toml", "--kit", kit.to_str().unwrap()]);
    assert_eq!(refused.status.code(), Some(2));
    let text = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(text.contains("\"file\" is empty"), "{text}");
}

/// All bodies in one file, by their names.
#[test]
fn the_first_example_from_one_file() {
    let folder = tempfile::tempdir().unwrap();
    let mut files: Vec<PathBuf> = fs::read_dir(examples().join("pressure-car/mesh"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    files.sort();
    let (mut obj, mut next) = (String::new(), 1);
    for file in &files {
        writeln!(obj, "o {}", file.file_stem().unwrap().to_str().unwrap()).unwrap();
        let bytes = fs::read(file).unwrap();
        for facet in bytes[84..].chunks_exact(50) {
            for corner in facet[12..48].chunks_exact(12) {
                let at = |i: usize| f32::from_le_bytes(corner[i..i + 4].try_into().unwrap());
                writeln!(obj, "v {} {} {}", at(0), at(4), at(8)).unwrap();
            }
            writeln!(obj, "f {} {} {}", next, next + 1, next + 2).unwrap();
            next += 3;
        }
    }
    fs::write(folder.path().join("car.obj"), obj).unwrap();
    let args =
        ["intake", "car.obj", "--unit", "mm", "--deviation", "0.05 mm", "--out", "case.toml"];
    println!("{}", same_verdicts("pressure-car", folder.path(), &args, false, 0.1));
}

/// The words of the command for a folder of stripped meshes.
fn stripped(folder: &Path, more: &[&str]) -> Vec<String> {
    let mut files: Vec<String> = fs::read_dir(folder.join("mesh"))
        .unwrap()
        .map(|entry| format!("mesh/{}", entry.unwrap().file_name().to_str().unwrap()))
        .collect();
    files.sort();
    let own = ["--unit", "in", "--out", "case.toml", "--picture", "plan.svg"];
    let all = std::iter::once("intake".to_owned()).chain(files);
    all.chain(own.iter().chain(more).map(|s| (*s).to_owned())).collect()
}

/// A direction of `[frame]`.
fn direction(draft: &str, key: &str) -> [f64; 3] {
    let list = value(draft, key).unwrap().trim_matches(['[', ']']);
    let all: Vec<f64> = list.split(',').map(|v| v.trim().parse().unwrap()).collect();
    all.try_into().unwrap()
}

/// No hinge: the planner sees in the plan where the hinge stood, and drafts again with its bearing.
#[test]
fn the_surveyed_example_without_names_turned_and_in_inches() {
    let folder = tempfile::tempdir().unwrap();
    let plate = strip("odd-housing", folder.path());
    let of_plate = format!("{plate}=0.3 mm");
    let known = ["--units", "mm", "--deviation", "2.5 mm", "--deviation", &of_plate];
    let args = stripped(folder.path(), &known);
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    assert_eq!(overcup(folder.path(), &args).status.code(), Some(1));
    let draft = fs::read_to_string(folder.path().join("case.toml")).unwrap();
    assert!(draft.contains("frame, toward-hinge"), "{draft}");
    let (up, x) = (direction(&draft, "up"), direction(&draft, "toward-hinge"));
    // Where the true +x points: the first column of the turn in `strip`.
    let k = [1.0, 2.0, 3.0].map(|c: f64| c / 14.0_f64.sqrt());
    let (s, c) = 0.7_f64.sin_cos();
    let real = [
        c + k[0] * k[0] * (1.0 - c),
        k[2] * s + k[1] * k[0] * (1.0 - c),
        -k[1] * s + k[2] * k[0] * (1.0 - c),
    ];
    let dot = |a: [f64; 3], b: [f64; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    let y = [up[1] * x[2] - up[2] * x[1], up[2] * x[0] - up[0] * x[2], up[0] * x[1] - up[1] * x[0]];
    let bearing = dot(real, y).atan2(dot(real, x)).to_degrees();
    // A planner reads it off the plan to the side it is on.
    let side = (bearing / 90.0).round() * 90.0;
    assert!((bearing - side).abs() < 0.1, "{bearing}");
    fs::remove_file(folder.path().join("case.toml")).unwrap();
    fs::remove_file(folder.path().join("plan.svg")).unwrap();
    let hinge = format!("{side} deg");
    let args = [args.as_slice(), &["--hinge-at", &hinge]].concat();
    println!("{}", same_verdicts("odd-housing", folder.path(), &args, true, 0.5));
}

/// One's own words decide what the usual ones leave open, and faults in them are told with their place.
#[test]
fn ones_own_words() {
    let folder = tempfile::tempdir().unwrap();
    let words = folder.path().join("words.toml");
    let mut files: Vec<String> = fs::read_dir(examples().join("pressure-car/mesh"))
        .unwrap()
        .map(|entry| entry.unwrap().path().to_str().unwrap().to_owned())
        .collect();
    files.sort();
    let mut args: Vec<&str> = vec!["intake"];
    args.extend(files.iter().map(String::as_str));
    args.extend(["--unit", "mm", "--deviation", "0.05 mm", "--words", "words.toml"]);
    fs::write(&words, "format = 1\n[words]\n\"sampling valve\" = [\"sv\"]\n").unwrap();
    let output = overcup(folder.path(), &[&args[..], &["--out", "case.toml"]].concat());
    assert_eq!(output.status.code(), Some(1));
    let draft = fs::read_to_string(folder.path().join("case.toml")).unwrap();
    assert!(draft.contains("\nkind = \"sampling valve\"\n") && !draft.contains("\"SV\\\", kind"));
    let bad = "format = 1\n[words]\nplate = [\"*\", 3]\nlids = [\"deckel\"]\n";
    fs::write(&words, bad).unwrap();
    let output = overcup(folder.path(), &[&args[..], &["--out", "other.toml"]].concat());
    assert_eq!(output.status.code(), Some(2));
    assert!(!folder.path().join("other.toml").exists());
    insta::assert_snapshot!(String::from_utf8_lossy(&output.stderr));
}

#[test]
fn what_cannot_be_drafted_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let (plate, prd) = ("plate.stl", "prd-body.stl");
    for name in [plate, prd] {
        let from = examples().join("pressure-car/mesh").join(name);
        fs::copy(from, folder.path().join(name)).unwrap();
    }
    let tell = |args: &[&str]| {
        let output = overcup(folder.path(), args);
        let told = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.stdout.is_empty() && fs::read_dir(folder.path()).unwrap().count() == 2);
        format!("status: {}\n{told}", output.status.code().unwrap())
    };
    let known = ["--unit", "mm", "--deviation", "0.05 mm", "--out", "case.toml"];
    let mut told = String::new();
    let cases: [(&str, Vec<&str>); 8] = [
        ("no unit", vec![plate, "--deviation", "0.05 mm", "--out", "case.toml"]),
        ("no deviation", vec![plate, "--unit", "mm", "--out", "case.toml"]),
        ("no such body", [&[plate, prd, "--deviation", "lid=1 mm"], &known[..]].concat()),
        ("a bare number", [&[plate, "--deviation", "3"], &known[..]].concat()),
        ("nothing stands", [&[plate], &known[..]].concat()),
        ("no housing", [&[plate, prd], &known[..]].concat()),
        (
            "the wrong unit",
            vec![plate, prd, "--unit", "in", "--deviation", "0.05 mm", "--out", "case.toml"],
        ),
        ("no such file", [&["nowhere.stl"], &known[..]].concat()),
    ];
    for (what, args) in cases {
        let words = [&["intake"], &args[..]].concat();
        writeln!(told, "--- {what}\n{}", tell(&words)).unwrap();
    }
    insta::assert_snapshot!(told);
}
