//! One trial: the bank through one night, step by step, with its events where they fall.
//!
//! In: a `Model` (what no trial changes) and a `Realization` (what chance gave this one).
//! Out: a `TrialResult`, and every moment to whoever observes.
//!
//! A step solves the network at its end with each module's open-circuit voltage treated implicitly
//! (`trial::step`): second order, stable on the steep ends of the curve, and one solution a step but
//! where the curve bends. A guard or an empty module that a step crosses is located to the microsecond
//! and ends the step there; a collapsing voltage is approached by halves.

pub(crate) mod ambient;
pub mod batch;
pub(crate) mod batch_step;
pub(crate) mod bracket;
pub mod cascade;
pub(crate) mod conductors;
pub mod controller;
pub mod device;
pub mod event;
pub(crate) mod guard;
pub(crate) mod inverter;
pub mod model;
pub mod module;
pub(crate) mod operating_point;
pub(crate) mod range;
pub mod realization;
pub mod record;
pub mod result;
pub(crate) mod step_error;
pub(crate) mod step_size;
pub(crate) mod tally;
pub(crate) mod thermal;
pub mod trial;
pub(crate) mod watch;
