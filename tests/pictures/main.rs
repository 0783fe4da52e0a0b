//! Pictures of the first example beside those that were looked at and kept; and what `overcup-view` does
//! where a picture cannot be made.
//!
//! A picture that has changed lies in the target folder's `tmp/pictures`, with one of where it differs;
//! after looking at it, copy it over the kept one.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod compare;

use compare::{differing, is_alike};
use image::RgbaImage;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn view(arguments: &[&str]) -> Output {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    Command::new(env!("CARGO_BIN_EXE_overcup-view"))
        .args(arguments)
        .current_dir(root)
        .output()
        .unwrap()
}

/// The first example's fitting, small.
fn picture(fitting: &str, more: &[&str], out: &Path) -> Output {
    let mut arguments = vec!["picture", "examples/pressure-car", "--fitting", fitting];
    arguments.extend(["--size", "480x300", "--out", out.to_str().unwrap()]);
    arguments.extend(more);
    view(&arguments)
}

fn kept(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/pictures").join(format!("{name}.png"))
}

fn opened(path: &Path) -> RgbaImage {
    image::open(path).unwrap_or_else(|error| panic!("{}: {error}", path.display())).to_rgba8()
}

/// Draws, and compares with the kept picture. The status is 0 where the fitting can be covered.
fn check(name: &str, fitting: &str, more: &[&str], status: i32) {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("pictures");
    fs::create_dir_all(&folder).unwrap();
    let drawn = folder.join(format!("{name}.png"));
    let _ = fs::remove_file(&drawn);
    let output = picture(fitting, more, &drawn);
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(status), "{name}: {stderr}");
    assert_eq!(stderr, "", "{name}");
    let seen = opened(&drawn);
    let expected = opened(&kept(name));
    assert!(fs::metadata(kept(name)).unwrap().len() < 64 << 10, "{name} is too large to keep");
    if !is_alike(&seen, &expected) {
        let differs = folder.join(format!("{name}-differs.png"));
        differing(&seen, &expected).save(&differs).unwrap();
        panic!("{name} has changed: look at {} and {}", drawn.display(), differs.display());
    }
}

#[test]
fn from_above() {
    check("above", "LV1", &["--view", "above"], 0);
}

#[test]
fn along_the_bar_and_cut() {
    check("cut", "PRD", &["--view", "across-bar", "--section", "along-bar", "--parallel"], 0);
}

#[test]
fn where_it_does_not_fit() {
    check("limit", "VV2", &["--mark", "1", "--size", "400x250"], 1);
}

#[test]
fn from_over_the_hinge() {
    check("hinge", "LV1", &["--view", "from-hinge"], 0);
}

#[test]
fn half_way_through_the_installation() {
    check("installing", "PRD", &["--at", "9.6 s", "--view", "corner"], 0);
}

#[test]
fn the_rig_alone_on_nothing() {
    let only = ["--only", "cup", "--only", "side port", "--only", "gasket", "--only", "outlet*"];
    let mut more = vec!["--transparent", "--names", "--no-figures"];
    more.extend(only);
    check("transparent", "PRD", &more, 0);
    let seen = opened(&kept("transparent"));
    assert!(seen.pixels().any(|p| p.0[3] == 0) && seen.pixels().any(|p| p.0[3] == 255));
}

/// The threshold itself: what must be refused is.
#[test]
fn a_changed_picture_is_refused() {
    for name in ["above", "cut", "limit", "hinge", "installing", "transparent"] {
        let seen = opened(&kept(name));
        assert!(is_alike(&seen, &seen), "{name}");
        let (width, height) = seen.dimensions();
        // One pixel to the side.
        let shifted =
            RgbaImage::from_fn(width, height, |x, y| *seen.get_pixel((x + 1).min(width - 1), y));
        assert!(!is_alike(&seen, &shifted), "{name} shifted");
        let blank = RgbaImage::from_pixel(width, height, *seen.get_pixel(0, height / 2));
        assert!(!is_alike(&seen, &blank), "{name} blank");
        let smaller = image::imageops::crop_imm(&seen, 0, 0, width - 1, height).to_image();
        assert!(!is_alike(&seen, &smaller), "{name} cropped");
        // A part as large as a pin's end gone from the middle.
        let mut without = seen.clone();
        for (x, y) in (0..16).flat_map(|x| (0..16).map(move |y| (x, y))) {
            let at = (width / 2 + x - 8, height / 2 + y - 8);
            let [r, g, b, o] = without.get_pixel(at.0, at.1).0;
            without.put_pixel(at.0, at.1, image::Rgba([255 - r, 255 - g, 255 - b, o]));
        }
        assert!(!is_alike(&seen, &without), "{name} with a hole");
        // What another driver may do: every value off by a little.
        let other = RgbaImage::from_fn(width, height, |x, y| {
            let off = u8::try_from((x + y) % 3).unwrap();
            image::Rgba(seen.get_pixel(x, y).0.map(|c| c.saturating_add(off)))
        });
        assert!(is_alike(&seen, &other), "{name} by another driver");
    }
}

/// Bevy itself would panic.
#[test]
fn without_a_driver_it_tells_what_to_install() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("x.png");
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let output = Command::new(env!("CARGO_BIN_EXE_overcup-view"))
        .args(["picture", "examples/pressure-car", "--fitting", "PRD", "--out"])
        .arg(&out)
        .current_dir(root)
        .env("VK_DRIVER_FILES", "/nonexistent")
        .env("VK_ICD_FILENAMES", "/nonexistent")
        .output()
        .unwrap();
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{stderr}");
    assert!(stderr.contains("mesa-vulkan-drivers"), "{stderr}");
    assert!(!stderr.contains("panicked"), "{stderr}");
    assert!(!out.exists());
}

#[test]
fn what_is_asked_for_and_is_not_there_is_a_fault() {
    let folder = tempfile::tempdir().unwrap();
    let there = folder.path().join("there.png");
    fs::write(&there, b"kept").unwrap();
    let out = folder.path().join("x.png");
    for (more, words) in [
        (vec!["--mark", "40"], "there is no figure 40"),
        (vec!["--at", "99"], "there is no step 99"),
        (vec!["--at", "1000 s"], "after the end"),
        (vec!["--only", "spring"], "there is no part \"spring\""),
        (vec!["--section", "level=3"], "level=3"),
        (vec!["--size", "3x3"], "no size"),
    ] {
        let output = picture("PRD", &more, &out);
        let stderr = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{stderr}");
        assert!(stderr.contains(words), "{stderr}");
        assert!(!out.exists());
    }
    let output = picture("PRD", &[], &there);
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(fs::read(&there).unwrap(), b"kept");
}

#[test]
fn the_installation_as_numbered_pictures() {
    let folder = tempfile::tempdir().unwrap();
    let frames = folder.path().join("frames");
    let output = view(&[
        "picture",
        "examples/pressure-car",
        "--fitting",
        "PRD",
        "--size",
        "240x150",
        "--frames",
        frames.to_str().unwrap(),
        "--fps",
        "1",
    ]);
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{stderr}");
    let mut names: Vec<PathBuf> =
        fs::read_dir(&frames).unwrap().map(|entry| entry.unwrap().path()).collect();
    names.sort();
    // Eleven steps that end at 29 s.
    assert_eq!(names.len(), 30);
    assert!(names[0].ends_with("00001.png") && names[29].ends_with("00030.png"));
    let [first, middle, last] = [0, 15, 29].map(|i: usize| opened(&names[i]));
    assert!(!is_alike(&first, &middle) && !is_alike(&middle, &last) && !is_alike(&first, &last));
}
