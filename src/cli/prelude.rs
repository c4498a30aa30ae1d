//! What commands are made with.

pub use super::arguments::{Common, DONE, NightArguments, StudyArguments, TARGET_MISSED, celsius, finite, share};
pub use super::failure::Failure;
pub use super::origin::Origin;
pub use super::progress::Waiting;
pub use super::screen::Told;
pub(crate) use super::{folder, screen};
pub use crate::output::kit::cautions::{Caution, Cautions};
pub use clap::Args;
