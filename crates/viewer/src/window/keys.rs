//! Keys, and the words of the help that lists them: one table for both.

use super::desk::{Desk, Order};
use super::lessons::Lecture;
use assembly::placement::{End, Removed, Side};
use assembly::{CarTop, Edit, Kit};
use bevy_egui::egui::{Context, Event, Key, Modifiers};
use display::View;
use measure::Angle;
use nalgebra::Vector2;
use tryout::{Act, Setup};

/// What belongs together, with a name.
pub(crate) struct Group {
    /// Its name.
    pub(crate) name: &'static str,
    /// Its lines.
    pub(crate) lines: &'static [Line],
}

/// A line of the help, with the keys of which it tells.
pub(crate) struct Line {
    /// The keys as they are written on keyboards.
    pub(crate) keys: &'static str,
    /// What they do.
    pub(crate) words: &'static str,
    chords: &'static [Chord],
}

/// A key with what is held beside it, and what both do.
#[derive(Debug)]
pub(crate) struct Chord {
    key: Key,
    held: Modifiers,
    does: Does,
}

/// What keys do.
#[derive(Debug, Clone, Copy)]
enum Does {
    Plain(fn() -> Order),
    /// Changes a number of what is set up.
    Edit(fn(&Setup) -> Edit),
    /// Chooses something else; `None` where there is nothing else.
    Choose(fn(Ground<'_>, &Setup) -> Option<Edit>),
    Fitting(Way),
}

/// What may be chosen from.
type Ground<'g> = (&'g CarTop, &'g Kit);

/// Through things that come one after the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    On,
    Back,
}

const NONE: Modifiers = Modifiers::NONE;
const SHIFT: Modifiers = Modifiers::SHIFT;
const CTRL: Modifiers = Modifiers::COMMAND;
const ALT: Modifiers = Modifiers::ALT;
const ALT_SHIFT: Modifiers = Modifiers::ALT.plus(Modifiers::SHIFT);

const fn line(keys: &'static str, words: &'static str, chords: &'static [Chord]) -> Line {
    Line { keys, words, chords }
}

const fn plain(key: Key, held: Modifiers, does: fn() -> Order) -> Chord {
    Chord { key, held, does: Does::Plain(does) }
}

const fn edit(key: Key, held: Modifiers, does: fn(&Setup) -> Edit) -> Chord {
    Chord { key, held, does: Does::Edit(does) }
}

const fn choose(key: Key, held: Modifiers, does: fn(Ground<'_>, &Setup) -> Option<Edit>) -> Chord {
    Chord { key, held, does: Does::Choose(does) }
}

const fn fitting(held: Modifiers, way: Way) -> Chord {
    Chord { key: Key::F, held, does: Does::Fitting(way) }
}

/// Every key.
pub(crate) const GROUPS: &[Group] = &[
    Group {
        name: "Looking",
        lines: &[
            line(
                "1 to 5",
                "from above, along the bar, across it, from the hinge, from a corner",
                &[
                    plain(Key::Num1, NONE, || Order::Look(View::Above)),
                    plain(Key::Num2, NONE, || Order::Look(View::AlongBar)),
                    plain(Key::Num3, NONE, || Order::Look(View::AcrossBar)),
                    plain(Key::Num4, NONE, || Order::Look(View::FromHinge)),
                    plain(Key::Num5, NONE, || Order::Look(View::Corner)),
                ],
            ),
            line(
                "Arrows",
                "turn the view",
                &[
                    plain(Key::ArrowLeft, NONE, || Order::Turn([-0.03, 0.0])),
                    plain(Key::ArrowRight, NONE, || Order::Turn([0.03, 0.0])),
                    plain(Key::ArrowUp, NONE, || Order::Turn([0.0, -0.03])),
                    plain(Key::ArrowDown, NONE, || Order::Turn([0.0, 0.03])),
                ],
            ),
            line(
                "Ctrl arrows",
                "move it",
                &[
                    plain(Key::ArrowLeft, CTRL, || Order::Shift([0.03, 0.0])),
                    plain(Key::ArrowRight, CTRL, || Order::Shift([-0.03, 0.0])),
                    plain(Key::ArrowUp, CTRL, || Order::Shift([0.0, 0.03])),
                    plain(Key::ArrowDown, CTRL, || Order::Shift([0.0, -0.03])),
                ],
            ),
            line(
                "+, -",
                "come nearer, go farther off",
                &[
                    plain(Key::Plus, NONE, || Order::Near(1.0)),
                    plain(Key::Equals, NONE, || Order::Near(1.0)),
                    plain(Key::Minus, NONE, || Order::Near(-1.0)),
                ],
            ),
            line("P", "parallel or in perspective", &[plain(Key::P, NONE, || Order::Parallel)]),
            line(
                "X, Shift X",
                "draw the rig's parts apart, and together again",
                &[
                    plain(Key::X, NONE, || Order::Apart(1.0)),
                    plain(Key::X, SHIFT, || Order::Apart(0.0)),
                ],
            ),
            line("V", "show every part", &[plain(Key::V, NONE, || Order::ShowAll)]),
        ],
    },
    Group {
        name: "Figures and cuts",
        lines: &[
            line(
                "J, K",
                "fly to the next figure, to the one before, and cut through it",
                &[
                    plain(Key::J, NONE, || Order::NextFigure(true)),
                    plain(Key::K, NONE, || Order::NextFigure(false)),
                ],
            ),
            line(
                "C",
                "cut along the bar, across it, level, not at all",
                &[plain(Key::C, NONE, || Order::NextCut)],
            ),
            line(
                "Comma, period",
                "move the cut away from the eye, toward it",
                &[
                    plain(Key::Comma, NONE, || Order::MoveCut(-2.0)),
                    plain(Key::Period, NONE, || Order::MoveCut(2.0)),
                ],
            ),
            line(
                "M, Enter",
                "measure; pick the point under the cross in the middle",
                &[
                    plain(Key::M, NONE, || Order::Ruler),
                    plain(Key::Enter, NONE, || Order::PickMiddle),
                ],
            ),
        ],
    },
    Group {
        name: "What is set up",
        lines: &[
            line(
                "F, Shift F",
                "the next fitting, the one before",
                &[fitting(NONE, Way::On), fitting(SHIFT, Way::Back)],
            ),
            line(
                "Alt C",
                "the next cup, with Shift the one before",
                &[
                    choose(Key::C, ALT, |ground, set| cup(ground, set, Way::On)),
                    choose(Key::C, ALT_SHIFT, |ground, set| cup(ground, set, Way::Back)),
                ],
            ),
            line(
                "Alt P",
                "the next two ports, with Shift the ones before",
                &[
                    choose(Key::P, ALT, |ground, set| ports(ground, set, Way::On)),
                    choose(Key::P, ALT_SHIFT, |ground, set| ports(ground, set, Way::Back)),
                ],
            ),
            line(
                "Alt E",
                "the elbow's next turn, with Shift the one before",
                &[
                    choose(Key::E, ALT, |ground, set| elbow(ground, set, Way::On)),
                    choose(Key::E, ALT_SHIFT, |ground, set| elbow(ground, set, Way::Back)),
                ],
            ),
            line(
                "Alt 1, Alt 2",
                "a thicker link inside, outside, at the first port",
                &[
                    choose(Key::Num1, ALT, |ground, set| link(ground, set, (End::A, Side::Inside))),
                    choose(Key::Num2, ALT, |ground, set| {
                        link(ground, set, (End::A, Side::Outside))
                    }),
                ],
            ),
            line(
                "Alt 3, Alt 4",
                "the same at the second port; after the thickest the thinnest",
                &[
                    choose(Key::Num3, ALT, |ground, set| link(ground, set, (End::B, Side::Inside))),
                    choose(Key::Num4, ALT, |ground, set| {
                        link(ground, set, (End::B, Side::Outside))
                    }),
                ],
            ),
            line(
                "Alt 5, Alt 6",
                "the links' next hole at the first port, at the second",
                &[
                    choose(Key::Num5, ALT, |ground, set| hole(ground, set, End::A)),
                    choose(Key::Num6, ALT, |ground, set| hole(ground, set, End::B)),
                ],
            ),
            line(
                "Delete, Insert",
                "take the fitting's next piece off, put the last one on",
                &[
                    choose(Key::Delete, NONE, |ground, set| {
                        Some(Edit::TakeOff(piece(ground, set, Way::On)?))
                    }),
                    choose(Key::Insert, NONE, |ground, set| {
                        Some(Edit::PutBack(piece(ground, set, Way::Back)?))
                    }),
                ],
            ),
            line(
                "Q, E",
                "turn the outlet 1\u{b0} to the left, to the right, with Shift 10\u{b0}",
                &[
                    edit(Key::Q, NONE, |set| turned(set, 1.0)),
                    edit(Key::E, NONE, |set| turned(set, -1.0)),
                    edit(Key::Q, SHIFT, |set| turned(set, 10.0)),
                    edit(Key::E, SHIFT, |set| turned(set, -10.0)),
                ],
            ),
            line(
                "W, S, A, D",
                "move the cup 0.5 mm toward the hinge, away, left, right",
                &[
                    edit(Key::W, NONE, |set| moved(set, 0.5, 0.0)),
                    edit(Key::S, NONE, |set| moved(set, -0.5, 0.0)),
                    edit(Key::A, NONE, |set| moved(set, 0.0, 0.5)),
                    edit(Key::D, NONE, |set| moved(set, 0.0, -0.5)),
                ],
            ),
            line(
                "L, Shift L",
                "open the lid by 5\u{b0}, close it",
                &[
                    edit(Key::L, NONE, |set| lid(set, 5.0)),
                    edit(Key::L, SHIFT, |set| lid(set, -5.0)),
                ],
            ),
            line(
                "B, Shift B",
                "slide the bar 1 mm, and back",
                &[
                    edit(Key::B, NONE, |set| slid(set, 1.0)),
                    edit(Key::B, SHIFT, |set| slid(set, -1.0)),
                ],
            ),
            line(
                "Alt left, right",
                "shift the first port's foot 1 mm, with Shift the second's",
                &[
                    edit(Key::ArrowLeft, ALT, |set| shifted(set, End::A, 1.0)),
                    edit(Key::ArrowRight, ALT, |set| shifted(set, End::A, -1.0)),
                    edit(Key::ArrowLeft, ALT_SHIFT, |set| shifted(set, End::B, 1.0)),
                    edit(Key::ArrowRight, ALT_SHIFT, |set| shifted(set, End::B, -1.0)),
                ],
            ),
            line(
                "Alt up, down",
                "turn the screw up, down, by 1 mm",
                &[
                    edit(Key::ArrowUp, ALT, |set| screwed(set, -1.0)),
                    edit(Key::ArrowDown, ALT, |set| screwed(set, 1.0)),
                ],
            ),
            line(
                "R",
                "back to the best placement",
                &[plain(Key::R, NONE, || Order::Act(Act::Best))],
            ),
            line(
                "Ctrl Z, Ctrl Y",
                "undo, do again",
                &[
                    plain(Key::Z, CTRL, || Order::Act(Act::Undo)),
                    plain(Key::Y, CTRL, || Order::Act(Act::Redo)),
                ],
            ),
        ],
    },
    Group {
        name: "Installation",
        lines: &[
            line("Space", "play it, or pause", &[plain(Key::Space, NONE, || Order::Play)]),
            line(
                "Page down, page up",
                "one step on, one step back",
                &[
                    plain(Key::PageDown, NONE, || Order::Step(true)),
                    plain(Key::PageUp, NONE, || Order::Step(false)),
                ],
            ),
            line("End", "all done", &[plain(Key::End, NONE, || Order::At(None))]),
        ],
    },
    Group {
        name: "Lesson",
        lines: &[
            line(
                "N, Shift N",
                "the next step, the one before",
                &[
                    plain(Key::N, NONE, || Order::Class(Lecture::Step { is_on: true })),
                    plain(Key::N, SHIFT, || Order::Class(Lecture::Step { is_on: false })),
                ],
            ),
            line(
                "Ctrl 1 to 4",
                "try, or name, the first to the fourth choice",
                &[
                    plain(Key::Num1, CTRL, || Order::Class(Lecture::Choose(0))),
                    plain(Key::Num2, CTRL, || Order::Class(Lecture::Choose(1))),
                    plain(Key::Num3, CTRL, || Order::Class(Lecture::Choose(2))),
                    plain(Key::Num4, CTRL, || Order::Class(Lecture::Choose(3))),
                ],
            ),
            line(
                "G",
                "give the answers that are named",
                &[plain(Key::G, NONE, || Order::Class(Lecture::Answer))],
            ),
            line(
                "Ctrl O",
                "show an exercise's solution",
                &[plain(Key::O, CTRL, || Order::Class(Lecture::Solution))],
            ),
        ],
    },
    Group {
        name: "Window",
        lines: &[
            line("U", "inches or millimetres", &[plain(Key::U, NONE, || Order::Units)]),
            line(
                "T, Shift T",
                "larger letters, smaller ones",
                &[
                    plain(Key::T, NONE, || Order::Letters(0.1)),
                    plain(Key::T, SHIFT, || Order::Letters(-0.1)),
                ],
            ),
            line("H", "high contrast", &[plain(Key::H, NONE, || Order::Contrast)]),
            line("Tab", "to the next button or slider", &[]),
            line(
                "Esc",
                "close, or leave the figure",
                &[plain(Key::Escape, NONE, || Order::Dismiss)],
            ),
            line("F1", "this help", &[plain(Key::F1, NONE, || Order::Help)]),
            line("F5", "read the files anew", &[plain(Key::F5, NONE, || Order::Reload)]),
            line("Ctrl Q", "quit", &[plain(Key::Q, CTRL, || Order::Quit)]),
        ],
    },
];

fn chords() -> impl Iterator<Item = &'static Chord> {
    GROUPS.iter().flat_map(|group| group.lines).flat_map(|line| line.chords)
}

/// The place after, or before, one of so many; `None` where there is no other.
fn next(at: usize, count: usize, way: Way) -> Option<usize> {
    let step = match way {
        Way::On => 1,
        Way::Back => count.checked_sub(1)?,
    };
    (count > 1).then(|| (at + step) % count)
}

fn cup((_, kit): Ground<'_>, set: &Setup, way: Way) -> Option<Edit> {
    next(set.choice.cup, kit.cups.len(), way).map(Edit::Cup)
}

fn ports((car, _): Ground<'_>, set: &Setup, way: Way) -> Option<Edit> {
    let pairs = fitup::port_pairs(car);
    let at = pairs.iter().position(|pair| *pair == set.choice.ports).unwrap_or_default();
    pairs.get(next(at, pairs.len(), way)?).copied().map(Edit::Ports)
}

fn elbow((_, kit): Ground<'_>, set: &Setup, way: Way) -> Option<Edit> {
    let turns = &kit.outlet.elbow_turns;
    let at = turns.iter().position(|turn| *turn == set.placement.elbow_turn).unwrap_or_default();
    next(at, turns.len(), way).map(Edit::ElbowTurn)
}

fn link((_, kit): Ground<'_>, set: &Setup, (end, side): (End, Side)) -> Option<Edit> {
    let at = set.placement.link_thickness[end.index()][side.index()];
    let thicknesses = &kit.link.thicknesses;
    // The kit lists them as it likes.
    let mut order: Vec<usize> = (0..thicknesses.len()).collect();
    order.sort_by(|a, b| thicknesses[*a].nominal.total_cmp(&thicknesses[*b].nominal));
    let place = order.iter().position(|index| *index == at).unwrap_or_default();
    let thickness = *order.get(next(place, order.len(), Way::On)?)?;
    Some(Edit::LinkThickness { port: set.choice.ports[end.index()], side, thickness })
}

fn hole((_, kit): Ground<'_>, set: &Setup, end: End) -> Option<Edit> {
    let hole = next(set.placement.link_hole[end.index()], kit.link.holes.len(), Way::On)?;
    Some(Edit::LinkHole { port: set.choice.ports[end.index()], hole })
}

/// The fitting's next piece to come off, or the last that did: pieces come off one after the other.
fn piece((car, _): Ground<'_>, set: &Setup, way: Way) -> Option<Removed> {
    let fitting = set.choice.fitting;
    let own = set.choice.removed.iter().filter(|piece| piece.fitting == fitting).count();
    let removable = match way {
        Way::On => own,
        Way::Back => own.checked_sub(1)?,
    };
    let all = car.fittings.get(fitting)?.removables.len();
    (removable < all).then_some(Removed { fitting, removable })
}

fn turned(set: &Setup, degrees: f64) -> Edit {
    let at = set.placement.outlet_bearing.degrees();
    Edit::OutletBearing(Angle::from_degrees(at + degrees))
}

fn moved(set: &Setup, x: f64, y: f64) -> Edit {
    Edit::CupOffset(set.placement.cup_offset + Vector2::new(x, y))
}

fn lid(set: &Setup, degrees: f64) -> Edit {
    let opening = set.placement.lid_opening.degrees() + degrees;
    Edit::LidOpening(Angle::from_degrees(opening))
}

fn slid(set: &Setup, by: f64) -> Edit {
    Edit::BarSlide(set.placement.bar_slide + by)
}

fn shifted(set: &Setup, end: End, by: f64) -> Edit {
    let shift = set.placement.foot_shift[end.index()] + by;
    Edit::FootShift { port: set.choice.ports[end.index()], shift }
}

fn screwed(set: &Setup, by: f64) -> Edit {
    Edit::ScrewExtension(set.placement.screw_extension + by)
}

/// What of a press counts: while something is written only keys with Ctrl and those of the top row, and
/// while something else is chosen all but those that are for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Busy {
    No,
    Choosing,
    Writing,
}

