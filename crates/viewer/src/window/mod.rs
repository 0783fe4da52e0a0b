//! `overcup-view show`: the window.
//!
//! [`desk`] holds what is shown as plain data; panels, keys and the mouse give orders, which are carried
//! out at the end of a frame, and the scene follows. Nothing is measured here: `tryout` measures in the
//! background.

mod desk;
mod dial;
mod first;
mod gaze;
mod keys;
mod lessons;
mod load;
mod looker;
mod panels;
mod prefs;
mod strip;

use crate::Answer;
use crate::driver::{self, BACKENDS};
use crate::eye::Eye;
use crate::ground;
use crate::overlay::{self, Busy, Note, Overlay};
use crate::scene::{self, Cast, Look, PAPER, ScenePlugin};
use bevy::camera::visibility::RenderLayers;
use bevy::camera::{CameraOutputMode, Viewport};
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::input::keyboard::{KeyboardFocusLost, KeyboardInput};
use bevy::log::LogPlugin;
use bevy::prelude::*;
use bevy::render::RenderPlugin;
use bevy::render::settings::{RenderCreation, WgpuSettings};
use bevy::window::{PrimaryWindow, WindowCloseRequested, WindowResolution};
use bevy::winit::{EventLoopProxyWrapper, WinitSettings, WinitUserEvent};
use bevy_egui::egui::{self, PointerButton, Rect, Sense, Ui, UiBuilder};
use bevy_egui::helpers::{bevy_to_egui_key, bevy_to_egui_physical_key};
use bevy_egui::{
    EguiContext, EguiGlobalSettings, EguiInput, EguiPlugin, EguiPreUpdateSet,
    EguiPrimaryContextPass, PrimaryEguiContext,
};
use desk::{Desk, Notice, Order};
use dial::{Dial, Held};
use first::{First, FirstPlugin};
use front::Stopped;
use load::{Loaded, Loading};
use prefs::Prefs;
use review::words as shared;
use std::io::Write as _;
use std::path::PathBuf;
use std::time::{Duration, Instant};
use tryout::{Act, words};

/// What to show.
pub(crate) struct Settings {
    /// What is read.
    pub(crate) source: Source,
    /// The fitting by name; `None` the first.
    pub(crate) fitting: Option<String>,
    /// Whether what the window tells is printed too, a line each time it changes.
    pub(crate) tells: bool,
    /// When the program began.
    pub(crate) began: Instant,
}

/// What is read.
pub(crate) enum Source {
    /// A case and a kit.
    Case {
        /// The case document.
        case: PathBuf,
        /// The kit document; `None` looks for one.
        kit: Option<PathBuf>,
    },
    /// A lesson, which names both.
    Lesson(PathBuf),
}

