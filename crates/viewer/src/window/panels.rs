//! What stands around the scene: what is set up, what was measured, the steps, help.

use super::desk::{CutThrough, Desk, Order};
use super::{keys, lessons, strip};
use crate::eye::whole;
use crate::overlay;
use assembly::Edit;
use assembly::placement::{End, Removed, Side};
use bevy_egui::egui::{
    self, ComboBox, Context, Grid, Panel, RichText, ScrollArea, Slider, TextStyle, Ui, Visuals,
};
use display::{Shown, View};
use measure::{Angle, Length, LengthUnit};
use nalgebra::Vector2;
use review::{CAUTION, Verdict};
use tryout::{Act, Ranges, Setup, words};

/// The share of the window's width that a panel at its side has at most. Our choice.
const SIDE: f32 = 0.29;

/// Panels around the scene; the orders given in them.
pub(crate) fn around(ui: &mut Ui, desk: &Desk) -> Vec<Order> {
    let mut orders = Vec::new();
    Panel::top("head").show(ui, |ui| head(ui, desk, &mut orders));
    Panel::bottom("rail").show(ui, |ui| {
        rail(ui, desk, &mut orders);
        ui.label(RichText::new(caution()).small());
        if desk.ground.drawn_within > 0.0 {
            let within = Length::from_mm(desk.ground.drawn_within).show_to(desk.unit(), 3);
            let text = format!(
                "What is drawn has fewer triangles and is within {within} of what is measured."
            );
            ui.label(RichText::new(text).small());
        }
    });
    // In a narrow window the scene keeps the most of it.
    let width = (300.0 * desk.prefs.letters).min(SIDE * ui.available_width());
    Panel::left("setup").default_size(width).max_size(1.1 * width).show(ui, |ui| {
        // Beside it stand its name and its value.
        ui.spacing_mut().slider_width = (width - 185.0 * desk.prefs.letters).clamp(40.0, 100.0);
        ScrollArea::vertical().id_salt("setup").show(ui, |ui| setup(ui, desk, &mut orders));
    });
    Panel::right("figures").default_size(width).max_size(1.2 * width).show(ui, |ui| {
        ScrollArea::vertical().id_salt("figures").show(ui, |ui| {
            lessons::show(ui, desk, &mut orders);
            figures(ui, desk, &mut orders);
        });
    });
    if let Some(changed) = desk.changed_files() {
        Panel::bottom("changed").show(ui, |ui| {
            ui.horizontal_wrapped(|ui| {
                ui.label(RichText::new(changed).strong());
                if ui.button("Read anew (F5)").clicked() {
                    orders.push(Order::Reload);
                }
            });
        });
    }
    if let Some(notice) = &desk.notice {
        Panel::bottom("notice").show(ui, |ui| {
            ui.horizontal_wrapped(|ui| {
                ui.label(RichText::new(&notice.text).strong());
                if notice.can_reload && ui.button("Read anew (F5)").clicked() {
                    orders.push(Order::Reload);
                }
                if ui.button("Close (Esc)").clicked() {
                    orders.push(Order::Dismiss);
                }
            });
        });
    }
    if desk.has_help {
        help(ui.ctx(), desk, &mut orders);
    }
    orders
}

/// The caution's first sentence, and where the rest is.
fn caution() -> &'static str {
    CAUTION.split_inclusive('.').next().unwrap_or(CAUTION)
}