impl Busy {
    fn lets(self, chord: &Chord) -> bool {
        let is_its_own = matches!(
            chord.key,
            Key::ArrowLeft
                | Key::ArrowRight
                | Key::ArrowUp
                | Key::ArrowDown
                | Key::Space
                | Key::Enter
                | Key::Escape
        );
        let always = chord.held == CTRL || matches!(chord.key, Key::F1 | Key::F5);
        match self {
            Self::No => true,
            Self::Choosing => always || !is_its_own || chord.held.alt,
            Self::Writing => always,
        }
    }
}

/// The keys that were pressed, one after the other.
pub(crate) fn pressed(ctx: &Context) -> Vec<&'static Chord> {
    let busy = match (ctx.text_edit_focused(), ctx.egui_wants_keyboard_input()) {
        (true, _) => Busy::Writing,
        (false, true) => Busy::Choosing,
        (false, false) => Busy::No,
    };
    let mut found = Vec::new();
    ctx.input_mut(|input| {
        input.events.retain(|event| {
            let Event::Key { key, pressed: true, modifiers, .. } = event else { return true };
            let chord = chord(*key, *modifiers).filter(|chord| busy.lets(chord));
            found.extend(chord);
            chord.is_none()
        });
    });
    found
}

/// What a key is for with what is held beside it. Shift may be held to reach a key at all, so that the
/// chord that asks for most comes first.
fn chord(key: Key, held: Modifiers) -> Option<&'static Chord> {
    let is_it = |chord: &&Chord| {
        chord.key == key && held.matches_logically(chord.held) && held.alt == chord.held.alt
    };
    let asks = |held: Modifiers| usize::from(held.shift) + usize::from(held.command);
    chords().filter(is_it).max_by_key(|chord| asks(chord.held))
}

