//! Pictures without a window.

use crate::look::Look;
use crate::{body, eye, figures};
use bevy::app::PluginsState;
use bevy::camera::RenderTarget;
use bevy::image::Image;
use bevy::log::LogPlugin;
use bevy::prelude::*;
use bevy::render::RenderPlugin;
use bevy::render::pipelined_rendering::PipelinedRenderingPlugin;
use bevy::render::render_resource::{TextureFormat, TextureUsages};
use bevy::render::settings::{Backends, RenderCreation, WgpuSettings};
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use bevy::window::ExitCondition;
use bevy::winit::WinitPlugin;
use display::DisplayList;
use std::sync::{Arc, Mutex, PoisonError};

/// Why there is no picture.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoPicture {
    /// Nothing drew it in time.
    #[error("the picture was not drawn")]
    NotDrawn,
    /// What was drawn is of no form that can be written.
    #[error("the picture has a form that cannot be written")]
    Form,
}

/// Pictures of one display list, one after the other.
pub struct Pictures<'l> {
    list: &'l DisplayList<'l>,
    app: App,
    target: Handle<Image>,
}

impl<'l> Pictures<'l> {
    /// Sets up the drawing of a list as a look has it, in pictures of a size in pixels. The driver must
    /// be there: ask [`crate::driver`] before.
    pub fn new(list: &'l DisplayList<'l>, look: &Look, [width, height]: [u32; 2]) -> Self {
        let mut app = App::new();
        app.add_plugins(
            DefaultPlugins
                .build()
                .disable::<WinitPlugin>()
                .disable::<PipelinedRenderingPlugin>()
                .set(WindowPlugin {
                    primary_window: None,
                    exit_condition: ExitCondition::DontExit,
                    ..default()
                })
                .set(RenderPlugin {
                    // Otherwise the first pictures are black.
                    synchronous_pipeline_compilation: true,
                    render_creation: RenderCreation::Automatic(Box::new(WgpuSettings {
                        backends: Some(Backends::VULKAN),
                        ..default()
                    })),
                    ..default()
                })
                .set(LogPlugin { filter: "error".into(), ..default() }),
        );
        app.add_plugins((body::plugin, figures::plugin));
        let mut image =
            Image::new_target_texture(width, height, TextureFormat::Rgba8UnormSrgb, None);
        image.texture_descriptor.usage |= TextureUsages::COPY_SRC;
        let target = app.world_mut().resource_mut::<Assets<Image>>().add(image);
        app.world_mut().spawn((eye::camera(look), RenderTarget::Image(target.clone().into())));
        app.world_mut().spawn(eye::light(look));
        while app.plugins_state() == PluginsState::Adding {
            bevy::tasks::tick_global_task_pools_on_main_thread();
        }
        app.finish();
        app.cleanup();
        body::spawn(app.world_mut(), list, look);
        figures::spawn(app.world_mut(), look);
        // Transforms and labels settle.
        app.update();
        Self { list, app, target }
    }

    /// The picture at a time of the installation: rows from the top, red, green, blue, opacity.
    pub fn at(&mut self, at: f64) -> Result<Image, NoPicture> {
        /// Frames to wait for it.
        const MOST: usize = 100;
        body::pose(self.app.world_mut(), self.list, at);
        // What is moved now is drawn by the next frame.
        self.app.update();
        let got: Arc<Mutex<Option<Image>>> = Arc::default();
        let kept = Arc::clone(&got);
        self.app.world_mut().spawn(Screenshot::image(self.target.clone())).observe(
            move |captured: On<ScreenshotCaptured>| {
                let mut kept = kept.lock().unwrap_or_else(PoisonError::into_inner);
                *kept = Some(captured.image.clone());
            },
        );
        for _ in 0..MOST {
            self.app.update();
            if let Some(image) = got.lock().unwrap_or_else(PoisonError::into_inner).take() {
                return Ok(image);
            }
        }
        Err(NoPicture::NotDrawn)
    }
}
