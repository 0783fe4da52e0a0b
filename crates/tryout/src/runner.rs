//! A lesson run.

use crate::apply::Refused;
use crate::session::{Act, Bests, Session, after, best};
use crate::tried::{RowState, Setup, Tried, recheck};
use crate::words;
use assembly::placement::End;
use assembly::{CarTop, Edit, Kit};
use fitup::{Scene, Stand};
use lesson::{Lesson, Outcome, SetRight, Step, Task};
use std::collections::BTreeSet;
use std::sync::Arc;

/// A lesson that is run: at which step it is, what is set up there, what was scored.
#[derive(Debug, Clone)]
pub struct Runner {
    lesson: Arc<Lesson>,
    bests: Arc<Bests>,
    session: Session,
    at: usize,
    progress: Vec<Progress>,
    /// Of each step, whether its solution was shown.
    shown: Vec<bool>,
    /// Index of the choice that is tried.
    trying: Option<usize>,
}

/// How far a step is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Progress {
    /// Nothing was tried or answered that counts.
    Open,
    /// The first attempt was made, or the exercise is solved or its solution was shown.
    Done {
        /// What it brought.
        points: u32,
    },
}

/// What was scored so far.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Score {
    /// Points had.
    pub points: u32,
    /// Points that can be had in all.
    pub of: u32,
    /// Steps with points that are done.
    pub done: usize,
    /// Steps with points.
    pub steps: usize,
}

/// How what was tried or answered is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Reply {
    /// It was right.
    Right,
    /// It was not.
    NotSo,
    /// It is no attempt: the solution was shown.
    Shown,
}

impl Reply {
    const fn to(is_right: bool) -> Self {
        if is_right { Self::Right } else { Self::NotSo }
    }
}

/// What is said after something was tried or answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Feedback {
    /// How it is taken.
    pub reply: Reply,
    /// What to tell.
    pub text: String,
}

/// A claim of a lesson that the checks do not bear out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Untrue {
    /// Of which part of the lesson: `start`, or the step's title and what is claimed there.
    pub place: String,
    /// What was found instead, in a sentence without its full stop.
    pub found: String,
}

impl Runner {
    /// Begins a lesson at its first step.
    pub fn new(
        (car, kit): (Arc<CarTop>, Arc<Kit>),
        bests: Arc<Bests>,
        lesson: Arc<Lesson>,
    ) -> Result<Self, Refused> {
        let start = &lesson.start;
        let session = Session::new((car, kit), Arc::clone(&bests), start.fitting, start.cup)?;
        let progress = vec![Progress::Open; lesson.steps.len()];
        let shown = vec![false; lesson.steps.len()];
        let mut runner = Self { lesson, bests, session, at: 0, progress, shown, trying: None };
        runner.go(0)?;
        Ok(runner)
    }

    /// Goes on where another run was, whose documents may have been others. What was scored stays in every
    /// step that is still the same, and so does the place: the same step, or else the one as far on. Where
    /// the lesson starts from something else nothing of it is the same.
    pub fn go_on_from(&mut self, before: &Self) -> Result<(), Refused> {
        if self.lesson.start != before.lesson.start {
            return Ok(());
        }
        let mut at = before.at;
        let mut was_used = vec![false; before.lesson.steps.len()];
        for (index, step) in self.lesson.steps.iter().enumerate() {
            let mut all = before.lesson.steps.iter().zip(&was_used);
            let Some(same) = all.position(|(other, was_used)| other == step && !was_used) else {
                continue;
            };
            was_used[same] = true;
            (self.progress[index], self.shown[index]) = (before.progress[same], before.shown[same]);
            if same == before.at {
                at = index;
            }
        }
        self.go(at)
    }

    /// The lesson.
    pub fn lesson(&self) -> &Lesson {
        &self.lesson
    }

    /// What is set up.
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// The index of the step; as many as there are once the lesson is through.
    pub fn at(&self) -> usize {
        self.at
    }

    /// The step; `None` once the lesson is through.
    pub fn step(&self) -> Option<&Step> {
        self.lesson.steps.get(self.at)
    }

    /// How far each step is.
    pub fn progress(&self) -> &[Progress] {
        &self.progress
    }

    /// Of each step, whether its solution was shown.
    pub fn shown(&self) -> &[bool] {
        &self.shown
    }

    /// Index of the choice that is tried now.
    pub fn trying(&self) -> Option<usize> {
        self.trying
    }

    /// What was scored so far.
    pub fn score(&self) -> Score {
        let steps = self.lesson.steps.iter().zip(&self.progress);
        let scored: Vec<Progress> = steps.filter(|(s, _)| s.is_scored()).map(|(_, p)| *p).collect();
        let points = |progress: &Progress| match progress {
            Progress::Open => 0,
            Progress::Done { points } => *points,
        };
        Score {
            points: scored.iter().map(points).sum(),
            of: self.lesson.points(),
            done: scored.iter().filter(|p| **p != Progress::Open).count(),
            steps: scored.len(),
        }
    }