/// Opens the window, and comes back when it is closed.
pub(crate) fn run(settings: Settings) -> Result<Answer, Stopped> {
    driver::check()?;
    // Documents that cannot be read are told of before a window is opened.
    let (ground, lesson) = load::read(&settings.source)?;
    let fitting = match &settings.fitting {
        None => 0,
        Some(name) => load::fitting((&ground.car, &ground.kit), name)?,
    };
    let prefs = Prefs::kept();
    let [width, height] = prefs.size.map(|x| x.round().max(1.0));
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most 7680")]
    let resolution = WindowResolution::new(width as u32, height as u32);
    let title = format!("{} - Overcup", ground.car.title);
    let mut app = App::new();
    let graphics = WgpuSettings { backends: Some(BACKENDS), ..default() };
    app.add_plugins(
        DefaultPlugins
            .set(WindowPlugin {
                primary_window: Some(Window { title, resolution, ..default() }),
                close_when_requested: false,
                ..default()
            })
            .set(RenderPlugin {
                render_creation: RenderCreation::Automatic(Box::new(graphics)),
                ..default()
            })
            .set(LogPlugin { filter: "error".into(), ..default() }),
    );
    app.add_plugins((EguiPlugin::default(), ScenePlugin, FirstPlugin { began: settings.began }));
    overlay::write_at_once(&mut app);
    app.world_mut().resource_mut::<EguiGlobalSettings>().auto_create_primary_context = false;
    let [r, g, b, _] = scene::linear(PAPER).to_array();
    app.insert_resource(ClearColor(Color::linear_rgba(r, g, b, 1.0)));
    app.insert_resource(WinitSettings {
        focused_mode: bevy::winit::UpdateMode::reactive(Duration::from_secs(5)),
        unfocused_mode: bevy::winit::UpdateMode::reactive(Duration::from_secs(5)),
    });
    let room = Room {
        desk: Some(Desk::new(ground, prefs, fitting, lesson)),
        settings,
        loading: None,
        held: None,
        busy: (None, Busy::default()),
        told: Vec::new(),
        useful: 0,
        last: Instant::now(),
        more: 0,
        watched: Instant::now(),
    };
    app.insert_resource(room)
        .add_systems(Startup, (open, begin))
        .add_systems(
            PreUpdate,
            rest.after(EguiPreUpdateSet::ProcessInput).before(EguiPreUpdateSet::BeginPass),
        )
        .add_systems(EguiPrimaryContextPass, frame)
        .add_systems(Last, close);
    match app.run() {
        AppExit::Success => Ok(Answer::Yes),
        AppExit::Error(_) => Err(front::Plain::new(
            "the window could not be shown",
            "see what the graphics driver says above",
        )
        .into()),
    }
}

/// What the window's systems share.
#[derive(Resource)]
struct Room {
    desk: Option<Desk>,
    settings: Settings,
    loading: Option<Loading>,
    held: Option<Held>,
    /// Where the scene is on the screen, and for which eye, place and drawing that was found.
    busy: (Option<(Eye, Rect, u64)>, Busy),
    /// What was told last, see [`Settings::tells`].
    told: Vec<String>,
    /// Through how many frames the scene and its verdict have been the same.
    useful: u8,
    last: Instant,
    /// How many frames more are drawn: letters that were never written before come a frame late.
    more: u8,
    /// When the files were last looked at.
    watched: Instant,
}

/// The camera that looks at the scene.
#[derive(Component)]
struct Stage;

fn open(mut commands: Commands) {
    let [r, g, b, _] = scene::linear(PAPER).to_array();
    let clear_color = ClearColorConfig::Custom(Color::linear_rgba(r, g, b, 1.0));
    commands.spawn((
        Stage,
        Camera3d::default(),
        Camera { clear_color, ..default() },
        Tonemapping::None,
        Msaa::Sample4,
    ));
    commands.spawn((
        PrimaryEguiContext,
        Camera2d,
        RenderLayers::none(),
        Msaa::Off,
        Camera {
            order: 1,
            output_mode: CameraOutputMode::Write {
                blend_state: Some(wgpu::BlendState::ALPHA_BLENDING),
                clear_color: ClearColorConfig::None,
            },
            clear_color: ClearColorConfig::Custom(Color::NONE),
            ..default()
        },
    ));
}

/// Says which of Shift, Ctrl and Alt are held, and of every key what was held when it was pressed.
///
/// The plugin says it anew in every frame, and egui draws another frame for whatever it is told: only what has
/// changed is let through, so that a window at rest costs nothing. It says of every key what is held at the end
/// of a frame, when a hand may have let go where frames take long. And it goes by what a key means, which for
/// Alt is another thing while Shift is held: Alt would stay held for it.
fn rest(
    mut inputs: Query<&mut EguiInput>,
    mut keys: MessageReader<KeyboardInput>,
    mut leaves: MessageReader<KeyboardFocusLost>,
    mut held: Local<egui::Modifiers>,
) {
    let before = *held;
    if leaves.read().count() > 0 {
        *held = egui::Modifiers::NONE;
    }
    let mut beside: Vec<egui::Modifiers> = Vec::new();
    for key in keys.read() {
        let is_down = key.state.is_pressed();
        match key.key_code {
            KeyCode::ShiftLeft | KeyCode::ShiftRight => held.shift = is_down,
            KeyCode::AltLeft => held.alt = is_down,
            KeyCode::ControlLeft | KeyCode::ControlRight => {
                (held.ctrl, held.command) = (is_down, is_down);
            }
            _ => {}
        }
        // As many as the plugin passes on.
        let logical = bevy_to_egui_key(&key.logical_key);
        let is_told = logical.or(bevy_to_egui_physical_key(&key.key_code)).is_some();
        beside.extend(is_told.then_some(*held));
    }
    for mut input in &mut inputs {
        let mut beside = beside.iter();
        input.events.retain_mut(|event| match event {
            egui::Event::Key { modifiers, .. } => {
                *modifiers = beside.next().copied().unwrap_or(*modifiers);
                true
            }
            egui::Event::ModifiersChanged(_) => false,
            _ => true,
        });
        if *held != before {
            input.events.push(egui::Event::ModifiersChanged(*held));
        }
    }
}

