//! temporary
mod fault;
