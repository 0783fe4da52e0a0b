//! Every example document, as its verdicts.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

fn examples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples")
}

/// Folders with a case, by name.
fn cases() -> Vec<String> {
    let mut found: Vec<String> = fs::read_dir(examples())
        .unwrap()
        .map(|entry| entry.unwrap())
        .filter(|entry| entry.path().join("case.toml").is_file())
        .map(|entry| entry.file_name().into_string().unwrap())
        .collect();
    found.sort();
    found
}

/// To a hundredth of a millimetre, so that another processor's last digits do not count.
fn rounded(value: &Value) -> Value {
    value.as_f64().map_or(Value::Null, |v| json!((v * 100.0).round() / 100.0))
}

fn trimmed(fitting: &Value) -> Value {
    let limit = &fitting["limit"];
    let removed: Vec<String> = fitting["removed"]
        .as_array()
        .unwrap()
        .iter()
        .map(|r| format!("{} {}", r["fitting"], r["piece"]).replace('"', ""))
        .collect();
    let least = &fitting["least_margin_mm"];
    // Where nothing fits, the pieces off and the exact placement are only the search's best guess.
    let fits = fitting["verdict"].as_str().unwrap().starts_with("fits");
    json!({
        "name": fitting["name"],
        "verdict": fitting["verdict"],
        "basis": fitting["basis"],
        "cup": fitting["cup"],
        "removed": if fits { json!(removed) } else { Value::Null },
        "least margin mm": [rounded(&least["low"]), rounded(&least["high"])],
        "limit": format!("{}: {} to {}", limit["rule"], limit["a"], limit["b"]).replace('"', ""),
        "plan check passes": fitting["plan"]["passes"],
    })
}

#[test]
fn every_example_keeps_its_verdicts() {
    let cases = cases();
    assert!(cases.len() >= 3, "examples are missing: found {cases:?}");
    for case in cases {
        let output = Command::new(env!("CARGO_BIN_EXE_overcup"))
            .args(["check", &case, "--kit", "kit.toml", "--json"])
            .current_dir(examples())
            .output()
            .unwrap();
        let status = output.status.code();
        let told = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(matches!(status, Some(0 | 1)), "{case} ended with {status:?}: {told}");
        let record: Value = serde_json::from_slice(&output.stdout).unwrap();
        let fittings: Vec<Value> =
            record["fittings"].as_array().unwrap().iter().map(trimmed).collect();
        assert!(!fittings.is_empty(), "{case} has no fitting");
        insta::assert_json_snapshot!(case.clone(), fittings);
    }
}

/// The example tells how VV2 can be covered: moved inward from 222 to 202 mm.
#[test]
fn the_advice_for_the_valve_that_is_moved_agrees_with_the_example_that_moves_it() {
    let output = Command::new(env!("CARGO_BIN_EXE_overcup"))
        .args(["check", "pressure-car", "--kit", "kit.toml", "--json"])
        .args(["--fitting", "VV2", "--cup", "C", "--units", "mm", "--advise"])
        .current_dir(examples())
        .output()
        .unwrap();
    let record: Value = serde_json::from_slice(&output.stdout).unwrap();
    let changes = record["fittings"][0]["guidance"]["changes"].as_array().unwrap();
    let inward = changes.iter().find(|c| c["change"]["toward"] == "inward").unwrap();
    assert_eq!(inward["change"]["kind"], "move-fitting");
    assert_eq!(inward["change"]["what"], "VV2");
    let by = inward["change"]["by_mm"].as_f64().unwrap();
    assert!(by > 0.0 && by <= 222.0 - 202.0, "{by}");
    assert!(inward["least_margin_mm"]["low"].as_f64().unwrap() > 0.0);
    assert_eq!(inward["still_fit"], json!(["PRD", "LV1", "LV2", "VV1"]));
}

/// To three figures, so that another processor's last digits do not count.
fn figures(bounds: &Value) -> Value {
    let three = |v: &Value| v.as_f64().map_or(Value::Null, |v| json!(format!("{v:.2e}")));
    json!([three(&bounds["low"]), three(&bounds["high"])])
}

