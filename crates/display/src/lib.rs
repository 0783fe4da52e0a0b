//! The display list: what is seen of a reviewed fitting, in which colours, and how the rig is put on;
//! and the same as a glTF scene.
//!
//! Nothing here judges, measures or draws. Whatever draws, a window, a picture or a scene for another
//! program, takes what a list holds. Lengths are millimetres in the plate frame, times seconds.

mod aim;
mod apart;
mod cut;
mod glb;
mod interference;
mod list;
mod marks;
mod palette;
mod ray;
mod shading;
mod simplify;
mod timeline;
mod view;

pub use cut::{CutFace, Plane};
pub use glb::{Unwritable, glb};
pub use interference::{Interference, interferences};
pub use list::{DisplayList, Item, Shown, Which};
pub use marks::{Mark, marks};
pub use palette::{Colour, INK, Role, STRONG};
pub use ray::Picked;
pub use shading::{Surface, surface};
pub use simplify::simplified;
pub use timeline::{Key, Stage, Track};
pub use view::{Framing, View};