/// Letters and colours as they are preferred.
pub(crate) fn dress(ctx: &Context, desk: &Desk) {
    let mut visuals = Visuals::light();
    if desk.prefs.has_contrast {
        visuals.override_text_color = Some(egui::Color32::BLACK);
        visuals.panel_fill = egui::Color32::WHITE;
        visuals.window_fill = egui::Color32::WHITE;
        visuals.extreme_bg_color = egui::Color32::WHITE;
        for widget in [
            &mut visuals.widgets.inactive,
            &mut visuals.widgets.hovered,
            &mut visuals.widgets.active,
            &mut visuals.widgets.open,
        ] {
            widget.bg_stroke = egui::Stroke::new(1.5, egui::Color32::BLACK);
            widget.fg_stroke = egui::Stroke::new(2.0, egui::Color32::BLACK);
            widget.weak_bg_fill = egui::Color32::WHITE;
        }
    }
    ctx.set_visuals(visuals);
    ctx.all_styles_mut(|style| {
        // A frame takes its width from the padding: without more of it rows would run into each other.
        style.spacing.button_padding.y = if desk.prefs.has_contrast { 2.5 } else { 1.0 };
        for (text, size) in [
            (TextStyle::Small, 11.0),
            (TextStyle::Body, 13.5),
            (TextStyle::Button, 13.5),
            (TextStyle::Heading, 17.0),
            (TextStyle::Monospace, 13.0),
        ] {
            if let Some(font) = style.text_styles.get_mut(&text) {
                font.size = size * desk.prefs.letters;
            }
        }
    });
}

/// The shape that stands beside a verdict's words, in a line of letters of this size.
fn shape(ui: &mut Ui, verdict: Option<Verdict>, letters: f32) {
    let (rect, _) = ui.allocate_exact_size(egui::Vec2::splat(letters), egui::Sense::hover());
    if let Some(verdict) = verdict {
        overlay::shape(ui.painter(), verdict, rect.center(), 0.42 * letters);
    }
}

fn head(ui: &mut Ui, desk: &Desk, orders: &mut Vec<Order>) {
    ui.horizontal_wrapped(|ui| {
        for (view, key) in View::ALL.into_iter().zip(["1", "2", "3", "4", "5"]) {
            let name = view.word().replace('-', " ");
            if ui.button(name).on_hover_text(format!("look so (key {key})")).clicked() {
                orders.push(Order::Look(view));
            }
        }
        let mut is_parallel = desk.sight.is_parallel;
        if ui.checkbox(&mut is_parallel, "parallel").on_hover_text("key P").changed() {
            orders.push(Order::Parallel);
        }
        let cut = desk.sight.cut.map(|(through, _)| through);
        ComboBox::from_id_salt("cut")
            .selected_text(cut.map_or("no cut", CutThrough::word))
            .show_ui(ui, |ui| {
                for (through, word) in std::iter::once((None, "no cut"))
                    .chain(CutThrough::STANDING.map(|t| (Some(t), t.word())))
                {
                    if ui.selectable_label(cut == through, word).clicked() {
                        orders.push(Order::Cut(through));
                    }
                }
            })
            .response
            .on_hover_text("cut the scene open (key C; , and . move the cut)");
        let mut has_ruler = desk.ruler.is_some();
        if ui.toggle_value(&mut has_ruler, "measure").on_hover_text("key M").changed() {
            orders.push(Order::Ruler);
        }
        let unit = match desk.unit() {
            LengthUnit::Inch => "in",
            LengthUnit::Millimetre => "mm",
        };
        if ui.button(unit).on_hover_text("inches or millimetres (key U)").clicked() {
            orders.push(Order::Units);
        }
        if ui.button("A+").on_hover_text("larger letters (key T)").clicked() {
            orders.push(Order::Letters(0.1));
        }
        if ui.button("A-").on_hover_text("smaller letters (Shift T)").clicked() {
            orders.push(Order::Letters(-0.1));
        }
        let mut has_contrast = desk.prefs.has_contrast;
        if ui.toggle_value(&mut has_contrast, "contrast").on_hover_text("key H").changed() {
            orders.push(Order::Contrast);
        }
        if ui.button("help").on_hover_text("every key (F1)").clicked() {
            orders.push(Order::Help);
        }
    });
    for line in desk.ruled() {
        ui.label(line);
    }
}

