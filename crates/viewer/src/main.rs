//! The window on a reviewed car top, and its pictures.
fn main() {}
