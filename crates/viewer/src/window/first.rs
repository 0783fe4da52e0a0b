//! When the first useful picture stands on the screen: the car top with the rig on it, and its verdict.

use crate::driver::are_shaders_compiled;
use bevy::prelude::*;
use bevy::render::extract_resource::{ExtractResource, ExtractResourcePlugin};
use bevy::render::render_resource::PipelineCache;
use bevy::render::{Render, RenderApp, RenderSystems};
use std::sync::Arc;
use std::sync::OnceLock;
use std::time::{Duration, Instant};

/// Notes when the first useful picture has been handed to the screen.
pub(crate) struct FirstPlugin {
    /// When the program began.
    pub(crate) began: Instant,
}

/// What is known of it.
#[derive(Resource, ExtractResource, Debug, Clone)]
pub(crate) struct First {
    began: Instant,
    /// Whether what is drawn now is useful.
    pub(crate) is_useful: bool,
    /// How long it took.
    took: Arc<OnceLock<Duration>>,
}

impl First {
    /// How long it took from the beginning of the program; `None` as long as there was none.
    pub(crate) fn took(&self) -> Option<Duration> {
        self.took.get().copied()
    }
}

impl Plugin for FirstPlugin {
    fn build(&self, app: &mut App) {
        let first = First { began: self.began, is_useful: false, took: Arc::default() };
        app.insert_resource(first).add_plugins(ExtractResourcePlugin::<First>::default());
        if let Some(render) = app.get_sub_app_mut(RenderApp) {
            // What is drawn has been presented by then.
            render.add_systems(Render, note.in_set(RenderSystems::Cleanup));
        }
    }
}

/// What is not compiled yet is left out of a picture, which is not useful then.
#[expect(clippy::needless_pass_by_value, reason = "Bevy hands resources over so")]
fn note(first: Option<Res<First>>, cache: Res<PipelineCache>) {
    let Some(first) = first.filter(|first| first.is_useful && first.took().is_none()) else {
        return;
    };
    if are_shaders_compiled(&cache).is_ok_and(|all| all) {
        // Noted once.
        let _ = first.took.set(first.began.elapsed());
    }
}