    /// On to the next step, or to the end.
    pub fn forward(&mut self) -> Result<(), Refused> {
        if self.at >= self.lesson.steps.len() {
            return Err(Refused::Nothing("go on to"));
        }
        self.go(self.at + 1)
    }

    /// Back to the step before.
    pub fn back(&mut self) -> Result<(), Refused> {
        self.go(self.at.checked_sub(1).ok_or(Refused::Nothing("go back to"))?)
    }

    /// To a step as it begins. What was scored stays.
    pub fn go(&mut self, step: usize) -> Result<(), Refused> {
        let edits: &[Edit] = match self.lesson.steps.get(step).map(|step| &step.task) {
            Some(Task::SetRight(task)) => &task.edits,
            _ => &[],
        };
        let setup = self.set_up(&[edits])?;
        self.session.begin(setup);
        self.at = step.min(self.lesson.steps.len());
        self.trying = None;
        Ok(())
    }

    /// What a person does by hand. In an exercise the best placement is not given away.
    pub fn act(&mut self, act: &Act) -> Result<(), Refused> {
        let gives_away = matches!(act, Act::Best | Act::Edit(Edit::Fitting(_)));
        if gives_away && self.exercise().is_some() {
            return Err(Refused::NotNow);
        }
        self.session.act(act)
    }

    /// Tries one of the step's choices: it is set up, and what is found is to be [seen](Self::see).
    pub fn try_choice(&mut self, choice: usize) -> Result<(), Refused> {
        let Some(Task::Try(trials)) = self.step().map(|step| &step.task) else {
            return Err(Refused::NoSuch("choice in this step"));
        };
        let trial = trials.get(choice).ok_or(Refused::NoSuch("choice in this step"))?;
        let setup = self.set_up(&[&trial.edits])?;
        self.session.go(setup);
        self.trying = Some(choice);
        Ok(())
    }

    /// Shows the solution of an exercise, which then brings no points and is not called right again.
    pub fn show_solution(&mut self) -> Result<Feedback, Refused> {
        let task = self.exercise().ok_or(Refused::NoSuch("exercise in this step"))?;
        let (setup, text) = (self.set_up(&[&task.edits, &task.solution])?, task.because.clone());
        self.close(0);
        if let Some(shown) = self.shown.get_mut(self.at) {
            *shown = true;
        }
        self.session.go(setup);
        Ok(Feedback { reply: Reply::Shown, text })
    }

    /// Answers a question by the indices of all answers held to be right.
    pub fn answer(&mut self, named: &[usize]) -> Result<Feedback, Refused> {
        let Some(Task::Question(answers)) = self.step().map(|step| &step.task) else {
            return Err(Refused::NoSuch("question in this step"));
        };
        if named.is_empty() || named.iter().any(|i| *i >= answers.len()) {
            return Err(Refused::NoSuch("answer"));
        }
        let is_named = |i: &usize| named.contains(i);
        let right = (0..answers.len()).filter(|i| answers[*i].is_right);
        let is_right = right.eq((0..answers.len()).filter(is_named));
        let texts = (0..answers.len()).filter(is_named).map(|i| answers[i].because.as_str());
        let text = texts.collect::<Vec<_>>().join(" ");
        self.score_first(is_right);
        Ok(Feedback { reply: Reply::to(is_right), text })
    }

    /// Sees what was measured of what is set up. Gives what is to be said about it: of a choice that is
    /// tried why it is so, of an exercise once nothing is short any more. What was measured of anything
    /// else is passed over.
    pub fn see(&mut self, tried: &Tried) -> Option<Feedback> {
        if tried.setup != *self.session.setup() {
            return None;
        }
        match &self.step()?.task {
            Task::Try(trials) => {
                let trial = trials.get(self.trying?)?;
                // By hand it may have been changed since.
                if self.set_up(&[&trial.edits]).ok()? != tried.setup {
                    return None;
                }
                let is_right = trial.outcome == Outcome::NothingShort;
                if let Err(found) = held(&trial.outcome, tried) {
                    let text = words::untrue(&found);
                    return Some(Feedback { reply: Reply::NotSo, text });
                }
                let text = trial.because.clone();
                self.score_first(is_right);
                Some(Feedback { reply: Reply::to(is_right), text })
            }
            Task::SetRight(task) if tried.stand == Stand::NothingShort => {
                let text = task.because.clone();
                if self.shown.get(self.at) == Some(&true) {
                    return Some(Feedback { reply: Reply::Shown, text });
                }
                self.score_first(true);
                Some(Feedback { reply: Reply::Right, text })
            }
            Task::SetRight(_) | Task::Question(_) => None,
        }
    }

    fn exercise(&self) -> Option<&SetRight> {
        match &self.step()?.task {
            Task::SetRight(task) => Some(task),
            Task::Try(_) | Task::Question(_) => None,
        }
    }

    fn score_first(&mut self, is_right: bool) {
        let points = self.step().map_or(0, |step| step.points);
        self.close(if is_right { points } else { 0 });
    }

