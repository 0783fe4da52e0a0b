//! The whole command: what it prints where, and its exit status.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod box_car;
mod inspect;

use box_car::BoxCar;
use std::fs;
use std::process::Output;

/// Status, stdout and stderr as one text.
fn told(output: &Output) -> String {
    format!(
        "status: {}\n--- stdout\n{}--- stderr\n{}",
        output.status.code().map_or_else(|| "none".into(), |code| code.to_string()),
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    )
}

#[test]
fn help() {
    let car = BoxCar::new();
    insta::assert_snapshot!(told(&car.overcup(&["--help"])));
}

#[test]
fn help_of_check() {
    let car = BoxCar::new();
    insta::assert_snapshot!(told(&car.overcup(&["check", "--help"])));
}

#[test]
fn no_command() {
    let car = BoxCar::new();
    assert_eq!(car.overcup(&[]).status.code(), Some(2));
    assert_eq!(car.overcup(&["check"]).status.code(), Some(2));
    assert_eq!(car.overcup(&["check", "car", "--json", "--details"]).status.code(), Some(2));
}

#[test]
fn table_of_a_car_where_one_fits_and_one_does_not() {
    let car = BoxCar::new();
    insta::assert_snapshot!(told(&car.overcup(&["check", "car", "--kit", "kit.toml"])));
}

#[test]
fn details_of_a_fitting_that_can_be_covered() {
    let car = BoxCar::new();
    let output = car.overcup(&["check", "car/case.toml", "--kit", "kit.toml", "--fitting", "N1"]);
    assert_eq!(output.status.code(), Some(0));
    insta::assert_snapshot!(told(&output));
}

#[test]
fn guidance_where_no_single_change_helps() {
    let car = BoxCar::new();
    let output = car.overcup(&["check", "car", "--kit", "kit.toml", "--cup", "C", "--advise"]);
    assert_eq!(output.status.code(), Some(1));
    insta::assert_snapshot!(told(&output));
}

#[test]
fn details_in_millimetres() {
    let car = BoxCar::new();
    let args = ["check", "car", "--fitting", "N1", "--cup", "C", "--units", "mm"];
    let output = car.overcup(&args);
    assert_eq!(output.status.code(), Some(0));
    insta::assert_snapshot!(told(&output));
}

#[test]
fn as_built_variations_beside_the_table() {
    let car = BoxCar::new();
    let args = ["check", "car", "--vary", "40"];
    let output = car.overcup(&args);
    insta::assert_snapshot!(told(&output));
    // The same seed draws the same; the record holds what the table shows.
    assert_eq!(told(&car.overcup(&["check", "car", "--vary", "40", "--seed", "1"])), told(&output));
    let json = car.overcup(&["check", "car", "--vary", "40", "--json"]);
    let record: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    let variations = &record["fittings"][0]["variations"];
    assert_eq!((&variations["draws"], &variations["seed"]), (&40.into(), &1.into()));
    assert_eq!(variations["as_planned"]["count"], 40);
}

#[test]
fn a_number_of_variations_out_of_bounds_is_told() {
    let car = BoxCar::new();
    for (name, draws) in [("none", "0"), ("too_many", "100001")] {
        let output = car.overcup(&["check", "car", "--vary", draws]);
        assert_eq!(output.status.code(), Some(2));
        insta::assert_snapshot!(format!("variations_{name}"), told(&output));
    }
    assert_eq!(car.overcup(&["check", "car", "--vary", "-3"]).status.code(), Some(2));
    assert_eq!(car.overcup(&["check", "car", "--seed", "3"]).status.code(), Some(2));
}