fn sealed(fitting: &Value) -> Value {
    let sealing = &fitting["sealing"];
    if sealing.is_null() {
        return json!({ "name": fitting["name"], "verdict": fitting["verdict"] });
    }
    let governing = sealing["governing"].as_u64().map_or(Value::Null, |at| {
        let mode = &sealing["modes"][usize::try_from(at).unwrap()];
        json!([mode["mode"], mode["port"], figures(&mode["factor"])])
    });
    let beside: Vec<Value> = sealing["beside"]
        .as_array()
        .unwrap()
        .iter()
        .map(|b| json!([b["pressure"]["from"], b["verdict"]]))
        .collect();
    json!({
        "name": fitting["name"],
        "cup": fitting["cup"],
        "sealing": sealing["verdict"],
        "pressure": [sealing["pressure"]["from"], figures(&sealing["pressure"]["gauge_mpa"])],
        "beside": beside,
        "needed load N": figures(&sealing["needed_load_n"]),
        "torque N mm": figures(&sealing["torque_n_mm"]),
        "governs": governing,
        "shear share": figures(&sealing["shear_share"]["share"]),
        "lacking": sealing["lacking"].as_array().unwrap().len(),
    })
}

/// One car holds what it carries when it is cool, one does not hold the pressure that is stated, of
/// one nothing is said.
#[test]
fn every_example_keeps_how_it_is_sealed() {
    for case in cases() {
        let output = Command::new(env!("CARGO_BIN_EXE_overcup"))
            .args(["hold", &case, "--kit", "kit.toml", "--json"])
            .current_dir(examples())
            .output()
            .unwrap();
        let record: Value = serde_json::from_slice(&output.stdout).unwrap();
        let fittings: Vec<Value> =
            record["fittings"].as_array().unwrap().iter().map(sealed).collect();
        insta::assert_json_snapshot!(format!("{case}-sealing"), fittings);
    }
}

/// The whole of one fitting as people read it.
#[test]
fn the_sealing_of_one_fitting_in_all_details() {
    let output = Command::new(env!("CARGO_BIN_EXE_overcup"))
        .args(["hold", "pressure-car", "--kit", "kit.toml", "--fitting", "LV2", "--cup", "C"])
        .current_dir(examples())
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0));
    insta::assert_snapshot!(String::from_utf8(output.stdout).unwrap());
}

/// One piece of the placement space proves nothing, and the record and the details say that the search
/// ended; the usual number decides.
#[test]
fn a_search_that_ended_too_soon_says_so_and_a_longer_one_decides() {
    let run = |args: &[&str]| {
        Command::new(env!("CARGO_BIN_EXE_overcup"))
            .args(["check", "pressure-car", "--kit", "kit.toml", "--fitting", "LV1", "--cup", "D"])
            .args(args)
            .current_dir(examples())
            .output()
            .unwrap()
    };
    let record = |args: &[&str]| -> Value { serde_json::from_slice(&run(args).stdout).unwrap() };
    let short = record(&["--json", "--effort", "1"]);
    let fitting = &short["fittings"][0];
    assert_eq!((&short["pieces"], &fitting["verdict"]), (&json!(1), &json!("cannot tell")));
    assert_eq!(fitting["doubts"], json!(["search ended"]));
    assert_eq!(fitting["cups"][0]["doubts"], json!(["search ended"]));
    assert_eq!(fitting["reasons"], json!(["not decided within 1 piece of the placement space"]));
    let told = String::from_utf8(run(&["--effort", "1"]).stdout).unwrap();
    assert!(told.contains("the search ended before it could tell"), "{told}");
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    let hint = "cannot tell: search ended: not decided within 1 piece of the placement space; a \
                longer search may decide: --effort 10";
    assert!(told.contains(hint), "{told}");

    let usual = record(&["--json"]);
    let fitting = &usual["fittings"][0];
    assert_eq!((&usual["pieces"], &fitting["verdict"]), (&json!(3000), &json!("does not fit")));
    assert_eq!(fitting["basis"], "proven");
    assert_eq!(fitting["doubts"], Value::Null);
}
