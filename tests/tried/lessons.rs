//! Lessons: that those of the examples hold true, that a falsehood is found, and how one is run.

use crate::{Example, example, examples};
use assembly::Edit;
use intake::LessonFile;
use lesson::{Lesson, Outcome, Task};
use measure::Angle;
use std::sync::Arc;
use tryout::{Act, Feedback, Progress, Refused, Reply, Runner, Score, Untrue, recheck, untrue};

fn lesson(name: &str) -> LessonFile {
    let path = examples().join("pressure-car").join(name);
    intake::read_lesson(&path).unwrap_or_else(|faults| panic!("{}", faults.render()))
}

#[test]
fn every_lesson_of_the_examples_holds_true() {
    let example = example();
    let scene = example.scene();
    let mut held = 0;
    for folder in std::fs::read_dir(examples()).unwrap().map(|f| f.unwrap().path()) {
        if !folder.is_dir() {
            continue;
        }
        for path in std::fs::read_dir(folder).unwrap().map(|f| f.unwrap().path()) {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            if !name.starts_with("lesson") {
                continue;
            }
            let file = lesson(&name);
            assert_eq!((&file.case.car, &file.kit.kit), (&*example.car, &*example.kit), "{name}");
            assert_eq!(untrue(&scene, &example.bests, &file.lesson), [], "{name}");
            held += 1;
        }
    }
    assert!(held >= 2, "only {held} lessons were found");
}

/// Each claim turned into its opposite, one at a time, is found.
#[test]
fn no_falsehood_is_taught() {
    let example = example();
    let scene = example.scene();
    let told = |lesson: &Lesson| untrue(&scene, &example.bests, lesson);
    let good = lesson("lesson-outlet.toml").lesson;
    let short = |a: &str, b: &str| Outcome::Short(vec![[a.into(), b.into()]]);
    let place = |found: Vec<Untrue>| found.into_iter().map(|u| u.place).collect::<Vec<_>>();

    let mut bad = good.clone();
    bad.start.outcome = short("outlet", "clamp bar");
    assert_eq!(place(told(&bad)), ["start"]);

    let mut count = 0;
    for (i, step) in good.steps.iter().enumerate() {
        let Task::Try(trials) = &step.task else { continue };
        for (j, trial) in trials.iter().enumerate() {
            let turned = match trial.outcome {
                Outcome::NothingShort => short("outlet", "clamp bar"),
                Outcome::CannotTell | Outcome::Short(_) => Outcome::NothingShort,
            };
            for outcome in [turned, short("foot at P0", "foot at P180"), Outcome::CannotTell] {
                let mut bad = good.clone();
                let Task::Try(trials) = &mut bad.steps[i].task else { unreachable!() };
                trials[j].outcome = outcome;
                assert_eq!(place(told(&bad)), [format!("{}: {}", step.title, trial.text)]);
                count += 1;
            }
        }
    }
    assert!(count >= 15, "only {count} claims were turned");

    // A pair that is short, while another is worse.
    let mut bad = good.clone();
    let Task::Try(trials) = &mut bad.steps[0].task else { unreachable!() };
    trials[0].outcome = short("outlet handle's swing", "clamp bar");
    assert_eq!(told(&bad).len(), 1);

    for (i, step) in good.steps.iter().enumerate() {
        let Task::SetRight(task) = &step.task else { continue };
        let mut bad = good.clone();
        let mut wrong = task.clone();
        wrong.solution = vec![Edit::OutletBearing("8 o'clock".parse().unwrap())];
        bad.steps[i].task = Task::SetRight(wrong);
        assert_eq!(place(told(&bad)), [format!("{}: solution", step.title)]);
    }

    // What the kit does not allow is not quietly taken for something else.
    let mut bad = good.clone();
    bad.start.edits = vec![Edit::ScrewExtension(10_000.0)];
    let found = told(&bad);
    assert!(found.iter().all(|u| u.found == "the screw's extension is beyond what the kit allows"));
    assert!(!found.is_empty());
}

