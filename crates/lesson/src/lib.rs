//! A training lesson: where it starts, what is tried, asked and set right, and what must then be found.
//!
//! A lesson claims things: that at its start nothing is short, that a wrong choice is short between two
//! parts, that what is to be set right can be. It proves none of them. Whoever runs it finds out by the
//! checks, and a claim that they do not bear out is not taught.

use assembly::Edit;

/// A lesson about one fitting of a car top, with one kit.
#[derive(Debug, Clone, PartialEq)]
pub struct Lesson {
    /// Title for people.
    pub title: String,
    /// What it teaches, in a sentence or two.
    pub about: String,
    /// Where it starts.
    pub start: Start,
    /// What is done, in order; never empty.
    pub steps: Vec<Step>,
}

impl Lesson {
    /// The points that can be had.
    pub fn points(&self) -> u32 {
        self.steps.iter().map(|step| step.points).sum()
    }
}

/// Where a lesson starts: the best placement found for a fitting and a cup, and changes of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Start {
    /// Index into [`assembly::CarTop::fittings`].
    pub fitting: usize,
    /// Index into [`assembly::Kit::cups`]; `None` for the best cup found.
    pub cup: Option<usize>,
    /// Changes of the best placement found, in order.
    pub edits: Vec<Edit>,
    /// What must be found there.
    pub outcome: Outcome,
}

/// What the checks must find at a placement for a lesson to hold true.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// Nothing is short, and nothing is left that cannot be told.
    NothingShort,
    /// Nothing is surely short, and something may be.
    CannotTell,
    /// Between each of these pairs of parts a margin is surely short, and the margin that is surest to
    /// be short is between one of them: what a screen shows first is what the lesson speaks of. Parts by
    /// their names as the record has them, in either order; never empty.
    Short(Vec<[String; 2]>),
}

/// One step. Each begins where the lesson starts.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Title for people.
    pub title: String,
    /// What to do, or what is asked.
    pub text: String,
    /// Points that it is worth, for the first attempt alone; zero where nothing is scored.
    pub points: u32,
    /// What is done.
    pub task: Task,
}

/// What is done in a step.
#[derive(Debug, Clone, PartialEq)]
pub enum Task {
    /// Choices to try, right or wrong; never empty. Points are for trying first one that leaves nothing
    /// short.
    Try(Vec<Trial>),
    /// A question with several answers, of which one or more are right. Points are for naming just the
    /// right ones.
    Question(Vec<Answer>),
    /// A rig to be set right by hand. Points are for reaching a placement at which nothing is short.
    SetRight(SetRight),
}

/// A choice to try.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    /// What is tried.
    pub text: String,
    /// How it differs from the lesson's start.
    pub edits: Vec<Edit>,
    /// What must be found then.
    pub outcome: Outcome,
    /// Why that is so.
    pub because: String,
}

/// An answer to choose.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// The answer.
    pub text: String,
    /// Whether it is right.
    pub is_right: bool,
    /// Why it is, or is not.
    pub because: String,
}

/// A rig to be set right.
#[derive(Debug, Clone, PartialEq)]
pub struct SetRight {
    /// How what is wrong differs from the lesson's start.
    pub edits: Vec<Edit>,
    /// What must be found then: something short.
    pub outcome: Outcome,
    /// One way to set it right, from there: nothing must be short afterwards.
    pub solution: Vec<Edit>,
    /// Why that is right.
    pub because: String,
}

impl Step {
    /// Whether points can be had.
    pub fn is_scored(&self) -> bool {
        self.points > 0
    }
}
