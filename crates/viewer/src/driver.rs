//! Whether there is anything that draws.

use bevy::render::render_resource::{CachedPipelineState, PipelineCache};
use bevy::render::settings::Backends;
use bevy::shader::ShaderCacheError;
use bevy::tasks::block_on;
use front::Plain;

/// What Bevy may draw with.
pub(crate) const BACKENDS: Backends = Backends::PRIMARY;

/// Fails where nothing draws, before Bevy would panic.
pub(crate) fn check() -> Result<(), Plain> {
    let instance = wgpu::Instance::new(wgpu::InstanceDescriptor {
        backends: BACKENDS,
        ..wgpu::InstanceDescriptor::new_without_display_handle()
    });
    let found = block_on(instance.enumerate_adapters(BACKENDS));
    if found.is_empty() {
        return Err(Plain::new(
            "no Vulkan driver was found, and pictures are drawn with one",
            "install one; a software driver is enough: apt-get install mesa-vulkan-drivers \
             (Debian, Ubuntu), mesa-vulkan-drivers (Fedora), vulkan-swrast (Arch)",
        ));
    }
    Ok(())
}

/// Whether every shader that was asked for so far is ready, or why one never will be.
pub(crate) fn are_shaders_compiled(cache: &PipelineCache) -> Result<bool, String> {
    let mut all = true;
    for pipeline in cache.pipelines() {
        match &pipeline.state {
            CachedPipelineState::Ok(_) => {}
            CachedPipelineState::Queued | CachedPipelineState::Creating(_) => all = false,
            CachedPipelineState::Err(error) => match error {
                ShaderCacheError::ShaderNotLoaded(_)
                | ShaderCacheError::ShaderImportNotYetAvailable => all = false,
                other => return Err(other.to_string()),
            },
        }
    }
    Ok(all)
}