#[test]
fn an_effort_out_of_bounds_is_told() {
    let car = BoxCar::new();
    for (name, pieces) in [("none", "0"), ("too_much", "1000001")] {
        let output = car.overcup(&["check", "car", "--effort", pieces]);
        assert_eq!(output.status.code(), Some(2));
        insta::assert_snapshot!(format!("effort_{name}"), told(&output));
        let of_hold = car.overcup(&["hold", "car", "--effort", pieces]);
        assert_eq!((of_hold.status, told(&of_hold)), (output.status, told(&output)));
    }
    let output = car.overcup(&["hold", "car", "--kit", "kit.toml", "--effort", "7", "--json"]);
    let record: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(record["pieces"], 7);
    assert_eq!(car.overcup(&["check", "car", "--effort", "-3"]).status.code(), Some(2));
}

#[test]
fn bearings_overall_beside_those_at_the_placement() {
    let car = BoxCar::new();
    let args = ["check", "car", "--fitting", "N1", "--cup", "C", "--bearings"];
    let output = car.overcup(&args);
    assert_eq!(output.status.code(), Some(0));
    insta::assert_snapshot!(told(&output));
    let json = car.overcup(&[args.as_slice(), &["--json"]].concat());
    fs::write(car.path("record.json"), &json.stdout).unwrap();
    assert_eq!(car.overcup(&["verify", "record.json"]).status.code(), Some(0));
    let record: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    let fitting = &record["fittings"][0];
    let arcs = |value: &serde_json::Value| -> Vec<[f64; 2]> {
        serde_json::from_value(value.clone()).unwrap()
    };
    let overall = &fitting["bearings_overall"];
    let [free, blocked, undecided] =
        ["free_deg", "blocked_deg", "undecided_deg"].map(|list| arcs(&overall[list]));
    let width = |arcs: &[[f64; 2]]| arcs.iter().map(|[from, to]| to - from).sum::<f64>();
    assert!((width(&free) + width(&blocked) + width(&undecided) - 360.0).abs() < 1e-6);
    // What is free at the placement is free at best.
    for [from, to] in arcs(&fitting["free_bearings_deg"]) {
        let within = |arc: &[f64; 2]| {
            let off = (from - arc[0] + 1e-9).rem_euclid(360.0) + to - from;
            arc[1] - arc[0] >= 360.0 || off <= arc[1] - arc[0] + 2e-9
        };
        assert!(free.iter().any(within), "{from} to {to} is not in {free:?}");
    }
    assert_eq!(
        fitting["free_bearings_limits"].as_array().unwrap().len(),
        arcs(&fitting["free_bearings_deg"]).len()
    );
}

#[test]
fn without_a_lid_in_the_document_it_cannot_be_told() {
    let car = BoxCar::new();
    car.edit("car/case.toml", "[lid]\nfitted = false\n", "");
    let output = car.overcup(&["check", "car", "--fitting", "N1", "--cup", "C"]);
    assert_eq!(output.status.code(), Some(1));
    insta::assert_snapshot!(told(&output));
}

#[test]
fn unknown_names_are_told_with_the_known_ones() {
    let car = BoxCar::new();
    let args = ["check", "car", "--fitting", "LV9", "--fitting", "N1", "--cup", "Z"];
    insta::assert_snapshot!(told(&car.overcup(&args)));
}

#[test]
fn faults_of_both_documents_are_told_together() {
    let car = BoxCar::new();
    car.edit("car/case.toml", "width = \"100 mm\"", "width = 100");
    car.edit("kit.toml", "bar-level = \"2 mm\"", "bar-levl = \"2 mm\"");
    insta::assert_snapshot!(told(&car.overcup(&["check", "car", "--kit", "kit.toml"])));
}

#[test]
fn no_such_case() {
    let car = BoxCar::new();
    let output = car.overcup(&["check", "nowhere.toml", "--kit", "kit.toml"]);
    insta::assert_snapshot!(told(&output));
}

#[test]
fn no_kit_given_and_none_near() {
    let car = BoxCar::new();
    fs::remove_file(car.path("kit.toml")).unwrap();
    insta::assert_snapshot!(told(&car.overcup(&["check", "car"])));
}

