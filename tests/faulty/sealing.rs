//! Faults in what the documents say for the sealing.

use crate::bench::{Bench, CASE, KIT, edited};
use crate::{case_refused, kit_refused};
use assembly::hold::{Fluid, GasketCode, LadingPressure, LoadedPart, ScrewEnds, ThreadForm};

type Edits = &'static [(&'static str, &'static str)];

const LADING: &str = "name = \"water, for the bench\"\ngauge-pressure = \"250 psi\"\nbasis = \"made for the \
                      test\"";

/// What else a case says for the sealing.
const SERVICE: &str = r#"[tank]
class = "105J300W"
start-to-discharge = "225 psi"
jacket = "insulation"

[sidewall]
yield-strength = "36 ksi"
basis = "made for the test"

[bolts.housing]
count = 20
diameter = "0.75 in"
pitch = "0.1 in"
shear-strength = "40 ksi"
basis = "made for the test"

[bolts.cover]
count = 20
diameter = "1.25 in"
pitch = "0.14 in"
shear-strength = ["60 ksi", "65 ksi"]
basis = "made for the test"
"#;

/// The keys of a case that only the sealing asks for.
pub(crate) const CASE_KEYS: &[&str] = &[
    "gauge-pressure",
    "start-to-discharge",
    "class",
    "jacket",
    "yield-strength",
    "count",
    "diameter",
    "pitch",
    "shear-strength",
];

/// The valid case with that.
pub(crate) fn case() -> String {
    format!("{CASE}\n{SERVICE}")
}

/// Each: the snapshot's name, and the changes to that case.
const CASES: &[(&str, Edits)] = &[
    (
        "sealing-lading-unknown",
        &[(LADING, "name = \"phlogiston\"\ntemperature = \"20 deg C\"\nair-pressure = \"1 bar\"")],
    ),
    (
        "sealing-lading-misspelt",
        &[(LADING, "name = \"anhydrous amonia\"\ntemperature = \"20 deg C\"")],
    ),
    (
        "sealing-lading-given-twice",
        &[(
            LADING,
            "name = \"chlorine\"\ngauge-pressure = \"250 psi\"\ntemperature = \"20 deg C\"",
        )],
    ),
    (
        "sealing-air-without-temperature",
        &[(LADING, "name = \"chlorine\"\nair-pressure = [\"0.9 bar\", \"1 bar\"]")],
    ),
    // Kilopascals written as psi; a unit left a prefix short; no open air on any mountain.
    (
        "sealing-air-pressure-in-another-unit",
        &[(
            LADING,
            "name = \"chlorine\"\ntemperature = \"20 deg C\"\nair-pressure = \"101.325 psi\"",
        )],
    ),
    (
        "sealing-air-pressure-of-no-mountain",
        &[(
            LADING,
            "name = \"chlorine\"\ntemperature = \"20 deg C\"\nair-pressure = [\"40 kPa\", \"1 bar\"]",
        )],
    ),
    (
        "sealing-temperature-upside-down",
        &[(
            LADING,
            "name = \"chlorine\"\ntemperature = [\"40 deg C\", \"-300 deg C\", \"0 deg C\"]",
        )],
    ),
    (
        "sealing-range-upside-down",
        &[(LADING, "name = \"chlorine\"\ntemperature = [\"40 deg C\", \"30 deg C\"]")],
    ),
    (
        "sealing-tank-at-fault",
        &[
            ("start-to-discharge = \"225 psi\"", "start-to-discharge = [\"0 psi\", \"225 psi\"]"),
            ("jacket = \"insulation\"", "jacket = \"isolation\""),
        ],
    ),
    (
        "sealing-pressure-beyond-measure",
        &[("gauge-pressure = \"250 psi\"", "gauge-pressure = [\"250 psi\", \"1e300 psi\"]")],
    ),
    ("sealing-sidewall-without-a-figure", &[("yield-strength = \"36 ksi\"", "")]),
    (
        "sealing-bolts-at-fault",
        &[
            (
                "count = 20\ndiameter = \"0.75 in\"",
                "count = 0\ncircle = \"0 mm\"\ndiameter = \"0.05 in\"",
            ),
            ("shear-strength = \"40 ksi\"", "shear-strength = \"40000 ksi\""),
            ("shear-strength = [\"60 ksi\", \"65 ksi\"]", ""),
        ],
    ),
];

