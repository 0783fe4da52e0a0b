//! Faulty case and kit documents.

use crate::bench::{Bench, CASE, KIT, edited};
use crate::{case_found, case_refused, kit_refused};

type Edits = &'static [(&'static str, &'static str)];

/// Each: the snapshot's name, and the changes to the valid case.
const CASES: &[(&str, Edits)] = &[
    ("case-bare-number", &[("width = \"4 in\"", "width = 4")]),
    ("case-bare-number-in-list", &[("at = [\"200 mm\", \"0 mm\"]", "at = [200.0, \"0 mm\"]")]),
    ("case-length-without-unit", &[("wall = \"20 mm\"", "wall = \"20\"")]),
    ("case-length-with-comma", &[("wall = \"20 mm\"", "wall = \"20,5 mm\"")]),
    ("case-unit-in-capitals", &[("wall = \"20 mm\"", "wall = \"20 MM\"")]),
    ("case-fraction-over-zero", &[("sill = \"1 3/4 in\"", "sill = \"1 3/0 in\"")]),
    ("case-length-not-a-number", &[("sill = \"1 3/4 in\"", "sill = \"nan in\"")]),
    ("case-length-infinite", &[("sill = \"1 3/4 in\"", "sill = \"1e400 in\"")]),
    ("case-length-of-a-mile", &[("sill = \"1 3/4 in\"", "sill = \"5280 ft\"")]),
    ("case-negative-width", &[("width = \"4 in\"", "width = \"-4 in\"")]),
    ("case-zero-wall", &[("wall = \"20 mm\"", "wall = \"0 mm\"")]),
    ("case-negative-deviation", &[("deviation = \"0.2 mm\"", "deviation = \"-0.2 mm\"")]),
    ("case-unknown-key", &[("sill = \"1 3/4 in\"", "sil = \"1 3/4 in\"")]),
    ("case-unknown-table", &[("[lading]", "[loading]")]),
    (
        "case-plate-unseen",
        &[(
            "name = \"plate\"\nfile = \"plate.stl\"\nunit = \"mm\"\n",
            "name = \"plate\"\nfile = \"plate.stl\"\nunit = \"mm\"\nunseen = true\n",
        )],
    ),
    (
        "case-sidewall-unseen",
        &[(
            "name = \"housing\"\nfile = \"housing.stl\"\nunit = \"mm\"\n",
            "name = \"housing\"\nfile = \"housing.stl\"\nunit = \"mm\"\nunseen = true\n",
        )],
    ),
    (
        "case-fitting-unseen",
        &[(
            "name = \"valve\"\nfile = \"valve.stl\"\nunit = \"mm\"\n",
            "name = \"valve\"\nfile = \"valve.stl\"\nunit = \"mm\"\nunseen = true\n",
        )],
    ),
    (
        "case-removable-unseen",
        &[(
            "name = \"handwheel\"\nfile = \"handwheel.stl\"\nunit = \"mm\"\n",
            "name = \"handwheel\"\nfile = \"handwheel.stl\"\nunit = \"mm\"\nunseen = true\n",
        )],
    ),
    (
        "case-unseen-was-seen",
        &[("[[studs]]\nmesh = \"studs\"\n", "[unseen]\nmeshes = [\"studs\"]\n")],
    ),
    (
        "case-unseen-is-no-flag",
        &[(
            "name = \"studs\"\nfile = \"studs.stl\"\nunit = \"mm\"\n",
            "name = \"studs\"\nfile = \"studs.stl\"\nunit = \"mm\"\nunseen = \"yes\"\n",
        )],
    ),
    (
        "case-question-not-answered",
        &[(
            "[plate]\n",
            "[[question]]\nabout = \"lid, stop\"\nguess = \"90 deg\"\nwhy = \"it is in no mesh\"\n\
             answer = \" \"\n[[question]]\nabout = \"fitting \\\"F1\\\", kind\"\nguess = \"liquid valve\"\n\
             why = \"its name does not tell\"\n[[question]]\nabout = \"x\"\nguess = \"y\"\nwhy = \"z\"\n\
             answer = true\nanswr = \"yes\"\n[[question]]\nabout = \"frame, toward-hinge\"\n\
             guess = \"toward the top\"\nwhy = \"draft again with --hinge-at\"\nanswer = \" ? \"\n[plate]\n",
        )],
    ),
    ("case-missing-keys", &[("by = \"bench crew\"\n", ""), ("width = \"4 in\"\n", "")]),
    (
        "case-missing-tables",
        &[("[plate]\nmesh = \"plate\"\n", ""), ("[housing]\nmeshes = [\"housing\"]\n", "")],
    ),
    ("case-no-form", &[("format = 1\n", "")]),
    ("case-form-of-the-future", &[("format = 1", "format = 2")]),
    ("case-units-unknown", &[("units = \"in\"", "units = \"inches\"")]),
    ("case-empty-title", &[("title = \"Bench plate\"", "title = \" \"")]),
    ("case-title-is-a-number", &[("title = \"Bench plate\"", "title = 7")]),
    ("case-syntax-unclosed-quote", &[("title = \"Bench plate\"", "title = \"Bench plate")]),
    (
        "case-syntax-two-faults",
        &[("by = \"bench crew\"", "by \"bench crew\""), ("[plate]", "[plate")],
    ),
    ("case-duplicate-key", &[("how = \"tape and square\"", "how = \"tape\"\nhow = \"square\"")]),
    (
        "case-duplicate-names",
        &[("name = \"P180\"", "name = \"P0\""), ("name = \"studs\"", "name = \"lid\"")],
    ),
    ("case-table-where-tables-belong", &[("[[studs]]", "[studs]")]),
    ("case-list-where-a-table-belongs", &[("[measured]", "[[measured]]")]),
    ("case-unknown-mesh", &[("meshes = [\"valve\"]", "meshes = [\"vavle\"]")]),
    ("case-mesh-used-twice", &[("meshes = [\"housing\"]", "meshes = [\"housing\", \"plate\"]")]),
    ("case-mesh-of-no-part", &[("[[studs]]\nmesh = \"studs\"\n", "")]),
    ("case-fitting-without-meshes", &[("meshes = [\"valve\"]", "meshes = []")]),
    (
        "case-no-fitting",
        &[("[[fitting]]", "[[fiting]]"), ("[[fitting.removable]]", "[[fiting.removable]]")],
    ),
    ("case-unknown-kind", &[("kind = \"liquid valve\"", "kind = \"liquid vavle\"")]),
    ("case-port-faces-inward", &[("facing = \"180 deg\"", "facing = \"0 deg\"")]),
    ("case-port-at-a-bad-hour", &[("facing = \"12 o'clock\"", "facing = \"12:75 o'clock\"")]),
    ("case-port-outside", &[("at = [\"200 mm\", \"0 mm\"]", "at = [\"200 in\", \"0 mm\"]")]),
    ("case-port-above-the-housing", &[("height = \"3 1/2 in\"", "height = \"3 1/2 ft\"")]),
    (
        "case-port-at-three-numbers",
        &[("at = [\"200 mm\", \"0 mm\"]", "at = [\"200 mm\", \"0 mm\", \"1 mm\"]")],
    ),
    (
        "case-fitting-outside-the-plate",
        &[("centre = [\"80 mm\", \"0 mm\"]", "centre = [\"80 in\", \"0 mm\"]")],
    ),
    (
        "case-fitting-beside-its-meshes",
        &[("centre = [\"80 mm\", \"0 mm\"]", "centre = [\"-80 mm\", \"0 mm\"]")],
    ),
    ("case-flange-beyond-the-plate", &[("flange = \"6 1/2 in\"", "flange = \"65 in\"")]),
    ("case-lid-drawn-beyond-its-stop", &[("stop = \"115 deg\"", "stop = \"-5 deg\"")]),
    ("case-lid-stop-below-drawn", &[("drawn-at = \"0 deg\"", "drawn-at = \"120 deg\"")]),
    ("case-lid-opens-downward", &[("hinge-axis = [0, 1, 0]", "hinge-axis = [0, -1, 0]")]),
    ("case-lid-opening-by-the-clock", &[("stop = \"115 deg\"", "stop = \"8 o'clock\"")]),
    ("case-lid-axis-zero", &[("hinge-axis = [0, 1, 0]", "hinge-axis = [0, 0.0, 0]")]),
    ("case-lid-not-fitted-but-described", &[("[lid]", "[lid]\nfitted = false")]),
    ("case-frame-parallel", &[("toward-hinge = [1, 0, 0]", "toward-hinge = [0, 0, 2]")]),
    ("case-frame-zero", &[("up = [0, 0, 1]", "up = [0, 0, 0]")]),
    ("case-frame-with-units", &[("up = [0, 0, 1]", "up = [\"0 mm\", 0, nan]")]),
    ("case-frame-upside-down", &[("up = [0, 0, 1]", "up = [0, 0, -1]")]),
    ("case-frame-not-on-the-sealing-face", &[("\"0 mm\", \"10 mm\"]", "\"0 mm\", \"0 mm\"]")]),
    (
        "case-pressure-negative",
        &[("gauge-pressure = \"250 psi\"", "gauge-pressure = \"-250 psi\"")],
    ),
    ("case-pressure-in-psig", &[("gauge-pressure = \"250 psi\"", "gauge-pressure = \"250 psig\"")]),
    (
        "case-many-faults-at-once",
        &[
            ("units = \"in\"", "units = \"yd\""),
            ("width = \"4 in\"", "width = 4"),
            ("facing = \"180 deg\"", "facing = 180"),
            ("meshes = [\"valve\"]", "meshes = [\"valves\"]"),
            ("flange = \"6 1/2 in\"", "flnge = \"6 1/2 in\""),
        ],
    ),
];

