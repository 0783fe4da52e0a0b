//! The window and the headless pictures.
