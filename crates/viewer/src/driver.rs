//! Whether anything is there that draws.

use bevy::tasks::block_on;
use wgpu::{Backends, Instance, InstanceDescriptor};

/// The name of what draws: a graphics card, or a driver that does its work. `None` without a Vulkan
/// driver.
pub fn name() -> Option<String> {
    let asked = InstanceDescriptor {
        backends: Backends::VULKAN,
        ..InstanceDescriptor::new_without_display_handle()
    };
    let found = block_on(Instance::new(asked).enumerate_adapters(Backends::VULKAN));
    found.first().map(|adapter| adapter.get_info().name)
}