/// A length that may be dragged or written, in the unit of the window.
fn length(
    ui: &mut Ui,
    desk: &Desk,
    (name, hint): (&str, &str),
    (value, [low, high]): (f64, [f64; 2]),
    edit: impl Fn(f64) -> Edit,
    orders: &mut Vec<Order>,
) {
    let unit = desk.unit();
    let mut set = value;
    ui.label(name);
    // What is beyond its range, as a screw that does not reach, is shown as it is.
    let slider = Slider::new(&mut set, low.min(value)..=high.max(value))
        .custom_formatter(move |mm, _| Length::from_mm(mm).show(unit))
        .custom_parser(move |text| {
            let bare = text.trim().parse::<f64>().ok();
            let with_unit = text.trim().parse::<Length>().ok().map(Length::mm);
            with_unit.or_else(|| bare.map(|bare| unit_mm(unit) * bare))
        });
    let response = ui.add(slider).on_hover_text(hint);
    ui.end_row();
    turned_in(&response, is_moved(value, set), || edit(set), orders);
}

const fn unit_mm(unit: LengthUnit) -> f64 {
    match unit {
        LengthUnit::Inch => 25.4,
        LengthUnit::Millimetre => 1.0,
    }
}

fn angle(
    ui: &mut Ui,
    (name, hint): (&str, &str),
    (value, [low, high]): (f64, [f64; 2]),
    edit: impl Fn(Angle) -> Edit,
    orders: &mut Vec<Order>,
) {
    let mut set = value;
    ui.label(name);
    let slider = Slider::new(&mut set, low..=high)
        .custom_formatter(|degrees, _| format!("{degrees:.1}\u{b0}"))
        .custom_parser(|text| text.trim().trim_end_matches('\u{b0}').trim().parse().ok());
    let response = ui.add(slider).on_hover_text(hint);
    ui.end_row();
    turned_in(&response, is_moved(value, set), || edit(Angle::from_degrees(set)), orders);
}

/// Whether a slider was moved, not only rounded as it was shown.
fn is_moved(from: f64, to: f64) -> bool {
    (from - to).abs() > 1e-6
}

/// What a slider asks for: while it is dragged all is one change.
fn turned_in(
    response: &egui::Response,
    is_moved: bool,
    edit: impl Fn() -> Edit,
    orders: &mut Vec<Order>,
) {
    let is_changed = is_moved && response.changed();
    if is_changed {
        orders.push(Order::Act(Act::Drag(edit())));
    }
    if response.drag_stopped() || (is_changed && !response.dragged()) {
        orders.push(Order::Act(Act::Drop));
    }
}

fn setup(ui: &mut Ui, desk: &Desk, orders: &mut Vec<Order>) {
    fittings(ui, desk, orders);
    let Some(session) = desk.session() else {
        return;
    };
    let (set, ground) = (session.setup(), &desk.ground);
    ui.separator();
    ui.horizontal(|ui| {
        let best = ui.add_enabled(!session.is_best(), egui::Button::new("best placement"));
        if best.on_hover_text("back to the best that the review found (key R)").clicked() {
            orders.push(Order::Act(Act::Best));
        }
        let [undo, redo] = session.can_undo_redo();
        let undone = ui.add_enabled(undo, egui::Button::new("undo")).on_hover_text("Ctrl Z");
        ui.data_mut(|data| data.insert_temp(undo_place(), undone.rect.center()));
        if undone.clicked() {
            orders.push(Order::Act(Act::Undo));
        }
        if ui.add_enabled(redo, egui::Button::new("redo")).on_hover_text("Ctrl Y").clicked() {
            orders.push(Order::Act(Act::Redo));
        }
    });
    choices(ui, desk, set, orders);
    if let Some(ranges) = session.ranges() {
        Grid::new("numbers").num_columns(2).show(ui, |ui| numbers(ui, desk, set, &ranges, orders));
    }
    ui.separator();
    ui.label(RichText::new(words::what_it_is(session.is_best())).small());
    egui::CollapsingHeader::new("Placement in words").show(ui, |ui| {
        Grid::new("words").num_columns(2).striped(true).show(ui, |ui| {
            for [what, value] in words::settings(&ground.car, &ground.kit, set, desk.unit()) {
                ui.label(what);
                ui.label(value);
                ui.end_row();
            }
        });
    });
    parts(ui, desk, orders);
}

