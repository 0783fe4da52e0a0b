//! A display list drawn: pictures without a window.
//!
//! What is to be seen and from where is plain data ([`Look`]); one module each makes entities of the
//! items ([`body`]), of the figures ([`figures`]) and of the eye ([`eye`]). No verdict is computed here,
//! and nothing is measured on what is drawn.

pub mod body;
pub mod driver;
pub mod eye;
pub mod figures;
mod look;
mod picture;

pub use look::{Look, Section};
pub use picture::{NoPicture, Pictures};