#[test]
fn faulty_cases() {
    for (name, edits) in CASES {
        let bench = Bench::new();
        bench.write("case.toml", edited(CASE, edits).as_bytes());
        case_refused(name, &bench);
    }
}

/// Each: the snapshot's name, and the changes to the valid kit.
const KITS: &[(&str, Edits)] = &[
    ("kit-wall-thicker-than-radius", &[("wall = \"8 mm\"", "wall = \"101 mm\"")]),
    ("kit-socket-deeper-than-boss", &[("seat-height = \"25 mm\"", "seat-height = \"11 mm\"")]),
    ("kit-socket-wider-than-boss", &[("seat-diameter = \"61 mm\"", "seat-diameter = \"30 mm\"")]),
    ("kit-bore-larger-than-boss", &[("port-bore = \"50 mm\"", "port-bore = \"85 mm\"")]),
    ("kit-port-below-the-rim", &[("port-height = \"180 mm\"", "port-height = \"40 mm\"")]),
    ("kit-port-above-the-crown", &[("port-height = \"180 mm\"", "port-height = \"222 mm\"")]),
    ("kit-port-face-in-the-wall", &[("port-face = \"120 mm\"", "port-face = \"108 mm\"")]),
    ("kit-unknown-gasket", &[("gasket = \"GA\"", "gasket = \"GB\"")]),
    (
        "kit-rim-beside-its-gasket",
        &[("outside-diameter = \"230 mm\"", "outside-diameter = \"215 mm\"")],
    ),
    (
        "kit-gasket-inside-out",
        &[("outside-diameter = \"230 mm\"", "outside-diameter = \"180 mm\"")],
    ),
    ("kit-groove-through-the-gasket", &[("groove-depth = \"6 mm\"", "groove-depth = \"14 mm\"")]),
    ("kit-no-cups", &[("[[cup]]", "[[cups]]")]),
    ("kit-slot-narrower-than-link", &[("slot = \"40 mm\"", "slot = \"38.2 mm\"")]),
    ("kit-slot-narrower-than-stem", &[("stem-width = \"38 mm\"", "stem-width = \"41 mm\"")]),
    ("kit-saddle-falls-through", &[("top-width = \"80 mm\"", "top-width = \"40 mm\"")]),
    (
        "kit-thicknesses-not-descending",
        &[("\"1 in\", \"3/4 in\", \"1/2 in\"", "\"3/4 in\", \"1 in\", \"1/2 in\"")],
    ),
    ("kit-thicknesses-empty", &[("[\"1 in\", \"3/4 in\", \"1/2 in\"]", "[]")]),
    ("kit-holes-not-ascending", &[("\"266 mm\", \"292 mm\"", "\"292 mm\", \"266 mm\"")]),
    ("kit-holes-overlap", &[("\"266 mm\", \"292 mm\"", "\"266 mm\", \"280 mm\"")]),
    ("kit-hole-breaks-out", &[("edge = \"20 mm\"", "edge = \"8 mm\"")]),
    ("kit-bar-without-slot", &[("end = \"19 mm\"", "end = \"450 mm\"")]),
    ("kit-foot-bored-through-its-end", &[("height = \"60 mm\"", "height = \"28 mm\"")]),
    ("kit-foot-bored-through-its-seat", &[("seat = \"20.5 mm\"", "seat = \"8 mm\"")]),
    ("kit-pin-too-thick", &[("diameter = \"15.7 mm\"", "diameter = \"18 mm\"")]),
    ("kit-pin-too-short", &[("length = \"85 mm\"", "length = \"45 mm\"")]),
    // Long enough for two of the thinnest links only: a search might choose thicker ones.
    ("kit-pin-too-short-for-thick-links", &[("length = \"85 mm\"", "length = \"60 mm\"")]),
    ("kit-pin-head-slips-through", &[("head-diameter = \"20.6 mm\"", "head-diameter = \"17 mm\"")]),
    ("kit-pin-missing", &[("[pin.upper]", "[pin.uper]")]),
    ("kit-pin-path-not-told", &[("fitted-on-car = true", "fitted-on-car = \"yes\"")]),
    ("kit-ball-inside-the-block", &[("retracted = \"45 mm\"", "retracted = \"20 mm\"")]),
    ("kit-screw-leaves-its-block", &[("length = \"300 mm\"", "length = \"160 mm\"")]),
    ("kit-tolerance-as-large-as-the-part", &[("tolerance = \"0.6 mm\"", "tolerance = \"61 mm\"")]),
    ("kit-dimension-with-unknown-key", &[("tolerance = \"0.6 mm\"", "tol = \"0.6 mm\"")]),
    ("kit-negative-tolerance", &[("default = \"0.1 mm\"", "default = \"-0.1 mm\"")]),
    ("kit-chord-error-out-of-range", &[("chord-error = \"0.05 mm\"", "chord-error = \"0.05 in\"")]),
    (
        "kit-chord-error-nearly-nothing",
        &[("chord-error = \"0.05 mm\"", "chord-error = \"1e-9 mm\"")],
    ),
    ("kit-elbow-turn-twice", &[("\"11 o'clock\", \"30 deg\"", "\"11 o'clock\", \"-30 deg\"")]),
    (
        "kit-handle-swing-out-of-range",
        &[("handle-swing = \"90 deg\"", "handle-swing = \"900 deg\"")],
    ),
    ("kit-skew-out-of-range", &[("foot-skew = \"3 deg\"", "foot-skew = \"3 rad\"")]),
    ("kit-need-between-one", &[("between = [\"cup\", \"fitting\"]", "between = [\"cup\"]")]),
    (
        "kit-need-of-unknown-part",
        &[("between = [\"cup\", \"fitting\"]", "between = [\"cup\", \"fittings\"]")],
    ),
    (
        "kit-need-twice",
        &[(
            "[[gasket]]",
            "[[need]]\nbetween = [\"fitting\", \"cup\"]\ngap = \"3 mm\"\n\n[[gasket]]",
        )],
    ),
    ("kit-motion-unknown", &[("motion = \"lower\"", "motion = \"drop\"")]),
    ("kit-step-of-a-plate", &[("part = \"gasket\"\nmotion", "part = \"plate\"\nmotion")]),
    (
        "kit-step-with-itself-and-a-lid",
        &[(
            "motion = \"lower\"",
            "with = [\"cup\", \"gasket\", \"lid\", \"cup\", \"cop\"]\nmotion = \"lower\"",
        )],
    ),
    (
        "kit-steps-that-put-a-part-twice",
        &[(
            "text = \"Lay the gasket down.\"",
            "with = [\"screw\", \"pin\"]\ntext = \"a\"\n\n[[step]]\npart = \"gasket\"\nmotion = \"lower\"\n\
             text = \"b\"\n\n[[step]]\npart = \"screw\"\nmotion = \"turn\"\ntext = \"c\"\n\n[[step]]\n\
             part = \"pin\"\nwith = [\"screw\"]\nmotion = \"push\"\ntext = \"d\"",
        )],
    ),
    ("kit-step-with-a-word", &[("motion = \"lower\"", "with = \"cup\"\nmotion = \"lower\"")]),
    (
        "kit-hand-without-width",
        &[(
            "pin-hand-room = \"2 1/2 in\"",
            "pin-hand-room = \"2 1/2 in\"\nhand-room-width = \"0 mm\"\npath-clearance = \"-1 mm\"\n\
             hand-room-hight = \"4 in\"",
        )],
    ),
    ("kit-strength-zero", &[("yield-strength = \"36 ksi\"", "yield-strength = \"0 ksi\"")]),
    ("kit-strength-bare", &[("yield-strength = \"36 ksi\"", "yield-strength = 250")]),
    ("kit-several-parts-missing", &[("[bar]", "[beam]"), ("[screw]", "[skrew]")]),
];