/// What a key asks for as things stand.
pub(crate) fn ordered(chord: &Chord, desk: &Desk) -> Option<Order> {
    match chord.key {
        // What lies over the scene is read on.
        Key::PageDown if desk.has_help => return Some(Order::Scroll(0.6)),
        Key::PageUp if desk.has_help => return Some(Order::Scroll(-0.6)),
        _ => {}
    }
    match chord.does {
        Does::Plain(order) => Some(order()),
        Does::Edit(edit) => Some(Order::Act(Act::Edit(edit(desk.session()?.setup())))),
        Does::Choose(choose) => {
            let ground = (desk.ground.car.as_ref(), desk.ground.kit.as_ref());
            let edit = choose(ground, desk.session()?.setup());
            Some(edit.map_or(Order::NoOther, |edit| Order::Act(Act::Edit(edit))))
        }
        Does::Fitting(way) => {
            next(desk.fitting, desk.ground.car.fittings.len(), way).map(Order::Fitting)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_keys_are_the_same_and_each_has_words() {
        let all: Vec<&Chord> = chords().collect();
        for (i, a) in all.iter().enumerate() {
            for b in &all[..i] {
                assert!((a.key, a.held) != (b.key, b.held), "{a:?} and {b:?}");
            }
        }
        for line in GROUPS.iter().flat_map(|group| group.lines) {
            assert!(!line.keys.is_empty() && !line.words.is_empty());
        }
    }

    #[test]
    fn each_key_is_found_by_what_is_held() {
        for wanted in chords() {
            let found = chord(wanted.key, wanted.held).unwrap();
            assert!(std::ptr::eq(found, wanted), "{wanted:?} and {found:?}");
        }
        // A plus sign is typed with Shift on many keyboards.
        assert_eq!(chord(Key::Plus, SHIFT).map(|c| c.held), Some(NONE));
        assert!(chord(Key::F, ALT).is_none() && chord(Key::C, CTRL).is_none());
        assert!(
            chord(Key::C, Modifiers { alt: true, command: true, ctrl: true, ..NONE }).is_none()
        );
    }

    #[test]
    fn one_goes_through_all_and_round() {
        let ways = [Way::On, Way::Back].map(|way| (0..3).map(move |at| next(at, 3, way).unwrap()));
        assert_eq!(ways.map(Iterator::collect::<Vec<_>>), [vec![1, 2, 0], vec![2, 0, 1]]);
        assert_eq!([next(0, 1, Way::On), next(0, 0, Way::Back)], [None, None]);
    }

    #[test]
    fn what_is_chosen_or_written_keeps_its_own_keys() {
        let at = |key, held| chord(key, held).unwrap();
        assert!(Busy::Choosing.lets(at(Key::C, ALT)) && Busy::Choosing.lets(at(Key::J, NONE)));
        assert!(!Busy::Choosing.lets(at(Key::Space, NONE)));
        assert!(!Busy::Writing.lets(at(Key::J, NONE)) && Busy::Writing.lets(at(Key::Q, CTRL)));
    }
}
