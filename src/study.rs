//! Questions asked of the stages: each a function from a scenario to a document.

pub mod compare;
pub mod error;
pub mod inputs;
pub mod limit;
pub mod parts;
pub mod point;
pub mod propose;
pub mod readings;
pub mod sensitivity;
pub mod static_risk;
pub mod steady;
pub mod verify;