fn runner(example: &Example, name: &str) -> Runner {
    let ground = (Arc::clone(&example.car), Arc::clone(&example.kit));
    Runner::new(ground, Arc::clone(&example.bests), Arc::new(lesson(name).lesson)).unwrap()
}

#[test]
fn a_lesson_run_through_and_scored() {
    let example = example();
    let scene = example.scene();
    let mut run = runner(example, "lesson-outlet.toml");
    let see = |run: &mut Runner| -> Option<Feedback> {
        let tried = recheck(&scene, run.session().setup()).unwrap();
        run.see(&tried)
    };
    assert_eq!(run.score(), Score { points: 0, of: 8, done: 0, steps: 5 });
    // Before anything is tried there is nothing to say.
    assert_eq!(see(&mut run), None);

    // A wrong choice first: no points, and trying the right one afterwards brings none.
    run.try_choice(0).unwrap();
    let said = see(&mut run).unwrap();
    assert!(said.reply == Reply::NotSo && said.text.contains("relief device"), "{said:?}");
    run.try_choice(3).unwrap();
    assert_eq!(see(&mut run).unwrap().reply, Reply::Right);
    assert_eq!(run.progress()[0], Progress::Done { points: 0 });
    // Changed by hand it is no longer the choice.
    run.act(&Act::Edit(Edit::OutletBearing(Angle::from_degrees(75.0)))).unwrap();
    assert_eq!(see(&mut run), None);

    run.forward().unwrap();
    assert_eq!(run.session().can_undo_redo(), [false, false]);
    run.try_choice(0).unwrap();
    // What was measured of something else is passed over.
    let other = example.bests.find(example.fitting("LV1"), None).unwrap();
    assert_eq!(run.see(&recheck(&scene, other).unwrap()), None);
    assert_eq!(see(&mut run).unwrap().reply, Reply::Right);
    assert_eq!(run.score().points, 1);

    run.forward().unwrap();
    assert!(run.try_choice(0).is_err());
    assert!(run.answer(&[]).is_err() && run.answer(&[7]).is_err());
    let said = run.answer(&[0]).unwrap();
    assert!(said.reply == Reply::Right && said.text.starts_with("The cup is put on"));
    assert_eq!(run.answer(&[1]).unwrap().reply, Reply::NotSo);
    assert_eq!(run.score().points, 2);

    run.forward().unwrap();
    run.forward().unwrap();
    assert_eq!(run.step().unwrap().title, "Set it right");
    // The answer is not given away.
    assert_eq!(run.act(&Act::Best), Err(Refused::NotNow));
    assert_eq!(see(&mut run), None);
    run.act(&Act::Edit(Edit::OutletBearing("2 o'clock".parse().unwrap()))).unwrap();
    assert_eq!(see(&mut run).unwrap().reply, Reply::Right);
    assert_eq!(run.score(), Score { points: 5, of: 8, done: 4, steps: 5 });

    run.forward().unwrap();
    // One right answer of two is not all of it.
    assert_eq!(run.answer(&[0]).unwrap().reply, Reply::NotSo);
    assert_eq!(run.score(), Score { points: 5, of: 8, done: 5, steps: 5 });
    run.forward().unwrap();
    assert!(run.step().is_none() && run.forward().is_err());
    assert_eq!(tryout::words::score(&run.score()), "5 of 8 points, 5 of 5 steps done");
    run.back().unwrap();
    assert_eq!(run.at(), 5);
}