fn fittings(ui: &mut Ui, desk: &Desk, orders: &mut Vec<Order>) {
    ui.strong("Fitting (F)");
    for (index, fitting) in desk.ground.car.fittings.iter().enumerate() {
        let verdict = desk.verdict(index);
        let told = verdict.map_or("", |verdict| verdict.words());
        let name = format!("{}, {told}", fitting.name);
        let hint = format!("{} {}", fitting.size, fitting.kind.word());
        ui.horizontal(|ui| {
            shape(ui, verdict, 13.0 * desk.prefs.letters);
            let label = ui.selectable_label(index == desk.fitting, name);
            if label.on_hover_text(hint).clicked() {
                orders.push(Order::Fitting(index));
            }
        });
    }
}

fn choices(ui: &mut Ui, desk: &Desk, set: &Setup, orders: &mut Vec<Order>) {
    let (car, kit) = (&desk.ground.car, &desk.ground.kit);
    let mut act = |edit: Edit| orders.push(Order::Act(Act::Edit(edit)));
    Grid::new("choices").num_columns(2).show(ui, |ui| {
        ui.label("cup").on_hover_text("key Alt C; with Shift the one before");
        let name = kit.cups.get(set.choice.cup).map_or("", |cup| cup.name.as_str());
        ComboBox::from_id_salt("cup").selected_text(name).show_ui(ui, |ui| {
            for (index, cup) in kit.cups.iter().enumerate() {
                if ui.selectable_label(index == set.choice.cup, &cup.name).clicked() {
                    act(Edit::Cup(index));
                }
            }
        });
        ui.end_row();
        ui.label("ports").on_hover_text("key Alt P; with Shift the ones before");
        let named = |pair: [usize; 2]| {
            let name = |port: usize| car.ports.get(port).map_or("", |p| p.name.as_str());
            format!("{} and {}", name(pair[0]), name(pair[1]))
        };
        ComboBox::from_id_salt("ports").selected_text(named(set.choice.ports)).show_ui(ui, |ui| {
            for pair in fitup::port_pairs(car) {
                if ui.selectable_label(pair == set.choice.ports, named(pair)).clicked() {
                    act(Edit::Ports(pair));
                }
            }
        });
        ui.end_row();
        ui.label("elbow").on_hover_text("key Alt E; with Shift the turn before");
        let turns = &kit.outlet.elbow_turns;
        let shown = |turn: Angle| Angle::from_radians(-turn.radians()).show_clock();
        ComboBox::from_id_salt("elbow").selected_text(shown(set.placement.elbow_turn)).show_ui(
            ui,
            |ui| {
                for (index, turn) in turns.iter().enumerate() {
                    let is_set = *turn == set.placement.elbow_turn;
                    if ui.selectable_label(is_set, shown(*turn)).clicked() {
                        act(Edit::ElbowTurn(index));
                    }
                }
            },
        );
        ui.end_row();
        for end in End::BOTH {
            let port = set.choice.ports[end.index()];
            let name = car.ports.get(port).map_or("", |p| p.name.as_str());
            for side in Side::BOTH {
                let standing = match side {
                    Side::Inside => "inside",
                    Side::Outside => "outside",
                };
                let key = 1 + 2 * end.index() + side.index();
                let hint =
                    format!("key Alt {key}: the next thicker; after the thickest the thinnest");
                ui.label(format!("link {standing} at {name}")).on_hover_text(hint);
                let at = set.placement.link_thickness[end.index()][side.index()];
                let shown = |index: usize| {
                    let thick = kit.link.thicknesses.get(index).map_or(0.0, |t| t.nominal);
                    Length::from_mm(thick).show(desk.unit())
                };
                ComboBox::from_id_salt((end.index(), side.index()))
                    .selected_text(shown(at))
                    .show_ui(ui, |ui| {
                        for index in 0..kit.link.thicknesses.len() {
                            if ui.selectable_label(index == at, shown(index)).clicked() {
                                act(Edit::LinkThickness { port, side, thickness: index });
                            }
                        }
                    });
                ui.end_row();
            }
            let hint = format!("key Alt {}", 5 + end.index());
            ui.label(format!("hole at {name}")).on_hover_text(hint);
            let at = set.placement.link_hole[end.index()];
            ComboBox::from_id_salt(("hole", end.index()))
                .selected_text(format!("{}", at + 1))
                .show_ui(ui, |ui| {
                    for hole in 0..kit.link.holes.len() {
                        if ui.selectable_label(hole == at, format!("{}", hole + 1)).clicked() {
                            act(Edit::LinkHole { port, hole });
                        }
                    }
                });
            ui.end_row();
        }
    });
    let fitting = set.choice.fitting;
    if let Some(known) = car.fittings.get(fitting) {
        for (removable, piece) in known.removables.iter().enumerate() {
            let piece_of = Removed { fitting, removable };
            let mut is_off = set.choice.removed.contains(&piece_of);
            let off = ui.checkbox(&mut is_off, format!("{} off", piece.name));
            let hint = "key Delete takes the next piece off, Insert puts the last one on";
            if off.on_hover_text(hint).changed() {
                act(if is_off { Edit::TakeOff(piece_of) } else { Edit::PutBack(piece_of) });
            }
        }
    }
}

