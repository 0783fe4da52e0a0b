//! Whether there is anything that draws.

use bevy::render::settings::Backends;
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