#[test]
fn faulty_cases() {
    for (name, edits) in CASES {
        let bench = Bench::new();
        bench.write("case.toml", edited(&case(), edits).as_bytes());
        case_refused(name, &bench);
    }
}

const SCREW: &str = "thread-form = \"acme\"\nthread-pitch = \"0.2 in\"\nthread-starts = 1\n\
                     thread-friction = [0.1, 0.15]\ntip-friction = [0.1, 0.12]\ntip-radius = [\"12 mm\", \"15 mm\"]\n\
                     friction-basis = \"made for the test\"\n\
                     tip-radius-basis = \"made for the test\"\nends = \"fixed-free\"";
const GASKET: &str = "least-stress = \"2 MPa\"\nmost-stress = [\"20 MPa\", \"30 MPa\"]\nstress-basis = \
                      \"made for the test\"\ncode-material = \"soft rubber\"";
const MATERIAL: &str = "yield-strength = \"36 ksi\"\ntensile-strength = [\"58 ksi\", \"80 ksi\"]\nmodulus = \"29000 ksi\"";
const SEALING: &str = "[sealing]\nhand-force = [\"80 lbf\", \"100 lbf\"]\n\
                       hand-basis = \"made for the test\"\nsafety-factor = 1.5\n\
                       factor-basis = \"the owner's rules, made for the test\"\n\
                       side-moment = [\"0 N m\", \"12 N m\"]\npin-play = \"1.5 mm\"\n\
                       pin-friction = [0.15, 0.2]\npin-basis = \"made for the test\"\n\
                       links-in-saddles = \"free\"\nlinks-basis = \"made for the test\"\ntorque-error = 0.04\n\
                       torque-basis = \"made for the test\"";

/// The keys of a kit that only the sealing asks for.
pub(crate) const KIT_KEYS: &[&str] = &[
    "thread-form",
    "thread-pitch",
    "thread-starts",
    "thread-friction",
    "tip-friction",
    "tip-radius",
    "ends",
    "least-stress",
    "most-stress",
    "stress-basis",
    "code-material",
    "yield-strength",
    "tensile-strength",
    "modulus",
    "hand-force",
    "safety-factor",
    "side-moment",
    "pin-play",
    "pin-friction",
    "links-in-saddles",
    "torque-error",
];

/// The valid kit with everything that the sealing asks for.
pub(crate) fn kit() -> String {
    let screw = format!("block-height = \"24 mm\"\n{SCREW}");
    let gasket = format!("groove-depth = \"6 mm\"\n{GASKET}");
    let whole = edited(
        KIT,
        &[
            ("block-height = \"24 mm\"", &screw),
            ("groove-depth = \"6 mm\"", &gasket),
            ("yield-strength = \"36 ksi\"", MATERIAL),
        ],
    );
    format!("{whole}\n{SEALING}\n")
}