#[test]
fn a_solution_shown_brings_no_points_and_is_not_called_right() {
    let example = example();
    let scene = example.scene();
    let mut run = runner(example, "lesson-hinge.toml");
    let last = run.lesson().steps.len() - 1;
    run.go(last).unwrap();
    assert_eq!(run.show_solution().unwrap().reply, Reply::Shown);
    let tried = recheck(&scene, run.session().setup()).unwrap();
    assert_eq!(run.see(&tried).unwrap().reply, Reply::Shown);
    assert_eq!(run.progress()[last], Progress::Done { points: 0 });
    assert!(run.shown()[last] && !run.shown()[0]);
    run.go(0).unwrap();
    assert!(run.show_solution().is_err());
    // Nor when it is set right by hand afterwards.
    run.go(last).unwrap();
    assert_eq!(run.see(&recheck(&scene, run.session().setup()).unwrap()), None);
    let Task::SetRight(task) = &run.step().unwrap().task else { unreachable!() };
    for edit in task.solution.clone() {
        run.act(&Act::Edit(edit)).unwrap();
    }
    let tried = recheck(&scene, run.session().setup()).unwrap();
    assert_eq!(run.see(&tried).unwrap().reply, Reply::Shown);
    assert_eq!(run.score().points, 0);
}

#[test]
fn a_lesson_read_anew_goes_on_where_it_was() {
    let example = example();
    let scene = example.scene();
    let mut before = runner(example, "lesson-hinge.toml");
    before.try_choice(1).unwrap();
    before.see(&recheck(&scene, before.session().setup()).unwrap()).unwrap();
    let last = before.lesson().steps.len() - 1;
    before.go(last).unwrap();
    before.show_solution().unwrap();
    before.go(1).unwrap();
    let score = Score { points: 2, of: 10, done: 2, steps: 5 };
    assert_eq!(before.score(), score);

    let anew = |change: &dyn Fn(&mut Lesson)| {
        let mut lesson = lesson("lesson-hinge.toml").lesson;
        change(&mut lesson);
        let ground = (Arc::clone(&example.car), Arc::clone(&example.kit));
        let mut run = Runner::new(ground, Arc::clone(&example.bests), Arc::new(lesson)).unwrap();
        run.go_on_from(&before).unwrap();
        run
    };
    let same = anew(&|_| ());
    assert_eq!((same.score(), same.at(), same.shown()), (score, 1, before.shown()));

    // A step put before the others: all that was scored goes with its step.
    let longer = anew(&|lesson| lesson.steps.insert(0, lesson.steps[2].clone()));
    assert_eq!((longer.at(), longer.score().points, longer.score().done), (2, 2, 2));
    assert_eq!(longer.progress()[0], Progress::Open);

    // What was scored in a step that is another now is open again, and the place stays as far on.
    let other = anew(&|lesson| lesson.steps[0].text.push_str(" Look closely."));
    assert_eq!((other.at(), other.score().points, other.score().done), (1, 0, 1));
    let here = anew(&|lesson| lesson.steps[1].points += 1);
    assert_eq!((here.at(), here.score().points), (1, 2));
    let shorter = anew(&|lesson| lesson.steps.truncate(1));
    assert_eq!((shorter.at(), shorter.step().is_none(), shorter.score().points), (1, true, 2));

    // From another start nothing is the same.
    let moved = anew(&|lesson| lesson.start.edits.push(Edit::BarSlide(1.0)));
    assert_eq!((moved.at(), moved.score().points, moved.score().done), (0, 0, 0));
}

#[test]
fn a_false_lesson_scores_nothing() {
    let example = example();
    let scene = example.scene();
    let mut lesson = lesson("lesson-outlet.toml").lesson;
    let Task::Try(trials) = &mut lesson.steps[0].task else { unreachable!() };
    trials[2].outcome = Outcome::NothingShort;
    let ground = (Arc::clone(&example.car), Arc::clone(&example.kit));
    let mut run = Runner::new(ground, Arc::clone(&example.bests), Arc::new(lesson)).unwrap();
    run.try_choice(2).unwrap();
    let said = run.see(&recheck(&scene, run.session().setup()).unwrap()).unwrap();
    assert!(
        said.reply == Reply::NotSo && said.text.starts_with("The lesson does not hold here"),
        "{said:?}"
    );
    assert_eq!(run.progress()[0], Progress::Open);
}