fn numbers(ui: &mut Ui, desk: &Desk, set: &Setup, ranges: &Ranges, orders: &mut Vec<Order>) {
    let place = &set.placement;
    let off = place.cup_offset;
    let reach = [-ranges.cup_offset, ranges.cup_offset];
    let hinge = ("cup toward hinge", "the cup's axis off the fitting's centreline (keys W, S)");
    length(ui, desk, hinge, (off.x, reach), |x| Edit::CupOffset(Vector2::new(x, off.y)), orders);
    let left = ("cup to the left", "seen with the hinge at the top (keys A, D)");
    length(ui, desk, left, (off.y, reach), |y| Edit::CupOffset(Vector2::new(off.x, y)), orders);
    let outlet =
        ("outlet's bearing", "counter-clockwise from the hinge (keys Q, E), or drag the ring");
    let bearing = place.outlet_bearing.degrees();
    angle(ui, outlet, (bearing, [-180.0, 180.0]), Edit::OutletBearing, orders);
    if let Some(range) = ranges.lid_opening {
        let lid = ("lid open", "key L, Shift L");
        angle(
            ui,
            lid,
            (place.lid_opening.degrees(), range.map(Angle::degrees)),
            Edit::LidOpening,
            orders,
        );
    }
    let slide = ("bar slid", "along itself (key B, Shift B)");
    length(ui, desk, slide, (place.bar_slide, ranges.bar_slide), Edit::BarSlide, orders);
    let screw =
        ("screw below bar", "it follows the cup's seat, but for this (keys Alt up, Alt down)");
    let extension = (place.screw_extension, ranges.screw_extension);
    length(ui, desk, screw, extension, Edit::ScrewExtension, orders);
    for end in End::BOTH {
        let port = set.choice.ports[end.index()];
        let most = ranges.foot_shift[end.index()];
        let name = desk.ground.car.ports.get(port).map_or("", |p| p.name.as_str());
        let label = format!("foot at {name}");
        let held = if end == End::A { "Alt" } else { "Alt Shift" };
        let hint = format!("counter-clockwise of the port's middle (keys {held} left, right)");
        let at = (place.foot_shift[end.index()], [-most, most]);
        length(ui, desk, (&label, &hint), at, |shift| Edit::FootShift { port, shift }, orders);
    }
}

