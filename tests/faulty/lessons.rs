//! Faulty lesson documents.

use crate::bench::{Bench, LESSON, edited};
use crate::snapshot;
use assembly::Edit;
use assembly::placement::{Removed, Side};
use lesson::{Outcome, Task};
use measure::Angle;

type Edits = &'static [(&'static str, &'static str)];

/// Each: the snapshot's name, and the changes to the valid lesson.
const LESSONS: &[(&str, Edits)] = &[
    ("lesson-no-form", &[("format = 1\n", "")]),
    ("lesson-unknown-key", &[("about = ", "abuot = ")]),
    ("lesson-no-case", &[("case = \"case.toml\"\n", "")]),
    ("lesson-case-missing", &[("case = \"case.toml\"", "case = \"cases/case.toml\"")]),
    (
        "lesson-no-start",
        &[
            ("[start]\nfitting = \"LV1\"", "[begin]\nfitting = \"LV1\""),
            ("[start.change]", "[begin.change]"),
        ],
    ),
    ("lesson-unknown-fitting", &[("fitting = \"LV1\"", "fitting = \"LV2\"")]),
    ("lesson-unknown-cup", &[("cup = \"A\"", "cup = \"Z\"")]),
    (
        "lesson-unknown-piece",
        &[(
            "[start.change]\ntake-off = [\"handwheel piece\"]",
            "[start.change]\ntake-off = [\"handwheel peace\"]",
        )],
    ),
    ("lesson-unknown-part", &[("[[\"outlet\", \"clamp bar\"]", "[[\"outlet\", \"clamp beam\"]")]),
    ("lesson-part-at-no-port", &[("\"inside link at P0\"", "\"inside link at P90\"")]),
    (
        "lesson-expects-three-parts",
        &[("[\"outlet\", \"clamp bar\"]", "[\"outlet\", \"clamp bar\", \"lid\"]")],
    ),
    ("lesson-expects-nothing", &[("expect = [[\"cup\", \"handwheel\"]]", "expect = []")]),
    (
        "lesson-expects-a-verdict",
        &[(
            "fitting = \"LV1\"\ncup = \"A\"\nexpect = \"nothing short\"",
            "fitting = \"LV1\"\ncup = \"A\"\nexpect = \"fits\"",
        )],
    ),
    ("lesson-no-expectation", &[("expect = [[\"cup\", \"handwheel\"]]\n", "")]),
    ("lesson-no-such-turn", &[("elbow = \"1 o'clock\"", "elbow = \"2 o'clock\"")]),
    ("lesson-lid-beyond-its-stop", &[("lid = \"100 deg\"", "lid = \"130 deg\"")]),
    ("lesson-no-such-thickness", &[("thickness = \"3/4 in\"", "thickness = \"5/8 in\"")]),
    ("lesson-no-such-hole", &[("hole = 2", "hole = 4")]),
    ("lesson-link-without-a-side", &[("side = \"outside\"\n", "")]),
    ("lesson-link-not-changed", &[("side = \"outside\"\nthickness = \"3/4 in\"\nhole = 2\n", "")]),
    ("lesson-one-port", &[("ports = [\"P0\", \"P180\"]", "ports = [\"P0\"]")]),
    ("lesson-screw-without-unit", &[("screw = \"4 in\"", "screw = 4")]),
    (
        "lesson-changes-nothing",
        &[(
            "outlet = \"3 o'clock\"\nelbow = \"1 o'clock\"\nlid = \"100 deg\"\nports = [\"P0\", \"P180\"]\n[[step.choice.change.link]]\nport = \"P0\"\nside = \"outside\"\nthickness = \"3/4 in\"\nhole = 2\n[[step.choice.change.foot]]\nport = \"P180\"\nshift = \"-2 mm\"\n",
            "",
        )],
    ),
    ("lesson-unknown-kind-of-step", &[("kind = \"set-right\"", "kind = \"setright\"")]),
    ("lesson-same-title-twice", &[("title = \"Mend it\"", "title = \"Try it\"")]),
    (
        "lesson-points-without-a-right-choice",
        &[(
            "text = \"As it is.\"\nexpect = \"nothing short\"",
            "text = \"As it is.\"\nexpect = \"cannot tell\"",
        )],
    ),
    ("lesson-half-a-point", &[("points = 2", "points = 0.5")]),
    ("lesson-no-right-answer", &[("right = true", "right = false")]),
    ("lesson-answer-right-in-words", &[("right = true", "right = \"yes\"")]),
    (
        "lesson-one-answer",
        &[(
            "[[step.answer]]\ntext = \"Not so.\"\nright = false\nbecause = \"It is not so.\"\n",
            "",
        )],
    ),
    (
        "lesson-nothing-to-set-right",
        &[("expect = [[\"cup\", \"handwheel\"]]", "expect = \"nothing short\"")],
    ),
    ("lesson-no-solution", &[("[step.solution]\ntake-off = [\"handwheel piece\"]\n", "")]),
    (
        "lesson-without-steps",
        &[
            ("[[step]]\nkind = \"try\"", "[[stage]]\nkind = \"try\""),
            ("[[step.choice]]\ntext = \"The", "[[stage.choice]]\ntext = \"The"),
            ("[step.choice.change]", "[stage.choice.change]"),
            ("[[step.choice.change.link]]", "[[stage.choice.change.link]]"),
            ("[[step.choice.change.foot]]", "[[stage.choice.change.foot]]"),
            ("[[step.choice]]\ntext = \"As", "[[stage.choice]]\ntext = \"As"),
            ("[[step]]\nkind = \"question\"", "[[stage]]\nkind = \"question\""),
            ("[[step.answer]]\ntext = \"So", "[[stage.answer]]\ntext = \"So"),
            ("[[step.answer]]\ntext = \"Not", "[[stage.answer]]\ntext = \"Not"),
            ("[[step]]\nkind = \"set-right\"", "[[stage]]\nkind = \"set-right\""),
            ("[step.change]", "[stage.change]"),
            ("[step.solution]", "[stage.solution]"),
        ],
    ),
    (
        "lesson-many-faults-at-once",
        &[
            ("title = \"Bench lesson\"", "title = \"\""),
            ("fitting = \"LV1\"", "fitting = \"lv1\""),
            ("outlet = \"3 o'clock\"", "outlet = \"13 o'clock\""),
            ("port = \"P180\"", "port = \"P270\""),
            ("because = \"It is so.\"\n", ""),
            ("cup-offset = [\"1 mm\", \"-1 mm\"]", "cup-offset = [\"1 mm\"]"),
        ],
    ),
];

