//! Keys, and the words of the help that lists them: one table for both.

use super::desk::{Desk, Order};
use super::lessons::Lecture;
use assembly::Edit;
use bevy_egui::egui::{Context, Key, Modifiers};
use display::View;
use measure::Angle;
use nalgebra::Vector2;
use tryout::Act;

/// A key with what it does.
pub(crate) struct Binding {
    key: Key,
    modifiers: Modifiers,
    /// As it is written on keyboards.
    pub(crate) name: &'static str,
    /// What it does.
    pub(crate) words: &'static str,
    does: Does,
}

/// What a key does.
#[derive(Debug, Clone, Copy)]
enum Does {
    Plain(fn() -> Order),
    /// Needs what is set up.
    Edit(fn(&tryout::Setup) -> Edit),
    Fitting(bool),
}

const NONE: Modifiers = Modifiers::NONE;
const SHIFT: Modifiers = Modifiers::SHIFT;
const CTRL: Modifiers = Modifiers::COMMAND;

const fn plain(
    key: Key,
    modifiers: Modifiers,
    name: &'static str,
    words: &'static str,
    does: fn() -> Order,
) -> Binding {
    Binding { key, modifiers, name, words, does: Does::Plain(does) }
}

const fn edit(
    key: Key,
    modifiers: Modifiers,
    name: &'static str,
    words: &'static str,
    does: fn(&tryout::Setup) -> Edit,
) -> Binding {
    Binding { key, modifiers, name, words, does: Does::Edit(does) }
}

fn turned(setup: &tryout::Setup, degrees: f64) -> Edit {
    let at = setup.placement.outlet_bearing.degrees();
    Edit::OutletBearing(Angle::from_degrees(at + degrees))
}

fn moved(setup: &tryout::Setup, x: f64, y: f64) -> Edit {
    Edit::CupOffset(setup.placement.cup_offset + Vector2::new(x, y))
}

fn lid(setup: &tryout::Setup, degrees: f64) -> Edit {
    Edit::LidOpening(Angle::from_degrees(setup.placement.lid_opening.degrees() + degrees))
}