#[test]
fn faulty_kits() {
    for (name, edits) in KITS {
        let bench = Bench::new();
        bench.write("kit.toml", edited(KIT, edits).as_bytes());
        kit_refused(name, &bench);
    }
}

#[test]
fn documents_that_cannot_be_opened() {
    let bench = Bench::new();
    std::fs::remove_file(bench.path("case.toml")).unwrap();
    case_refused("case-file-missing", &bench);
    std::fs::create_dir(bench.path("case.toml")).unwrap();
    case_refused("case-file-is-a-folder", &bench);
    bench.write("kit.toml", b"");
    kit_refused("kit-file-empty", &bench);
    bench.write("kit.toml", b"format = 1\ntitle = \"caf\xe9\"\n");
    kit_refused("kit-file-not-utf8", &bench);
    bench.write("kit.toml", &[0, 159, 146, 150, 0, 0, 0, 7]);
    kit_refused("kit-file-of-bytes", &bench);
}

/// Each: the snapshot's name, and the changes to the valid case, which is read with findings.
const FOUND: &[(&str, Edits)] = &[
    ("found-frame-not-square", &[("toward-hinge = [1, 0, 0]", "toward-hinge = [1, 0, 0.01]")]),
    (
        "found-no-studs-and-a-stranger",
        &[
            ("[[studs]]\nmesh = \"studs\"\n", ""),
            ("meshes = [\"housing\"]", "meshes = [\"housing\", \"studs\"]"),
        ],
    ),
    ("found-same-file-twice", &[("file = \"handwheel.stl\"", "file = \"valve.stl\"")]),
    (
        "found-stud-in-feet",
        &[("file = \"studs.stl\"\nunit = \"mm\"", "file = \"studs.stl\"\nunit = \"ft\"")],
    ),
    (
        "found-question-answered",
        &[(
            "[plate]\n",
            "[[question]]\nabout = \"lid, stop\"\nguess = \"90 deg\"\nwhy = \"it is in no mesh\"\n\
             answer = \"115 deg, measured\"\n[plate]\n",
        )],
    ),
];