/// Each: the snapshot's name, and the changes to that kit.
const KITS: &[(&str, Edits)] = &[
    (
        "sealing-friction-negative",
        &[("thread-friction = [0.1, 0.15]", "thread-friction = [-0.1, 0.15]")],
    ),
    ("sealing-friction-in-per-cent", &[("[0.1, 0.12]", "[10, 12]")]),
    ("sealing-friction-not-a-number", &[("[0.1, 0.12]", "[0.1, nan]")]),
    (
        "sealing-thread-at-fault",
        &[
            ("\"acme\"", "\"akme\""),
            ("thread-pitch = \"0.2 in\"", "thread-pitch = \"0 in\""),
            ("thread-starts = 1", "thread-starts = 0"),
            ("\"fixed-free\"", "\"held\""),
        ],
    ),
    (
        "sealing-friction-known-exactly",
        &[
            ("thread-friction = [0.1, 0.15]", "thread-friction = [0.15, 0.15]"),
            ("[0.1, 0.12]", "0.12"),
            ("tip-radius = [\"12 mm\", \"15 mm\"]", "tip-radius = \"15 mm\""),
        ],
    ),
    ("sealing-tip-radius-without-basis", &[("\ntip-radius-basis = \"made for the test\"", "")]),
    (
        "sealing-tip-radius-at-fault",
        &[("tip-radius = [\"12 mm\", \"15 mm\"]", "tip-radius = [\"-1 mm\", 15]")],
    ),
    (
        "sealing-stresses-crossed",
        &[("least-stress = \"2 MPa\"", "least-stress = [\"2 MPa\", \"20 MPa\"]")],
    ),
    ("sealing-stress-without-basis", &[("stress-basis = \"made for the test\"\n", "")]),
    (
        "sealing-code-factors-twice",
        &[("code-material = \"soft rubber\"", "code-material = \"soft rubber\"\ncode-m = 2")],
    ),
    // A prefix too many, or one unit for another: read as written, everything would hold.
    (
        "sealing-figures-beyond-what-there-is",
        &[
            (
                MATERIAL,
                "yield-strength = \"36000 ksi\"\ntensile-strength = \"58000 MPa\"\nmodulus = \"29 ksi\"",
            ),
            ("hand-force = [\"80 lbf\", \"100 lbf\"]", "hand-force = [\"80 lbf\", \"100 kN\"]"),
            ("torque-error = 0.04", "torque-error = 0"),
            ("most-stress = [\"20 MPa\", \"30 MPa\"]", "most-stress = [\"20 MPa\", \"30000 MPa\"]"),
        ],
    ),
    (
        "sealing-strong-and-not-stiff",
        &[(
            "tensile-strength = [\"58 ksi\", \"80 ksi\"]\nmodulus = \"29000 ksi\"",
            "modulus = \"290 ksi\"",
        )],
    ),
    // No gasket of the code's table that has to be pressed has less than 0.5.
    (
        "sealing-code-factor-too-small",
        &[("code-material = \"soft rubber\"", "code-m = 0\ncode-y = \"0 psi\"")],
    ),
    ("sealing-code-material-unknown", &[("\"soft rubber\"", "\"leather\"")]),
    (
        "sealing-material-of-a-pin",
        &[("part = \"link\"\nyield-strength", "part = \"pin\"\nyield-strength")],
    ),
    ("sealing-material-without-a-figure", &[(MATERIAL, "")]),
    ("sealing-breaks-before-it-yields", &[("[\"58 ksi\", \"80 ksi\"]", "\"30 ksi\"")]),
    (
        "sealing-owner-at-fault",
        &[
            ("safety-factor = 1.5", "safety-factor = 0.5"),
            ("hand-force = [\"80 lbf\", \"100 lbf\"]", "hand-force = \"0 lbf\""),
            ("side-moment = [\"0 N m\", \"12 N m\"]", "side-moment = [\"-1 N m\", \"12 N m\"]"),
        ],
    ),
    (
        "sealing-torque-error-at-fault",
        &[("torque-error = 0.04\ntorque-basis = \"made for the test\"", "torque-error = 4")],
    ),
    (
        "sealing-figures-without-basis",
        &[
            ("friction-basis = \"made for the test\"\n", ""),
            ("hand-basis = \"made for the test\"\n", ""),
            ("factor-basis = \"the owner's rules, made for the test\"\n", ""),
        ],
    ),
    ("sealing-factor-as-a-range", &[("safety-factor = 1.5", "safety-factor = [1.5, 2]")]),
];

#[test]
fn faulty_kits() {
    for (name, edits) in KITS {
        let bench = Bench::new();
        bench.write("kit.toml", edited(&kit(), edits).as_bytes());
        kit_refused(name, &bench);
    }
}