/// Begins to review.
fn begin(world: &mut World) {
    let proxy = waker(world.resource::<EventLoopProxyWrapper>());
    let mut room = world.resource_mut::<Room>();
    let Some(desk) = &room.desk else { return };
    room.loading = Some(load::review(&desk.ground, proxy));
}

/// Wakes the window when something has been found.
fn waker(proxy: &EventLoopProxyWrapper) -> impl Fn() + Send + Sync + Clone + 'static {
    let proxy = (**proxy).clone();
    move || {
        // A window that is closed is not woken.
        let _ = proxy.send_event(WinitUserEvent::WakeUp);
    }
}

/// Frames that are drawn after one in which something changed.
const MORE: u8 = 3;

/// One frame: what came in meanwhile, the panels, what was ordered, the scene.
fn frame(world: &mut World) {
    let mut contexts = world.query_filtered::<&mut EguiContext, With<PrimaryEguiContext>>();
    let Ok(mut context) = contexts.single_mut(world) else { return };
    let ctx = context.get_mut().clone();
    let Some(mut desk) = world.resource_mut::<Room>().desk.take() else { return };
    hear(world, &mut desk);
    let seconds = {
        let mut room = world.resource_mut::<Room>();
        let passed = room.last.elapsed().as_secs_f64();
        room.last = Instant::now();
        passed.min(0.5)
    };
    if desk.pass(seconds) {
        ctx.request_repaint();
    }
    panels::dress(&ctx, &desk);
    let pressed = keys::pressed(&ctx);
    let mut orders = Vec::new();
    let builder = UiBuilder::new().layer_id(egui::LayerId::background());
    let mut ui = Ui::new(ctx.clone(), "window".into(), builder.max_rect(ctx.content_rect()));
    orders.extend(panels::around(&mut ui, &desk));
    desk.scrolled = 0.0;
    let area = ui.available_rect_before_wrap();
    desk.widen(f64::from(area.width() / area.height().max(1.0)).clamp(0.2, 5.0));
    if desk.sight.gaze.is_none() {
        desk.look(display::View::Corner);
    }
    let held = world.resource::<Room>().held;
    let busy = world.resource::<Room>().busy.1.clone();
    let held = stage(&mut ui, area, &desk, (held, busy), &mut orders);
    world.resource_mut::<Room>().held = held;
    if !orders.is_empty() || !pressed.is_empty() {
        world.resource_mut::<Room>().more = MORE;
    }
    // One after the other: what a key does may hang on what the one before did.
    for chord in pressed {
        if let Some(order) = keys::ordered(chord, &desk) {
            desk.carry_out(order);
        }
    }
    for order in orders {
        desk.carry_out(order);
    }
    {
        let mut room = world.resource_mut::<Room>();
        if room.more > 0 {
            room.more -= 1;
            ctx.request_repaint();
        }
    }
    let rests = held.is_none() && world.resource::<Room>().more == 0;
    follow(world, &mut desk, &ctx, area);
    if rests {
        look_where(world, &desk, &ctx, area);
    }
    look_first(world, &desk, &ctx);
    tell(world, &desk, &ctx, (area, rests));
    match desk.leaves.take() {
        Some(Order::Reload) => reload(world, &mut desk),
        Some(Order::Quit) => {
            world.write_message(AppExit::Success);
        }
        _ => {}
    }
    world.resource_mut::<Room>().desk = Some(desk);
}

