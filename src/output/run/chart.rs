//! Charts of a run: how often each element is over, how long the demand is met, what triggered what.

mod cascade;
mod overload;
mod ride_through;

pub use cascade::cascade;
pub use overload::overload;
pub use ride_through::ride_through;