    /// Notes what the first attempt brought.
    fn close(&mut self, points: u32) {
        if let Some(progress @ Progress::Open) = self.progress.get_mut(self.at) {
            *progress = Progress::Done { points };
        }
    }

    fn set_up(&self, edits: &[&[Edit]]) -> Result<Setup, Refused> {
        let ground = (self.session.car().as_ref(), self.session.kit().as_ref());
        set_up(ground, &self.bests, &self.lesson, edits)
    }
}

/// What is set up where a lesson starts, after some changes more.
fn set_up(
    ground: (&CarTop, &Kit),
    bests: &Bests,
    lesson: &Lesson,
    edits: &[&[Edit]],
) -> Result<Setup, Refused> {
    let start = &lesson.start;
    let mut setup = best(ground.0, bests, start.fitting, start.cup)?;
    for edit in start.edits.iter().chain(edits.iter().copied().flatten()) {
        setup = after(ground, bests, &setup, edit)?;
        if let Some(what) = missed(edit, &setup) {
            return Err(Refused::Beyond(what));
        }
    }
    Ok(setup)
}

/// What a change asked for and did not get, as it lies beyond its range: a hand stops there, a lesson
/// must not mean something else.
fn missed(edit: &Edit, setup: &Setup) -> Option<&'static str> {
    /// Lengths that are the same, mm.
    const ALIKE: f64 = 1e-9;
    let place = &setup.placement;
    let end = |port: usize| End::BOTH.into_iter().find(|e| setup.choice.ports[e.index()] == port);
    let (what, off) = match edit {
        Edit::CupOffset(asked) => ("cup's offset", (asked - place.cup_offset).norm()),
        Edit::BarSlide(asked) => ("bar's slide", asked - place.bar_slide),
        Edit::ScrewExtension(asked) => ("screw's extension", asked - place.screw_extension),
        Edit::FootShift { port, shift } => {
            ("foot's shift", shift - place.foot_shift[end(*port)?.index()])
        }
        Edit::LidOpening(asked) => ("lid's opening", asked.radians() - place.lid_opening.radians()),
        _ => return None,
    };
    (off.abs() > ALIKE).then_some(what)
}

/// Whether what was found is what was claimed; otherwise what was found.
fn held(outcome: &Outcome, tried: &Tried) -> Result<(), String> {
    let short = || -> BTreeSet<[&str; 2]> {
        let rows = tried.rows.iter().filter(|row| row.state == RowState::Short);
        rows.map(|row| sorted([&row.told.a, &row.told.b])).collect()
    };
    match outcome {
        Outcome::NothingShort => match tried.stand {
            Stand::NothingShort => Ok(()),
            Stand::Short | Stand::CannotTell => Err(words::found(tried)),
        },
        Outcome::CannotTell => match tried.stand {
            Stand::CannotTell => Ok(()),
            Stand::Short | Stand::NothingShort => Err(words::found(tried)),
        },
        Outcome::Short(pairs) => {
            let short = short();
            let pairs: Vec<[&str; 2]> = pairs.iter().map(|[a, b]| sorted([a, b])).collect();
            if let Some([a, b]) = pairs.iter().find(|pair| !short.contains(*pair)) {
                return Err(format!("{a} and {b} are not short of room: {}", words::found(tried)));
            }
            let first = tried.limit.as_ref().map(|row| sorted([&row.told.a, &row.told.b]));
            match first {
                Some(first) if pairs.contains(&first) => Ok(()),
                _ => Err(words::found(tried)),
            }
        }
    }
}

fn sorted([a, b]: [&str; 2]) -> [&str; 2] {
    if a <= b { [a, b] } else { [b, a] }
}

/// Every claim of a lesson that the checks do not bear out with these best placements: at its start, for
/// each choice to try, for each exercise before and after it is solved. Empty for a lesson that holds
/// true.
pub fn untrue(scene: &Scene<'_>, bests: &Bests, lesson: &Lesson) -> Vec<Untrue> {
    let mut all = Vec::new();
    let mut claim = |place: &str, edits: &[&[Edit]], outcome: &Outcome| {
        let found = match set_up((scene.car, scene.kit), bests, lesson, edits) {
            Err(refused) => Err(refused.to_string()),
            Ok(setup) => match recheck(scene, &setup) {
                None => Err("nothing can be placed so".to_owned()),
                Some(tried) => held(outcome, &tried),
            },
        };
        if let Err(found) = found {
            all.push(Untrue { place: place.to_owned(), found });
        }
    };
    claim("start", &[], &lesson.start.outcome);
    for step in &lesson.steps {
        match &step.task {
            Task::Try(trials) => {
                for trial in trials {
                    let place = format!("{}: {}", step.title, trial.text);
                    claim(&place, &[&trial.edits], &trial.outcome);
                }
            }
            Task::SetRight(task) => {
                claim(&step.title, &[&task.edits], &task.outcome);
                let solved: [&[Edit]; 2] = [&task.edits, &task.solution];
                let place = format!("{}: solution", step.title);
                claim(&place, &solved, &Outcome::NothingShort);
            }
            Task::Question(_) => {}
        }
    }
    all
}