/// What a review, a measurement or the files' watch brought.
fn hear(world: &mut World, desk: &mut Desk) {
    let proxy = waker(world.resource::<EventLoopProxyWrapper>());
    let mut room = world.resource_mut::<Room>();
    if let Some(loading) = &room.loading {
        desk.progress = loading.progress();
        match loading.found() {
            Some(Loaded::Found(review)) => {
                room.loading = None;
                match load::found(&desk.ground, review, proxy) {
                    Ok(found) => desk.reviewed(found),
                    Err(text) => desk.notice = Some(Notice { text, can_reload: true }),
                }
            }
            Some(Loaded::Failed(text)) => {
                room.loading = None;
                desk.failed = Some(text);
            }
            None => {}
        }
    }
    if desk.hear() {
        room.more = MORE;
    }
    if room.watched.elapsed() > Duration::from_secs(1) {
        room.watched = Instant::now();
        desk.changed = load::changed(&desk.ground);
    }
}

/// Reads the files anew. Where they cannot be read, what was there stays.
fn reload(world: &mut World, desk: &mut Desk) {
    let proxy = waker(world.resource::<EventLoopProxyWrapper>());
    let mut room = world.resource_mut::<Room>();
    match load::read(&room.settings.source) {
        Err(stopped) => {
            desk.notice = Some(Notice { text: stopped.text(false), can_reload: true });
        }
        Ok((ground, lesson)) => {
            let name = desk.ground.car.fittings.get(desk.fitting).map(|f| f.name.as_str());
            let is_it = |f: &assembly::car_top::Fitting| Some(f.name.as_str()) == name;
            let fitting = ground.car.fittings.iter().position(is_it).unwrap_or(0);
            let (sight, aspects) = (desk.sight.clone(), [desk.aspect, desk.framed]);
            let before = desk.class.take().map(|class| class.runner).or(desk.before.take());
            *desk = Desk::new(ground, desk.prefs.clone(), fitting, lesson);
            desk.before = before;
            [desk.aspect, desk.framed] = aspects;
            desk.sight.gaze = sight.gaze;
            desk.sight.is_parallel = sight.is_parallel;
            room.loading = Some(load::review(&desk.ground, proxy));
        }
    }
}

/// The scene's part of the window: the mouse, and what is written over the scene.
fn stage(
    ui: &mut Ui,
    area: Rect,
    desk: &Desk,
    (held, busy): (Option<Held>, Busy),
    orders: &mut Vec<Order>,
) -> Option<Held> {
    let response = ui.interact(area, ui.id().with("stage"), Sense::click_and_drag());
    let gaze = desk.sight.gaze?;
    let eye = gaze.eye(desk.sight.is_parallel);
    let dial = Dial::of(desk).filter(|_| desk.has_dial());
    let mut held = held;
    let under = |at: Option<egui::Pos2>| {
        at.zip(dial.as_ref()).and_then(|(at, dial)| dial.held(&eye, area, at))
    };
    if !response.is_pointer_button_down_on() {
        if held.take().is_some() {
            orders.push(Order::Act(Act::Drop));
        }
        if under(response.hover_pos()).is_some() {
            ui.ctx().set_cursor_icon(egui::CursorIcon::Grab);
        }
    } else if ui.ctx().input(|input| input.pointer.primary_pressed()) {
        held = under(ui.ctx().input(|input| input.pointer.press_origin()));
    }
    let moved = response.drag_delta();
    let by = [moved.x, moved.y].map(|x| f64::from(x / area.height().max(1.0)));
    let is_moved = moved.length() > 0.0;
    let has_shift = ui.ctx().input(|input| input.modifiers.shift);
    match (held, &dial) {
        (Some(hold), Some(dial)) if response.dragged() => {
            let at = response.interact_pointer_pos();
            let order = at.and_then(|at| dial.drawn(desk, hold, (&eye, area), at));
            orders.extend(order);
        }
        _ if response.dragged_by(PointerButton::Primary) && !has_shift && is_moved => {
            orders.push(Order::Turn(by));
        }
        _ if response.dragged() && is_moved => orders.push(Order::Shift(by)),
        _ => {}
    }
    if response.hovered() {
        let scrolled = ui.ctx().input(|input| input.smooth_scroll_delta().y);
        if scrolled.abs() > 0.0 {
            orders.push(Order::Near(f64::from(scrolled) / 50.0));
        }
    }
    if response.clicked()
        && desk.ruler.is_some()
        && let Some(at) = response.interact_pointer_pos()
    {
        let size = [area.width(), area.height()].map(f64::from);
        let ray = gaze::ray(&eye, size, [at.x - area.min.x, at.y - area.min.y].map(f64::from));
        orders.extend(desk.met(&ray).map(|(part, point)| Order::Pick(part, point)));
    }
    let painter = ui.painter_at(area);
    if let Some(dial) = &dial {
        dial.paint(desk, &painter, (&eye, area), &response);
    }
    overlay::paint(&painter, area, &written(desk, eye, busy));
    if desk.ruler.is_some() {
        cross(&painter, area.center());
    }
    held
}