/// Every key.
pub(crate) const BINDINGS: &[Binding] = &[
    plain(Key::Num1, NONE, "1", "look from above", || Order::Look(View::Above)),
    plain(Key::Num2, NONE, "2", "look along the bar", || Order::Look(View::AlongBar)),
    plain(Key::Num3, NONE, "3", "look across the bar", || Order::Look(View::AcrossBar)),
    plain(Key::Num4, NONE, "4", "look from the hinge", || Order::Look(View::FromHinge)),
    plain(Key::Num5, NONE, "5", "look from the corner", || Order::Look(View::Corner)),
    plain(Key::ArrowLeft, NONE, "Left", "turn the view left", || Order::Turn([-0.03, 0.0])),
    plain(Key::ArrowRight, NONE, "Right", "turn the view right", || Order::Turn([0.03, 0.0])),
    plain(Key::ArrowUp, NONE, "Up", "tip the view up", || Order::Turn([0.0, -0.03])),
    plain(Key::ArrowDown, NONE, "Down", "tip the view down", || Order::Turn([0.0, 0.03])),
    plain(Key::ArrowLeft, CTRL, "Ctrl Left", "move the view left", || Order::Shift([0.03, 0.0])),
    plain(Key::ArrowRight, CTRL, "Ctrl Right", "move the view right", || {
        Order::Shift([-0.03, 0.0])
    }),
    plain(Key::ArrowUp, CTRL, "Ctrl Up", "move the view up", || Order::Shift([0.0, 0.03])),
    plain(Key::ArrowDown, CTRL, "Ctrl Down", "move the view down", || Order::Shift([0.0, -0.03])),
    plain(Key::Plus, NONE, "+", "come nearer", || Order::Near(1.0)),
    plain(Key::Equals, NONE, "=", "come nearer", || Order::Near(1.0)),
    plain(Key::Minus, NONE, "-", "go farther off", || Order::Near(-1.0)),
    plain(Key::P, NONE, "P", "parallel or in perspective", || Order::Parallel),
    plain(Key::J, NONE, "J", "to the next figure, cut through it", || Order::NextFigure(true)),
    plain(Key::K, NONE, "K", "to the figure before", || Order::NextFigure(false)),
    plain(Key::C, NONE, "C", "cut: along the bar, across it, level, not at all", || Order::NextCut),
    plain(Key::Comma, NONE, ",", "move the cut away from the eye", || Order::MoveCut(-2.0)),
    plain(Key::Period, NONE, ".", "move the cut toward the eye", || Order::MoveCut(2.0)),
    edit(Key::Q, NONE, "Q", "turn the outlet 1 degree counter-clockwise", |s| turned(s, 1.0)),
    edit(Key::E, NONE, "E", "turn the outlet 1 degree clockwise", |s| turned(s, -1.0)),
    edit(Key::Q, SHIFT, "Shift Q", "turn the outlet 10 degrees counter-clockwise", |s| {
        turned(s, 10.0)
    }),
    edit(Key::E, SHIFT, "Shift E", "turn the outlet 10 degrees clockwise", |s| turned(s, -10.0)),
    edit(Key::W, NONE, "W", "move the cup 0.5 mm toward the hinge", |s| moved(s, 0.5, 0.0)),
    edit(Key::S, NONE, "S", "move the cup 0.5 mm from the hinge", |s| moved(s, -0.5, 0.0)),
    edit(Key::A, NONE, "A", "move the cup 0.5 mm left of the hinge", |s| moved(s, 0.0, 0.5)),
    edit(Key::D, NONE, "D", "move the cup 0.5 mm right of the hinge", |s| moved(s, 0.0, -0.5)),
    edit(Key::L, NONE, "L", "open the lid by 5 degrees", |s| lid(s, 5.0)),
    edit(Key::L, SHIFT, "Shift L", "close the lid by 5 degrees", |s| lid(s, -5.0)),
    edit(Key::B, NONE, "B", "slide the bar 1 mm", |s| Edit::BarSlide(s.placement.bar_slide + 1.0)),
    edit(Key::B, SHIFT, "Shift B", "slide the bar 1 mm back", |s| {
        Edit::BarSlide(s.placement.bar_slide - 1.0)
    }),
    plain(Key::R, NONE, "R", "back to the best placement", || Order::Act(Act::Best)),
    plain(Key::Z, CTRL, "Ctrl Z", "undo", || Order::Act(Act::Undo)),
    plain(Key::Y, CTRL, "Ctrl Y", "do again", || Order::Act(Act::Redo)),
    plain(Key::Space, NONE, "Space", "play the installation, or pause", || Order::Play),
    plain(Key::PageDown, NONE, "Page down", "one step on", || Order::Step(true)),
    plain(Key::PageUp, NONE, "Page up", "one step back", || Order::Step(false)),
    plain(Key::End, NONE, "End", "all done", || Order::At(None)),
    plain(Key::X, NONE, "X", "draw the rig's parts apart", || Order::Apart(1.0)),
    plain(Key::X, SHIFT, "Shift X", "and together again", || Order::Apart(0.0)),
    plain(Key::V, NONE, "V", "show every part", || Order::ShowAll),
    plain(Key::M, NONE, "M", "measure between two points or parts", || Order::Ruler),
    Binding {
        key: Key::F,
        modifiers: NONE,
        name: "F",
        words: "the next fitting",
        does: Does::Fitting(true),
    },
    Binding {
        key: Key::F,
        modifiers: SHIFT,
        name: "Shift F",
        words: "the fitting before",
        does: Does::Fitting(false),
    },
    plain(Key::N, NONE, "N", "a lesson's next step", || {
        Order::Class(Lecture::Step { is_on: true })
    }),
    plain(Key::N, SHIFT, "Shift N", "a lesson's step before", || {
        Order::Class(Lecture::Step { is_on: false })
    }),
    plain(Key::Num1, CTRL, "Ctrl 1", "try or name a lesson's first choice", || {
        Order::Class(Lecture::Choose(0))
    }),
    plain(Key::Num2, CTRL, "Ctrl 2", "the second", || Order::Class(Lecture::Choose(1))),
    plain(Key::Num3, CTRL, "Ctrl 3", "the third", || Order::Class(Lecture::Choose(2))),
    plain(Key::Num4, CTRL, "Ctrl 4", "the fourth", || Order::Class(Lecture::Choose(3))),
    plain(Key::G, NONE, "G", "give the answers that are named", || Order::Class(Lecture::Answer)),
    plain(Key::O, CTRL, "Ctrl O", "show an exercise's solution", || {
        Order::Class(Lecture::Solution)
    }),
    plain(Key::U, NONE, "U", "inches or millimetres", || Order::Units),
    plain(Key::T, NONE, "T", "larger letters", || Order::Letters(0.1)),
    plain(Key::T, SHIFT, "Shift T", "smaller letters", || Order::Letters(-0.1)),
    plain(Key::H, NONE, "H", "high contrast", || Order::Contrast),
    plain(Key::F1, NONE, "F1", "this help", || Order::Help),
    plain(Key::Escape, NONE, "Esc", "close, or leave the figure", || Order::Dismiss),
    plain(Key::F5, NONE, "F5", "read the files anew", || Order::Reload),
    plain(Key::Q, CTRL, "Ctrl Q", "quit", || Order::Quit),
];

/// The keys that were pressed, as often as each came. While something is written or chosen only those with
/// Ctrl count, and those of the top row.
pub(crate) fn pressed(ctx: &Context) -> Vec<&'static Binding> {
    let is_busy = ctx.egui_wants_keyboard_input();
    let counts = |binding: &&'static Binding| {
        !is_busy || binding.modifiers == CTRL || matches!(binding.key, Key::F1 | Key::F5)
    };
    let times = |binding: &Binding| {
        ctx.input_mut(|input| input.count_and_consume_key(binding.modifiers, binding.key))
    };
    // Those with a modifier come first: without one a key counts whatever is held beside it.
    let mut order: Vec<&'static Binding> = BINDINGS.iter().filter(counts).collect();
    order.sort_by_key(|binding| binding.modifiers == NONE);
    order.into_iter().flat_map(|binding| (0..times(binding)).map(move |_| binding)).collect()
}

/// What a key asks for as things stand.
pub(crate) fn ordered(binding: &Binding, desk: &Desk) -> Option<Order> {
    match binding.does {
        Does::Plain(order) => Some(order()),
        Does::Edit(edit) => Some(Order::Act(Act::Edit(edit(desk.session()?.setup())))),
        Does::Fitting(is_next) => {
            let all = desk.ground.car.fittings.len();
            let step = if is_next { 1 } else { all.checked_sub(1)? };
            Some(Order::Fitting((desk.fitting + step) % all))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_keys_are_the_same_and_each_has_words() {
        for (i, a) in BINDINGS.iter().enumerate() {
            assert!(!a.name.is_empty() && !a.words.is_empty());
            for b in &BINDINGS[..i] {
                assert!((a.key, a.modifiers) != (b.key, b.modifiers), "{} and {}", a.name, b.name);
            }
        }
    }
}
