//! Bevy without a window: frames are drawn into an image and read back.

use crate::driver::{self, BACKENDS};
use crate::eye::Eye;
use crate::overlay::OverlayPlugin;
use crate::scene::{PAPER, ScenePlugin};
use bevy::app::PluginsState;
use bevy::camera::RenderTarget;
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::ecs::system::RunSystemOnce;
use bevy::log::LogPlugin;
use bevy::prelude::*;
use bevy::render::pipelined_rendering::PipelinedRenderingPlugin;
use bevy::render::render_resource::{PipelineCache, TextureFormat, TextureUsages};
use bevy::render::settings::{RenderCreation, WgpuSettings};
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use bevy::render::{RenderApp, RenderPlugin};
use bevy::window::ExitCondition;
use bevy::winit::WinitPlugin;
use bevy_egui::EguiPlugin;
use front::Plain;
use std::sync::{Arc, Mutex};

/// Frames drawn before one is read back, at least: shaders are loaded, letters laid out.
const FIRST: usize = 3;
/// Frames drawn until everything must be there.
const LAST: usize = 400;

/// An application that draws into an image.
pub(crate) struct Headless {
    app: App,
    target: Handle<Image>,
    camera: Entity,
    frames: usize,
}

impl Headless {
    /// Starts one; `size` is the picture's width and height in pixels.
    pub(crate) fn new(size: [u32; 2], is_transparent: bool) -> Self {
        let mut app = App::new();
        let settings = WgpuSettings { backends: Some(BACKENDS), ..default() };
        app.add_plugins(
            DefaultPlugins
                .set(WindowPlugin {
                    primary_window: None,
                    exit_condition: ExitCondition::DontExit,
                    ..default()
                })
                .set(RenderPlugin {
                    // Otherwise what is not compiled yet is left out of the picture.
                    synchronous_pipeline_compilation: true,
                    render_creation: RenderCreation::Automatic(Box::new(settings)),
                    ..default()
                })
                .set(LogPlugin { filter: "error".into(), ..default() })
                .disable::<WinitPlugin>()
                .disable::<PipelinedRenderingPlugin>(),
        );
        app.add_plugins((EguiPlugin::default(), ScenePlugin, OverlayPlugin));
        let [width, height] = size;
        let mut image =
            Image::new_target_texture(width, height, TextureFormat::Rgba8UnormSrgb, None);
        image.texture_descriptor.usage |= TextureUsages::COPY_SRC;
        let target = app.world_mut().resource_mut::<Assets<Image>>().add(image);
        let [r, g, b, _] = crate::scene::linear(PAPER).to_array();
        let behind = if is_transparent { Color::NONE } else { Color::linear_rgba(r, g, b, 1.0) };
        let camera = app
            .world_mut()
            .spawn((
                Camera3d::default(),
                Camera { clear_color: ClearColorConfig::Custom(behind), ..default() },
                RenderTarget::Image(target.clone().into()),
                // Colours are meant as they are given.
                Tonemapping::None,
                Msaa::Sample4,
            ))
            .id();
        while app.plugins_state() == PluginsState::Adding {
            bevy::tasks::tick_global_task_pools_on_main_thread();
        }
        app.finish();
        app.cleanup();
        Self { app, target, camera, frames: 0 }
    }

    /// What is in it.
    pub(crate) fn world(&mut self) -> &mut World {
        self.app.world_mut()
    }

    /// Looks from somewhere.
    pub(crate) fn look_from(&mut self, eye: &Eye) {
        let camera = (eye.transform(), eye.projection());
        self.app.world_mut().entity_mut(self.camera).insert(camera);
    }

    /// Draws, and reads back what is drawn: four bytes a pixel, red, green, blue, opacity, row by row from
    /// the top.
    pub(crate) fn picture(&mut self) -> Result<Vec<u8>, Plain> {
        while self.frames < FIRST {
            self.update();
        }
        for _ in 0..LAST {
            let pixels = self.read_back()?;
            // What was compiled too late for this frame is there in the next.
            if self.are_shaders_compiled()? {
                return Ok(pixels);
            }
        }
        Err(undrawn("its shaders were not ready in time"))
    }

    fn update(&mut self) {
        self.app.update();
        self.frames += 1;
    }

    /// The next frame.
    fn read_back(&mut self) -> Result<Vec<u8>, Plain> {
        while !self.are_shaders_compiled()? && self.frames < LAST {
            self.update();
        }
        let got: Arc<Mutex<Option<Image>>> = Arc::default();
        let (keep, target) = (Arc::clone(&got), self.target.clone());
        let asked = self.app.world_mut().run_system_once(move |mut commands: Commands| {
            let keep = Arc::clone(&keep);
            commands.spawn(Screenshot::image(target.clone())).observe(
                move |shot: On<ScreenshotCaptured>| {
                    if let Ok(mut keep) = keep.lock() {
                        *keep = Some(shot.image.clone());
                    }
                },
            );
        });
        asked.map_err(|error| undrawn(&error.to_string()))?;
        for _ in 0..LAST {
            self.update();
            let image = got.lock().ok().and_then(|mut got| got.take());
            if let Some(data) = image.and_then(|image| image.data) {
                return Ok(data);
            }
        }
        Err(undrawn("nothing was read back"))
    }

    /// Draws once more, without reading it back.
    pub(crate) fn frame(&mut self) {
        self.update();
    }

    fn are_shaders_compiled(&self) -> Result<bool, Plain> {
        let Some(render) = self.app.get_sub_app(RenderApp) else {
            return Err(undrawn("nothing draws"));
        };
        let Some(cache) = render.world().get_resource::<PipelineCache>() else { return Ok(false) };
        driver::are_shaders_compiled(cache).map_err(|why| undrawn(&why))
    }
}

fn undrawn(why: &str) -> Plain {
    Plain::new(
        format!("the picture could not be drawn: {why}"),
        "this is a fault of overcup-view or of the graphics driver; nothing was written",
    )
}