#[test]
fn the_kit_beside_the_case_is_found() {
    let car = BoxCar::new();
    let given = car.overcup(&["check", "car", "--kit", "kit.toml", "--fitting", "N1"]);
    assert_eq!(car.overcup(&["check", "car", "--fitting", "N1"]).stdout, given.stdout);
    fs::rename(car.path("kit.toml"), car.path("car/kit.toml")).unwrap();
    assert_eq!(car.overcup(&["check", "car", "--fitting", "N1"]).stdout, given.stdout);
}

#[test]
fn the_record_is_the_same_on_any_number_of_threads() {
    let car = BoxCar::new();
    let run = |threads| {
        let args = ["check", "car", "--kit", "kit.toml", "--json"];
        car.overcup_with(&args, &[("RAYON_NUM_THREADS", threads)])
    };
    let one = run("1");
    assert_eq!(one.status.code(), Some(1));
    assert_eq!(String::from_utf8(one.stderr).unwrap(), "");
    for threads in ["1", "2", "5"] {
        assert_eq!(run(threads).stdout, one.stdout);
    }
}

#[test]
fn the_record_states_what_it_rests_on() {
    let car = BoxCar::new();
    let args = ["check", "car", "--kit", "kit.toml", "--fitting", "N1", "--json"];
    let output = car.overcup(&args);
    let record: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(record["format"], 2);
    assert_eq!(record["program"], env!("CARGO_PKG_VERSION"));
    assert_eq!(record["kit"]["title"], "Test kit");
    assert_eq!(record["rules"]["plan_spacing_mm"], 19.05);
    // The document and its five meshes; hashes as in FIPS 180-4 are 64 hexadecimal digits.
    let files = record["case"]["files"].as_array().unwrap();
    assert_eq!(files.len(), 6);
    assert!(files.iter().all(|f| f["sha256"].as_str().unwrap().len() == 64));
    let cautions = record["cautions"].as_array().unwrap();
    assert!(cautions[0].as_str().unwrap().contains("not a procedure"));
    let fitting = &record["fittings"][0];
    assert_eq!(fitting["verdict"], "fits after removal");
    assert_eq!(fitting["removed"][0]["piece"], "handwheel");
    assert!(fitting["least_margin_mm"]["low"].as_f64().unwrap() > 0.0);
    assert_eq!(fitting["checks"].as_array().unwrap().len(), 10);
    // Gasket, cup, two feet, the clamp, two pins, the screw; the last waypoint is the place.
    let ways = fitting["ways"].as_array().unwrap();
    assert_eq!(ways.len(), 8);
    for way in ways {
        let points = way["waypoints"].as_array().unwrap();
        let last = points.last().unwrap();
        assert_eq!(last["shift_mm"], serde_json::json!([0.0, 0.0, 0.0]));
        assert_eq!(
            way["parts"].as_array().unwrap().len(),
            way["settling_mm"].as_array().unwrap().len()
        );
        assert!(way["clearance_mm"].as_f64().unwrap() > 0.0);
    }
    assert_eq!(fitting["cups"].as_array().unwrap().len(), 2);
}

#[test]
fn no_ansi_without_a_terminal() {
    let car = BoxCar::new();
    let good = car.overcup(&["check", "car", "--fitting", "N1"]);
    let bad = car.overcup(&["check", "car", "--fitting", "X"]);
    for text in [&good.stdout, &good.stderr, &bad.stdout, &bad.stderr] {
        assert!(!text.contains(&0x1b));
    }
    // Asked for explicitly it comes, and the other way round wins.
    let force = [("CLICOLOR_FORCE", "1")];
    let forced = car.overcup_with(&["check", "car", "--fitting", "N1"], &force);
    assert!(forced.stdout.contains(&0x1b));
    let both = [("CLICOLOR_FORCE", "1"), ("NO_COLOR", "1")];
    let plain = car.overcup_with(&["check", "car", "--fitting", "N1"], &both);
    assert!(!plain.stdout.contains(&0x1b));
}