/// A cross under which a point may be picked by a key.
fn cross(painter: &egui::Painter, at: egui::Pos2) {
    let ink = dial::of(display::INK);
    for (width, colour) in [(4.0, dial::of(PAPER)), (1.5, ink)] {
        for off in [egui::vec2(1.0, 0.0), egui::vec2(0.0, 1.0)] {
            for side in [-1.0, 1.0] {
                let ends = [at + side * 4.0 * off, at + side * 13.0 * off];
                painter.line_segment(ends, egui::Stroke::new(width, colour));
            }
        }
    }
}

/// What is written over the scene.
fn written(desk: &Desk, eye: Eye, busy: Busy) -> Overlay {
    let is_done = desk.sight.at.is_none() && desk.sight.apart <= 0.0;
    let rows = desk.rows();
    let marks = rows.iter().enumerate().filter_map(|(i, row)| Some((i, desk.mark(row)?)));
    let shown = marks.filter(|(i, mark)| match desk.figure {
        Some(figure) => figure == *i,
        None => mark.is_strong,
    });
    let mut notes: Vec<Note> = if is_done && desk.is_current() {
        // By its number it is found in the list of figures.
        let short = |i: usize| {
            let found = rows.get(i).map(|row| shared::interval(row.told.measured_mm, desk.unit()));
            found.map(|found| format!("{}: {found}", i + 1))
        };
        shown.map(|(i, mark)| Note { short: short(i), ..Note::of(&mark) }).collect()
    } else {
        Vec::new()
    };
    if let Some(ruler) = &desk.ruler {
        match ruler.picked.as_slice() {
            [(_, at)] => {
                let text = "from here".into();
                notes.push(Note { text, short: None, ends: [*at; 2], is_strong: false });
            }
            [(_, a), (_, b)] => {
                let text = desk.ruled().join("; ");
                let distance = measure::Length::from_mm(nalgebra::distance(a, b));
                let short = Some(distance.show(desk.unit()));
                notes.push(Note { text, short, ends: [*a, *b], is_strong: false });
            }
            _ => {}
        }
    }
    let cuts: Vec<display::Plane> =
        desk.list().ok().and_then(|list| desk.plane(&list)).into_iter().collect();
    let lines = desk.interferences().into_iter().flat_map(|found| found.lines);
    // As far as they are not cut away.
    let lines = lines.flat_map(|line| {
        let mut points = line.points;
        points.extend(line.closed.then(|| points.first().copied()).flatten());
        let left = points.split(|p| ground::is_cut_away(&cuts, p));
        left.filter(|points| points.len() > 1).map(<[_]>::to_vec).collect::<Vec<_>>()
    });
    Overlay {
        eye: Some(eye),
        heading: Vec::new(),
        verdict: None,
        notes,
        lines: lines.collect(),
        foot: String::new(),
        letters: 13.0 * desk.prefs.letters,
        busy,
    }
}