/// One pound-force and one ksi from memory of their definitions: 4.448 222 N, 6.894 757 N/mm2.
#[test]
fn what_the_documents_say_for_the_sealing_is_read() {
    let bench = Bench::new();
    bench.write("kit.toml", kit().as_bytes());
    let hold = bench.kit().unwrap_or_else(|f| panic!("{f}")).kit.hold;
    let (screw, basis) = (&hold.screw, "made for the test");
    assert_eq!((screw.form, screw.starts), (Some(ThreadForm::Acme), Some(1)));
    assert_eq!(screw.ends, Some(ScrewEnds::FixedFree));
    assert!((screw.pitch.unwrap().low().mm() - 5.08).abs() < 1e-12);
    assert!((screw.thread_friction.unwrap().high() - 0.15).abs() < 1e-12);
    assert!((screw.tip_friction.unwrap().high() - 0.12).abs() < 1e-12);
    assert!((screw.tip_radius.unwrap().high().mm() - 15.0).abs() < 1e-12);
    assert_eq!(screw.tip_basis, "made for the test");
    assert!((hold.hand.unwrap().low().newtons() - 80.0 * 4.448_222).abs() < 1e-3);
    assert_eq!(hold.factor_basis, "the owner's rules, made for the test");
    assert_eq!((hold.hand_basis.as_str(), screw.friction_basis.as_str()), (basis, basis));
    assert!((hold.safety_factor.unwrap() - 1.5).abs() < 1e-12);
    assert!((hold.side_moment.unwrap().high().newton_mm() - 12e3).abs() < 1e-9);
    assert!((hold.torque_error.unwrap() - 0.04).abs() < 1e-12);
    assert_eq!(hold.torque_basis, "made for the test");
    assert!((hold.pin_play.unwrap().high().mm() - 1.5).abs() < 1e-12);
    assert!((hold.pin_friction.unwrap().low() - 0.15).abs() < 1e-12);
    assert_eq!(hold.pin_friction_basis, basis);
    assert_eq!((hold.links_held, hold.links_held_basis.as_str()), (Some(false), basis));
    let gasket = &hold.gaskets[0];
    assert_eq!((gasket.gasket.as_str(), gasket.code), ("GA", Some(GasketCode::SoftRubber)));
    assert!((gasket.most.unwrap().low().mpa() - 20.0).abs() < 1e-12);
    let material = &hold.materials[0];
    assert_eq!(material.part, LoadedPart::Link);
    let tensile = material.strength.tensile.unwrap();
    assert!((tensile.high().mpa() - 80.0 * 6.894_757).abs() < 1e-4);
    assert_eq!(material.strength.basis, "made for the test");

    let lading =
        "name = \"chlorine\"\ntemperature = [\"32 deg F\", \"40 deg C\"]\nair-pressure = \"1 bar\"";
    bench.write("case.toml", edited(&case(), &[(LADING, lading)]).as_bytes());
    let service = bench.case().unwrap_or_else(|f| panic!("{f}")).service;
    let Some(LadingPressure::Vapour { fluid, temperature, air }) = service.lading.unwrap().pressure
    else {
        panic!("no vapour pressure is asked for");
    };
    assert_eq!(fluid, Fluid::Chlorine);
    assert!(temperature.low().celsius().abs() < 1e-9);
    assert!((air.unwrap().low().mpa() - 0.1).abs() < 1e-12);
    assert_eq!(service.tank.unwrap().class.unwrap(), "105J300W");
    assert!(service.sidewall.unwrap().tensile.is_none());
    // Strong bolts and weak ones are each on the wrong side of a rule.
    let strength = service.cover_bolts.unwrap().shear_strength;
    assert!((strength.low().mpa() - 60.0 * 6.894_757).abs() < 1e-4);
    assert!((strength.high().mpa() - 65.0 * 6.894_757).abs() < 1e-4);
    assert_eq!(service.housing_bolts.unwrap().count, 20);
}

#[test]
fn what_is_left_out_stays_untold() {
    let bench = Bench::new();
    // A supplier may say only what a gasket bears at most.
    bench.write("kit.toml", edited(&kit(), &[("least-stress = \"2 MPa\"\n", "")]).as_bytes());
    let gasket = bench.kit().unwrap_or_else(|f| panic!("{f}")).kit.hold.gaskets.remove(0);
    assert!(gasket.least.is_none() && gasket.most.is_some());
    let bench = Bench::new();
    let kit = bench.kit().unwrap_or_else(|f| panic!("{f}")).kit.hold;
    assert_eq!(kit.screw, assembly::hold::ScrewFigures::default());
    assert!(kit.hand.is_none() && kit.safety_factor.is_none() && kit.side_moment.is_none());
    assert!(kit.gaskets.iter().all(|g| g.least.is_none() && g.code.is_none()));
    let lading = format!("[lading]\n{LADING}");
    bench.write("case.toml", edited(CASE, &[(&lading, "")]).as_bytes());
    assert_eq!(bench.case().unwrap_or_else(|f| panic!("{f}")).service.lading, None);
}

#[test]
fn documents_cut_off_at_any_byte_are_read_or_refused_with_a_remedy() {
    let bench = Bench::new();
    for (name, text) in [("case.toml", case()), ("kit.toml", kit())] {
        for length in (0..=text.len()).filter(|at| text.len() - at < SERVICE.len() || at % 7 == 0) {
            bench.write(name, &text.as_bytes()[..length]);
            let refused = [bench.case().err(), bench.kit().err()];
            for fault in refused.iter().flatten().flatten() {
                assert!(!fault.remedy.is_empty() && !fault.message.is_empty());
            }
        }
        bench.write(name, text.as_bytes());
    }
}