#[test]
fn faulty_lessons() {
    for (name, edits) in LESSONS {
        let bench = Bench::new();
        bench.write("lesson.toml", edited(LESSON, edits).as_bytes());
        refused(name, &bench);
    }
}

/// Reads the bench's lesson: it must be refused, and what it says is the snapshot.
fn refused(name: &str, bench: &Bench) {
    let before = bench.files();
    let faults = bench.lesson().expect_err(name);
    assert_eq!(bench.files(), before, "{name}: reading changed a file");
    snapshot(name, &bench.plain(&faults.render()));
}

#[test]
fn the_faults_of_all_three_documents_are_told() {
    let bench = Bench::new();
    bench.write("lesson.toml", edited(LESSON, &[("points = 2", "points = -2")]).as_bytes());
    bench.write(
        "case.toml",
        crate::bench::CASE.replace("units = \"in\"", "units = \"yd\"").as_bytes(),
    );
    let kit = edited(crate::bench::KIT, &[("format = 1", "format = 7")]);
    bench.write("kit.toml", kit.as_bytes());
    refused("lesson-with-faulty-case-and-kit", &bench);
    let bench = Bench::new();
    let head = LESSON.split("\n[[step]]").next().unwrap();
    bench.write("lesson.toml", edited(head, &[("about = ", "step = []\nabout = ")]).as_bytes());
    refused("lesson-with-no-step-listed", &bench);
    let bench = Bench::new();
    std::fs::remove_file(bench.path("lesson.toml")).unwrap();
    refused("lesson-file-missing", &bench);
}

#[test]
fn the_valid_lesson_is_read_as_it_is_written() {
    let bench = Bench::new();
    let file = bench.lesson().unwrap_or_else(|faults| panic!("{}", faults.render()));
    assert_eq!(file.kit.kit.cups[0].name, "A");
    let lesson = file.lesson;
    assert_eq!((lesson.start.fitting, lesson.start.cup, lesson.points()), (0, Some(0), 2));
    let wheel = Removed { fitting: 0, removable: 0 };
    assert_eq!(lesson.start.edits, [Edit::TakeOff(wheel)]);
    let Task::Try(trials) = &lesson.steps[0].task else { panic!("not a choice to try") };
    let [p0, p180] = [0, 1];
    // Clock positions run clockwise, bearings the other way; the elbow's turn is seen from outside.
    let clock = Angle::from_degrees(-90.0);
    assert_eq!(
        trials[0].edits,
        [
            Edit::Ports([p0, p180]),
            Edit::OutletBearing(clock),
            Edit::ElbowTurn(1),
            Edit::LidOpening(Angle::from_degrees(100.0)),
            Edit::FootShift { port: p180, shift: -2.0 },
            Edit::LinkThickness { port: p0, side: Side::Outside, thickness: 1 },
            Edit::LinkHole { port: p0, hole: 1 },
        ]
    );
    let pair = |a: &str, b: &str| [a.to_owned(), b.to_owned()];
    assert_eq!(
        trials[0].outcome,
        Outcome::Short(vec![pair("outlet", "clamp bar"), pair("inside link at P0", "valve")])
    );
    assert_eq!((&trials[1].edits[..], &trials[1].outcome), (&[][..], &Outcome::NothingShort));
    let Task::Question(answers) = &lesson.steps[1].task else { panic!("no question") };
    assert_eq!(answers.iter().map(|a| a.is_right).collect::<Vec<_>>(), [true, false]);
    let Task::SetRight(task) = &lesson.steps[2].task else { panic!("nothing to set right") };
    assert_eq!(task.edits[0], Edit::PutBack(wheel));
    // An eighth of an inch, four inches: 25.4 mm an inch.
    assert!(task.edits.contains(&Edit::BarSlide(3.175)));
    assert_eq!(task.edits.last(), Some(&Edit::ScrewExtension(101.6)));
    assert_eq!(task.solution, [Edit::TakeOff(wheel)]);
}