fn parts(ui: &mut Ui, desk: &Desk, orders: &mut Vec<Order>) {
    egui::CollapsingHeader::new("Parts").show(ui, |ui| {
        ui.horizontal(|ui| {
            if ui.button("show all (V)").clicked() {
                orders.push(Order::ShowAll);
            }
            let mut apart = desk.sight.apart;
            ui.label("apart");
            let slider = ui.add(Slider::new(&mut apart, 0.0..=1.0).show_value(false));
            if slider.on_hover_text("draw the rig's parts apart (key X)").changed() {
                orders.push(Order::Apart(apart));
            }
        });
        let Ok(list) = desk.list() else { return };
        let mut told: Vec<&str> = Vec::new();
        for item in &list.items {
            if told.contains(&item.name.as_str()) {
                continue;
            }
            told.push(&item.name);
            ui.horizontal(|ui| {
                for (shown, word) in
                    [(Shown::Solid, "solid"), (Shown::Ghost, "faint"), (Shown::Hidden, "hidden")]
                {
                    if ui.selectable_label(item.shown == shown, word).clicked() {
                        orders.push(Order::Show(item.name.clone(), shown));
                    }
                }
                if ui.button(&item.name).on_hover_text("show this part alone").clicked() {
                    orders.push(Order::Isolate(item.name.clone()));
                }
            });
        }
    });
}

fn figures(ui: &mut Ui, desk: &Desk, orders: &mut Vec<Order>) {
    // No shape stands here: those are the verdicts'.
    let when = if desk.sight.at.is_some() { "When all is done: " } else { "" };
    ui.heading(format!("{when}{}", desk.headline()));
    if let Some(around) = desk
        .around
        .as_ref()
        .filter(|around| Some(&around.setup) == desk.session().map(tryout::Session::setup))
    {
        let state = around.ring.pointed_at().map(|arc| arc.state);
        ui.label(words::pointer(around.ring.pointer, state));
    }
    if let Some(tried) = &desk.tried {
        for line in words::cannot_tell(tried) {
            ui.label(format!("? {line}"));
        }
    }
    ui.separator();
    ui.strong("Figures (J, K): click one to fly there");
    if !desk.is_current() && desk.tried.is_some() {
        ui.label("These are of a moment ago; what is set up is being measured.");
    }
    let least = 90.0 * desk.prefs.letters;
    let widest = (ui.available_width() - 120.0 * desk.prefs.letters).max(least);
    let grid = Grid::new("figures").num_columns(3).striped(true).max_col_width(widest);
    grid.show(ui, |ui| {
        ui.style_mut().wrap_mode = Some(egui::TextWrapMode::Wrap);
        for (index, row) in desk.rows().into_iter().enumerate() {
            ui.label(format!("{} {}", index + 1, words::state(row.state)));
            ui.label(words::margin(row, desk.unit()));
            let is_chosen = desk.figure == Some(index);
            let name = format!("{}: {}", row.check.word(), words::between(row));
            let hint = words::sentence(row, desk.unit());
            if ui.selectable_label(is_chosen, name).on_hover_text(hint).clicked() {
                orders.push(Order::Figure(index));
            }
            ui.end_row();
        }
    });
    ui.separator();
    strip::show(ui, desk);
}