/// Finds where the scene is on the screen, so that notes stand beside it, once eye and scene rest.
fn look_where(world: &mut World, desk: &Desk, ctx: &egui::Context, area: Rect) {
    let Some(gaze) = desk.sight.gaze else { return };
    let eye = gaze.eye(desk.sight.is_parallel);
    let key = Some((eye, area, desk.drawn));
    let is_known = world.resource::<Room>().busy.0 == key;
    if is_known || written(desk, eye, Busy::default()).notes.is_empty() {
        return;
    }
    let Ok(list) = desk.list() else { return };
    let cuts: Vec<display::Plane> = desk.plane(&list).into_iter().collect();
    let size = [area.width(), area.height()].map(f64::from);
    let at = desk.sight.at.unwrap_or_else(|| list.lasts());
    let busy = ground::Ground::of(&list, (&eye, size), at, &cuts);
    let busy = busy.busy(f64::from(13.0 * desk.prefs.letters));
    world.resource_mut::<Room>().busy = (key, busy);
    ctx.request_repaint();
}

/// Makes the scene what the desk says.
fn follow(world: &mut World, desk: &mut Desk, ctx: &egui::Context, area: Rect) {
    if let Some(gaze) = desk.sight.gaze {
        let eye = gaze.eye(desk.sight.is_parallel);
        let scale = ctx.pixels_per_point();
        let physical = |x: f32| {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a screen's"
            )]
            let x = (x * scale).round().max(0.0) as u32;
            x
        };
        let corner = UVec2::new(physical(area.min.x), physical(area.min.y));
        let far = UVec2::new(physical(area.max.x), physical(area.max.y));
        let mut windows = world.query_filtered::<&Window, With<PrimaryWindow>>();
        let most = windows.single(world).map_or(far, Window::physical_size);
        let size = far.min(most).saturating_sub(corner);
        let mut cameras = world.query_filtered::<(Entity, &mut Camera), With<Stage>>();
        if let Ok((entity, mut camera)) = cameras.single_mut(world) {
            camera.is_active = size.x > 0 && size.y > 0;
            if camera.is_active {
                let viewport =
                    Viewport { physical_position: corner, physical_size: size, ..default() };
                camera.viewport = Some(viewport);
            }
            world.entity_mut(entity).insert((eye.transform(), eye.projection()));
        }
    }
    if !desk.stale.bodies && !desk.stale.places {
        return;
    }
    let stale = std::mem::take(&mut desk.stale);
    desk.drawn += 1;
    let list = match desk.list() {
        Ok(list) => list,
        Err(fault) => {
            let text = fault.to_string();
            drop(fault);
            desk.notice = Some(Notice { text, can_reload: true });
            return;
        }
    };
    let cut = desk.plane(&list);
    let look = Look {
        at: desk.sight.at,
        cuts: cut.into_iter().collect(),
        line: if desk.prefs.has_contrast { 2.0 } else { 1.25 },
    };
    let has_cut_or_had = !look.cuts.is_empty() || !world.resource::<Look>().cuts.is_empty();
    *world.resource_mut::<Look>() = look;
    if stale.bodies {
        scene::spawn(world, &list);
    } else {
        world.insert_resource(Cast(list.items.clone()));
    }
    if has_cut_or_had || stale.bodies {
        scene::cut(world, &list);
    }
    let found = desk.interferences();
    scene::overlaps(world, &found.iter().collect::<Vec<_>>());
    ctx.request_repaint();
}

/// Has the first useful picture noted: what was measured of the best placement stands beside the scene,
/// which has been dressed.
fn look_first(world: &mut World, desk: &Desk, ctx: &egui::Context) {
    if world.resource::<First>().took().is_some() {
        return;
    }
    let is_there = desk.is_current() && desk.verdict(desk.fitting).is_some();
    let mut room = world.resource_mut::<Room>();
    room.useful = if is_there { room.useful.saturating_add(1) } else { 0 };
    let is_useful = room.useful > MORE;
    if world.resource::<First>().is_useful != is_useful {
        world.resource_mut::<First>().is_useful = is_useful;
    }
    if is_there {
        ctx.request_repaint();
    }
}