#[test]
fn meshes_are_written_whole_with_an_index() {
    let car = BoxCar::new();
    let args = ["check", "car", "--fitting", "N1", "--cup", "C", "--meshes", "out"];
    assert_eq!(car.overcup(&args).status.code(), Some(0));
    let index: serde_json::Value =
        serde_json::from_slice(&fs::read(car.path("out/index.json")).unwrap()).unwrap();
    let fitting = &index["fittings"][0];
    assert_eq!((&fitting["name"], &fitting["cup"]), (&"N1".into(), &"C".into()));
    let parts = fitting["parts"].as_array().unwrap();
    let names: Vec<&str> = parts.iter().map(|p| p["name"].as_str().unwrap()).collect();
    assert!(names.contains(&"cup") && names.contains(&"n1-body"));
    assert!(!names.contains(&"n1-handwheel"), "what is taken off is not there");
    for part in parts {
        let file = format!("out/n1/{}", part["file"].as_str().unwrap());
        let text = fs::read_to_string(car.path(&file)).unwrap();
        assert!(text.lines().any(|l| l.starts_with("f ")), "{file} has no triangle");
    }
    // The body is written with the coordinates that were read.
    let body = fs::read_to_string(car.path("out/n1/car-n1-body.obj")).unwrap();
    assert!(body.contains("v -40 -40 0\n") && body.contains("v 40 40 150\n"));
    // Every figure is about parts that were written.
    let figures = fitting["figures"].as_array().unwrap();
    assert!(figures.iter().any(|f| f["mesh_distance_mm"].as_f64().is_some_and(|d| d > 0.0)));
    for figure in figures {
        assert!(names.contains(&figure["a"].as_str().unwrap()));
        assert!(names.contains(&figure["b"].as_str().unwrap()));
    }
    let left: Vec<_> =
        fs::read_dir(car.path("")).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(left.len(), 3, "nothing but car, kit.toml and out: {left:?}");
}

/// Ctrl-C at any time: the folder is there with all in it, or it is not there.
#[cfg(unix)]
#[test]
fn an_interrupted_run_leaves_no_half_of_the_meshes() {
    let car = BoxCar::new();
    let args = ["check", "car", "--fitting", "N1", "--cup", "C", "--meshes", "out", "--json"];
    let (mut stopped, mut whole) = (0, 0);
    for wait in [0, 20, 50, 100, 150, 200, 250, 300, 400, 600, 60_000] {
        let mut run = car.begun(&args);
        let until = std::time::Instant::now() + std::time::Duration::from_millis(wait);
        while std::time::Instant::now() < until && run.try_wait().unwrap().is_none() {
            std::thread::sleep(std::time::Duration::from_millis(2));
        }
        let pid = run.id().to_string();
        std::process::Command::new("kill").args(["-INT", &pid]).output().unwrap();
        let ended = run.wait().unwrap();
        let out = car.path("out");
        if ended.success() {
            let printed = fs::read_to_string(car.path("printed")).unwrap();
            assert!(out.join("index.json").is_file() && printed.ends_with("}\n"));
            whole += 1;
        } else {
            stopped += 1;
        }
        if out.exists() {
            let index: serde_json::Value =
                serde_json::from_slice(&fs::read(out.join("index.json")).unwrap()).unwrap();
            for part in index["fittings"][0]["parts"].as_array().unwrap() {
                let file = out.join("n1").join(part["file"].as_str().unwrap());
                assert!(file.is_file(), "{wait} ms: {}", file.display());
            }
            fs::remove_dir_all(out).unwrap();
        }
    }
    assert!(stopped >= 2 && whole >= 1, "{stopped} stopped, {whole} whole");
}

