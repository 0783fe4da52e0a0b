//! A lesson in the window: what is to be done, what was found, what was scored.

use super::desk::{Desk, Order};
use bevy_egui::egui::{RichText, Ui};
use lesson::Task;
use tryout::{Progress, words};

/// What a person does in a lesson.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Lecture {
    /// The next step, or the one before.
    Step {
        /// Whether on.
        is_on: bool,
    },
    /// Try this choice, or name this answer, or no longer.
    Choose(usize),
    /// The answers that are named are given.
    Answer,
    /// Show the solution.
    Solution,
}

impl Lecture {
    /// Carries it out.
    pub(crate) fn carry_out(self, desk: &mut Desk) {
        desk.in_class(|class| {
            match self {
                Self::Step { is_on: true } => class.runner.forward()?,
                Self::Step { is_on: false } => class.runner.back()?,
                Self::Choose(index) => match class.runner.step().map(|step| &step.task) {
                    Some(Task::Try(_)) => {
                        class.feedback = None;
                        return class.runner.try_choice(index);
                    }
                    Some(Task::Question(answers)) if index < answers.len() => {
                        if class.named.contains(&index) {
                            class.named.retain(|named| *named != index);
                        } else {
                            class.named.push(index);
                        }
                        class.feedback = None;
                        return Ok(());
                    }
                    _ => return Ok(()),
                },
                Self::Answer => {
                    let feedback = class.runner.answer(&class.named)?;
                    class.feedback = Some(feedback);
                    return Ok(());
                }
                Self::Solution => {
                    let feedback = class.runner.show_solution()?;
                    class.feedback = Some(feedback);
                    return Ok(());
                }
            }
            class.named.clear();
            class.feedback = None;
            Ok(())
        });
    }
}

/// The panel of the lesson that is run.
pub(crate) fn show(ui: &mut Ui, desk: &Desk, orders: &mut Vec<Order>) {
    let Some(class) = &desk.class else {
        if desk.lesson.is_some() {
            ui.label("The lesson begins once the fittings are reviewed.");
        }
        return;
    };
    let runner = &class.runner;
    let lesson = runner.lesson();
    ui.heading(&lesson.title);
    ui.label(words::score(&runner.score()));
    ui.horizontal_wrapped(|ui| {
        let steps = lesson.steps.iter().zip(runner.progress()).zip(runner.shown());
        for (index, ((step, progress), was_shown)) in steps.enumerate() {
            let done = match progress {
                Progress::Open if step.is_scored() => "open".to_owned(),
                Progress::Open => String::new(),
                Progress::Done { points } => format!("{points} of {}", step.points),
            };
            let done = if *was_shown { format!("{done}, shown") } else { done };
            let text = format!("{}{}{done}", index + 1, if done.is_empty() { "" } else { ": " });
            let text =
                if index == runner.at() { RichText::new(text).strong() } else { text.into() };
            ui.label(text).on_hover_text(&step.title);
        }
    });
    ui.separator();
    match runner.step() {
        None => {
            ui.label("The lesson is through.");
        }
        Some(step) => {
            if runner.at() == 0 {
                ui.label(&lesson.about);
            }
            ui.strong(&step.title);
            ui.label(&step.text);
            task(ui, desk, &step.task, orders);
        }
    }
    if let Some(feedback) = &class.feedback {
        ui.label(RichText::new(words::reply(feedback.reply)).strong());
        ui.label(&feedback.text);
    }
    ui.horizontal(|ui| {
        if ui.button("back").on_hover_text("the step before (Shift N)").clicked() {
            orders.push(Order::Class(Lecture::Step { is_on: false }));
        }
        if runner.step().is_some() && ui.button("on").on_hover_text("the next step (N)").clicked() {
            orders.push(Order::Class(Lecture::Step { is_on: true }));
        }
    });
    ui.separator();
}

fn task(ui: &mut Ui, desk: &Desk, task: &Task, orders: &mut Vec<Order>) {
    let Some(class) = &desk.class else { return };
    match task {
        Task::Try(trials) => {
            for (index, trial) in trials.iter().enumerate() {
                let is_tried = class.runner.trying() == Some(index);
                let label = ui.selectable_label(is_tried, format!("try: {}", trial.text));
                if label.on_hover_text(key(index)).clicked() {
                    orders.push(Order::Class(Lecture::Choose(index)));
                }
            }
        }
        Task::Question(answers) => {
            for (index, answer) in answers.iter().enumerate() {
                let mut is_named = class.named.contains(&index);
                if ui.checkbox(&mut is_named, &answer.text).on_hover_text(key(index)).changed() {
                    orders.push(Order::Class(Lecture::Choose(index)));
                }
            }
            let can_answer = !class.named.is_empty();
            let button = bevy_egui::egui::Button::new("answer");
            if ui.add_enabled(can_answer, button).on_hover_text("key G").clicked() {
                orders.push(Order::Class(Lecture::Answer));
            }
        }
        Task::SetRight(_) => {
            ui.label("Set it right by hand: nothing must be short.");
            if ui.button("show the solution").on_hover_text("it then brings no points").clicked() {
                orders.push(Order::Class(Lecture::Solution));
            }
        }
    }
}

/// The key of a choice; the first four have one.
fn key(index: usize) -> String {
    if index < 4 { format!("key Ctrl {}", index + 1) } else { "choose it".into() }
}

/// What a lesson tells, a line each.
pub(crate) fn told(desk: &Desk) -> Vec<String> {
    let Some(class) = &desk.class else { return Vec::new() };
    let step = class.runner.step().map(|step| format!("lesson step: {}", step.title));
    let feedback = class
        .feedback
        .as_ref()
        .map(|feedback| format!("{} {}", words::reply(feedback.reply), feedback.text));
    let score = format!("scored: {}", words::score(&class.runner.score()));
    step.into_iter().chain([score]).chain(feedback).collect()
}