/// Prints what the window tells, where that is asked for, each time it changes.
fn tell(world: &mut World, desk: &Desk, ctx: &egui::Context, (area, rests): (Rect, bool)) {
    let took = world.resource::<First>().took();
    let mut room = world.resource_mut::<Room>();
    if !room.settings.tells {
        return;
    }
    let name = desk.ground.car.fittings.get(desk.fitting).map_or("", |f| f.name.as_str());
    let mut lines = vec![format!("{name}: {}", desk.headline())];
    lines.extend(took.map(|took| format!("first useful picture after {} ms", took.as_millis())));
    lines.extend(desk.least().map(|least| format!("least margin: {least}")));
    if let (Some(at), Some(stage)) = (
        desk.sight.at.filter(|_| desk.sight.playing.is_none()),
        desk.stages().iter().rev().find(|s| desk.sight.at.is_some_and(|at| at >= s.from)),
    ) {
        lines.push(format!("step at {at:.1} s: {}", stage.name));
    }
    if let Some(gaze) = desk.sight.gaze {
        let eye = gaze.eye(desk.sight.is_parallel);
        let dial = Dial::of(desk).filter(|_| desk.has_dial());
        let handles = dial.map(|dial| dial.handles(&eye, area)).unwrap_or_default();
        for (what, handle) in ["ring's pointer", "cup"].into_iter().zip(handles) {
            lines.extend(handle.map(|at| format!("{what} at {:.0} {:.0}", at.x, at.y)));
        }
    }
    if let Some(session) = desk.session() {
        let bearing = session.setup().placement.outlet_bearing.radians();
        lines.push(format!("outlet's bearing {bearing} radians"));
        let (car, kit) = (&desk.ground.car, &desk.ground.kit);
        let settings = words::settings(car, kit, session.setup(), desk.unit());
        lines.extend(settings.iter().map(|[what, value]| format!("set up: {what}: {value}")));
        let undo = ctx.data(|data| data.get_temp::<egui::Pos2>(panels::undo_place()));
        let undo = undo.filter(|_| session.can_undo_redo()[0]);
        lines.extend(undo.map(|at| format!("undo at {:.0} {:.0}", at.x, at.y)));
    }
    if let Some((through, _)) = desk.sight.cut {
        lines.push(format!("cut {}", through.word()));
    }
    let notice = desk.notice.as_ref().map(|notice| {
        let all: Vec<&str> = notice.text.lines().map(str::trim).collect();
        format!("notice: {}", all.join(" "))
    });
    lines.extend(notice);
    lines.extend(room.held.map(|held| format!("in hand: {}", held.word())));
    lines.extend(desk.changed_files());
    lines.extend(desk.ruled());
    lines.extend(lessons::told(desk));
    // The last, so that everything else is told when it is heard.
    lines.extend((rests && desk.is_settled()).then(|| "at rest".into()));
    let new: Vec<String> = lines.iter().filter(|line| !room.told.contains(line)).cloned().collect();
    if !new.is_empty() {
        let mut out = std::io::stdout().lock();
        // With stdout gone there is nobody left to tell.
        let _ = writeln!(out, "{}", new.join("\n"));
        let _ = out.flush();
    }
    room.told = lines;
}

/// Keeps what is preferred, and goes, when the window is closed.
fn close(
    mut asked: MessageReader<WindowCloseRequested>,
    mut exits: MessageReader<AppExit>,
    mut room: ResMut<Room>,
    windows: Query<&Window, With<PrimaryWindow>>,
    mut commands: Commands,
) {
    let is_closed = asked.read().count() > 0;
    if !is_closed && exits.read().count() == 0 {
        return;
    }
    if let (Some(desk), Ok(window)) = (&mut room.desk, windows.single()) {
        desk.prefs.size = [window.width(), window.height()];
        desk.prefs.keep();
    }
    // Threads end with it.
    room.desk = None;
    if is_closed {
        commands.write_message(AppExit::Success);
    }
}