#[test]
fn meshes_never_go_into_a_folder_that_holds_something() {
    let car = BoxCar::new();
    fs::create_dir(car.path("out")).unwrap();
    fs::write(car.path("out/mine.txt"), "mine").unwrap();
    let args = ["check", "car", "--fitting", "N1", "--cup", "C", "--meshes", "out"];
    insta::assert_snapshot!(told(&car.overcup(&args)));
    assert_eq!(fs::read_dir(car.path("out")).unwrap().count(), 1);
    fs::remove_file(car.path("out/mine.txt")).unwrap();
    assert_eq!(car.overcup(&args).status.code(), Some(0));
}

#[test]
fn a_scene_is_written_and_told() {
    let car = BoxCar::new();
    let args = ["export", "car", "--fitting", "N1", "--cup", "C", "--out", "n1.glb"];
    let output = car.overcup(&args);
    assert_eq!(output.status.code(), Some(0), "{}", told(&output));
    insta::assert_snapshot!(told(&output));
    let scene = fs::read(car.path("n1.glb")).unwrap();
    // The container's head: magic, version 2, its own length (ISO/IEC 12113, 4.4).
    assert_eq!(&scene[..8], b"glTF\x02\0\0\0");
    assert_eq!(
        usize::try_from(u32::from_le_bytes(scene[8..12].try_into().unwrap())),
        Ok(scene.len())
    );
    // It is never written over.
    let again = car.overcup(&args);
    assert_eq!(again.status.code(), Some(2));
    assert!(told(&again).contains("n1.glb is there already"), "{}", told(&again));
    assert_eq!(fs::read(car.path("n1.glb")).unwrap(), scene);
}

#[test]
fn a_scene_of_a_fitting_that_does_not_fit_is_written_too() {
    let car = BoxCar::new();
    let output = car.overcup(&["export", "car", "--fitting", "N2", "--out", "n2.glb"]);
    assert_eq!(output.status.code(), Some(1), "{}", told(&output));
    assert!(car.path("n2.glb").is_file());
}

#[test]
fn a_scene_shows_one_fitting() {
    let car = BoxCar::new();
    let output = car.overcup(&["export", "car", "--out", "all.glb"]);
    assert_eq!(output.status.code(), Some(2));
    insta::assert_snapshot!(told(&output));
    let nowhere = car.overcup(&["export", "car", "--fitting", "N1", "--out", "no/n1.glb"]);
    assert_eq!(nowhere.status.code(), Some(2));
    assert!(told(&nowhere).contains("cannot be written"), "{}", told(&nowhere));
}

#[test]
fn help_of_hold() {
    let car = BoxCar::new();
    insta::assert_snapshot!(told(&car.overcup(&["hold", "--help"])));
}

#[test]
fn where_nothing_is_given_for_the_sealing_it_cannot_be_told() {
    let car = BoxCar::new();
    insta::assert_snapshot!(told(&car.overcup(&["hold", "car", "--kit", "kit.toml"])));
    let output = car.overcup(&["hold", "car", "--fitting", "N1", "--cup", "C", "--units", "mm"]);
    assert_eq!(output.status.code(), Some(1));
    insta::assert_snapshot!("sealing_of_which_nothing_is_given", told(&output));
}

