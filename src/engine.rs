//! One trial, step by step.

pub mod record;