#[test]
fn cases_read_with_findings() {
    for (name, edits) in FOUND {
        let bench = Bench::new();
        bench.write("case.toml", edited(CASE, edits).as_bytes());
        case_found(name, &bench);
    }
}

#[test]
fn the_corpus_is_as_large_as_promised() {
    let mut names: Vec<_> = CASES.iter().chain(KITS).chain(FOUND).map(|(name, _)| name).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), CASES.len() + KITS.len() + FOUND.len(), "two entries share a name");
    assert!(names.len() >= 45);
}

#[test]
fn a_lid_left_out_is_unknown_and_a_lid_taken_off_is_none() {
    use assembly::car_top::LidState;
    let bench = Bench::new();
    let lid = "[lid]\nmesh = \"lid\"\nhinge-at = [\"220 mm\", \"0 mm\", \"305 mm\"]\nhinge-axis = \
               [0, 1, 0]\ndrawn-at = \"0 deg\"\nstop = \"115 deg\"\n";
    let hinge = "[hinge]\nmeshes = []\n";
    let elsewhere = ("meshes = [\"housing\"]", "meshes = [\"housing\", \"lid\"]");
    let unknown = edited(CASE, &[(lid, ""), (hinge, ""), elsewhere]);
    bench.write("case.toml", unknown.as_bytes());
    let car = bench.case().unwrap_or_else(|f| panic!("{f}")).car;
    assert_eq!((car.lid, car.hinge), (LidState::Unknown, None));
    let off = edited(CASE, &[(lid, "[lid]\nfitted = false\n"), elsewhere]);
    bench.write("case.toml", off.as_bytes());
    let car = bench.case().unwrap_or_else(|f| panic!("{f}")).car;
    assert_eq!((car.lid, car.hinge), (LidState::None, Some(Vec::new())));
}