/// A temperature at the critical point of carbon dioxide, 304 K, is a fault; a class that is not in the table
/// is none.
#[test]
fn a_lading_beyond_its_critical_point_is_a_fault_and_an_unknown_class_is_none() {
    let car = BoxCar::new();
    let path = car.path("car/case.toml");
    let more = "\n[lading]\nname = \"carbon dioxide\"\ntemperature = [\"20 deg C\", \"35 deg C\"]\n\
                air-pressure = \"1 bar\"\n\n[tank]\nclass = \"105J301W\"\n";
    fs::write(&path, fs::read_to_string(&path).unwrap() + more).unwrap();
    let output = car.overcup(&["hold", "car", "--fitting", "N1", "--cup", "C"]);
    assert_eq!(output.status.code(), Some(2));
    insta::assert_snapshot!(told(&output));
    // Whether it fits is told all the same.
    assert_eq!(
        car.overcup(&["check", "car", "--fitting", "N1", "--cup", "C"]).status.code(),
        Some(0)
    );
    let below = fs::read_to_string(&path).unwrap().replace("35 deg C", "25 deg C");
    fs::write(&path, below).unwrap();
    let output = car.overcup(&["hold", "car", "--fitting", "N1", "--cup", "C"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(told(&output).contains("105J301W"), "{}", told(&output));
}

#[test]
fn the_sealing_changes_nothing_else_in_the_record_and_is_verified() {
    let car = BoxCar::new();
    let output = car.overcup(&["hold", "car", "--kit", "kit.toml", "--json"]);
    let mut record: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let (code, out, err) = verify(&car, &record);
    assert_eq!((code, err.as_str()), (Some(0), ""), "{out}");
    let fittings = record["fittings"].as_array_mut().unwrap();
    let sealing = fittings[0].as_object_mut().unwrap().remove("sealing").unwrap();
    assert_eq!(sealing["verdict"], "cannot tell");
    assert_eq!(sealing["modes"].as_array().unwrap().len(), 58);
    assert!(fittings[1].as_object().unwrap().get("sealing").is_none(), "it does not fit");
    let caution = record["cautions"].as_array_mut().unwrap().remove(0);
    assert!(caution.as_str().unwrap().contains("engineer must confirm"));
    assert_eq!(record, recorded(&car));
}

/// A record of the box car.
fn recorded(car: &BoxCar) -> serde_json::Value {
    let output = car.overcup(&["check", "car", "--kit", "kit.toml", "--json"]);
    serde_json::from_slice(&output.stdout).unwrap()
}

fn verify(car: &BoxCar, record: &serde_json::Value) -> (Option<i32>, String, String) {
    std::fs::write(car.path("record.json"), record.to_string()).unwrap();
    let output = car.overcup(&["verify", "record.json"]);
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (output.status.code(), text(output.stdout), text(output.stderr))
}

#[test]
fn a_record_is_verified() {
    let car = BoxCar::new();
    let record = recorded(&car);
    let (code, out, err) = verify(&car, &record);
    assert_eq!((code, err.as_str()), (Some(0), ""), "{out}");
    assert!(out.contains("re-checked, 0 refused") && out.contains("planning aid"), "{out}");
    assert!(out.contains("N1, cup C: fits at the placement written down"), "{out}");
}

#[test]
fn a_falsified_record_is_refused() {
    let car = BoxCar::new();
    let good = recorded(&car);
    // More to spare than there is; a placement moved; a proof dropped.
    let mut more = good.clone();
    more["fittings"][0]["least_margin_mm"]["low"] = 3.0.into();
    let mut moved = good.clone();
    moved["fittings"][0]["placement"]["cup_offset_mm"][1] = 40.0.into();
    let mut dropped = good.clone();
    let cups = dropped["fittings"][1]["cups"].as_array_mut().unwrap();
    assert!(cups.iter().all(|c| c["verdict"] == "does not fit"));
    cups[0]["certificates"] = serde_json::json!([]);
    for falsified in [more, moved, dropped] {
        let (code, out, err) = verify(&car, &falsified);
        assert_eq!((code, err.as_str()), (Some(1), ""), "{out}");
        assert!(out.contains("1 refused"), "{out}");
    }
}

#[test]
fn what_is_no_record_or_of_other_files_is_told() {
    let car = BoxCar::new();
    let good = recorded(&car);
    let mut other = good.clone();
    other["case"]["files"][1]["sha256"] = "00".repeat(32).into();
    let mut newer = good;
    newer["format"] = 99.into();
    for (bad, words) in [
        (other, "SHA-256 differs"),
        (newer, "has format 99"),
        (serde_json::json!({"fittings": 7}), "is no record"),
    ] {
        let (code, out, err) = verify(&car, &bad);
        assert_eq!((code, out.as_str()), (Some(2), ""), "{err}");
        assert!(err.contains(words), "{err}");
    }
}