fn rail(ui: &mut Ui, desk: &Desk, orders: &mut Vec<Order>) {
    let stages = desk.stages();
    let lasts = stages.last().map_or(0.0, |stage| stage.to);
    ui.horizontal(|ui| {
        if ui.button("\u{23ee}").on_hover_text("one step back (Page up)").clicked() {
            orders.push(Order::Step(false));
        }
        let play = if desk.sight.playing.is_some() { "\u{23f8}" } else { "\u{25b6}" };
        if ui.button(play).on_hover_text("play or pause (Space)").clicked() {
            orders.push(Order::Play);
        }
        if ui.button("\u{23ed}").on_hover_text("one step on (Page down)").clicked() {
            orders.push(Order::Step(true));
        }
        if ui.button("all done").on_hover_text("End").clicked() {
            orders.push(Order::At(None));
        }
        let mut at = desk.sight.at.unwrap_or(lasts);
        ui.spacing_mut().slider_width = (ui.available_width() - 20.0).max(80.0);
        if ui.add(Slider::new(&mut at, 0.0..=lasts.max(0.1)).show_value(false)).changed() {
            orders.push(Order::At(Some(at)));
        }
    });
    ScrollArea::horizontal().id_salt("steps").show(ui, |ui| {
        ui.horizontal(|ui| {
            for (number, stage) in (1..).zip(stages) {
                let is_now = desk.sight.at.is_some_and(|at| stage.from <= at && at <= stage.to);
                let name = format!("{number}. {}", stage.name);
                if ui.selectable_label(is_now, name).clicked() {
                    orders.push(Order::At(Some(stage.to)));
                }
            }
            if desk.session().is_some_and(|session| !session.is_best()) {
                ui.label("How the rig's parts get there is shown for the best placement (R).");
            }
        });
    });
}

/// Where the button for undoing is kept, for what is told of it.
pub(crate) fn undo_place() -> egui::Id {
    egui::Id::new("where undo is")
}

/// The keys and the caution: in as many columns as there is room for, and no higher than the window.
fn help(ctx: &Context, desk: &Desk, orders: &mut Vec<Order>) {
    let letters = desk.prefs.letters;
    let room = ctx.content_rect().shrink(8.0);
    // A line of keys with its words, and what stands around the text.
    let (each, around) = (400.0 * letters, 50.0 * letters);
    let columns = whole(f64::from((room.width() - around) / each)).clamp(1, 3);
    let width = (columns as f32 * 1.15 * each).min(room.width() - around);
    let mut is_open = true;
    let window = egui::Window::new("Keys").open(&mut is_open).collapsible(false).auto_sized();
    let window = window.anchor(egui::Align2::CENTER_CENTER, egui::Vec2::ZERO).constrain_to(room);
    window.show(ctx, |ui| {
        ui.set_width(width);
        ScrollArea::vertical().max_height(room.height() - 2.0 * around).show(ui, |ui| {
            ui.scroll_with_delta(egui::vec2(0.0, -desk.scrolled * room.height()));
            ui.set_width(width);
            ui.label(
                "Mouse: drag to turn the view, with the right button or Shift to move it; the wheel comes \
                 nearer. Drag the ring's pointer to turn the outlet, the square over the cup to move the \
                 cup. Page down reads on here.",
            );
            ui.separator();
            ui.columns(columns, |columns| {
                let mut filled = vec![0; columns.len()];
                for group in keys::GROUPS {
                    // The first of those that are filled least.
                    let least = filled.iter().enumerate().min_by_key(|(_, lines)| **lines);
                    let Some((column, _)) = least else { return };
                    filled[column] += 2 + group.lines.len();
                    lines(&mut columns[column], group);
                }
            });
            ui.separator();
            ui.label(CAUTION);
        });
    });
    if !is_open {
        orders.push(Order::Help);
    }
}

/// A group of keys.
fn lines(ui: &mut Ui, group: &keys::Group) {
    ui.add_space(4.0);
    ui.label(RichText::new(group.name).strong().underline());
    let width = ui.available_width();
    let grid = Grid::new(group.name).num_columns(2).striped(true);
    grid.min_col_width(0.26 * width).max_col_width(0.68 * width).show(ui, |ui| {
        ui.style_mut().wrap_mode = Some(egui::TextWrapMode::Wrap);
        for line in group.lines {
            ui.strong(line.keys);
            ui.label(line.words);
            ui.end_row();
        }
    });
}
