//! All integration tests, a module a stage: `cargo test network::` runs those of one.
//!
//! One program, because each further one compiles the library's generic functions again and links it all again.

mod architecture;
mod cli;
mod corpus;
mod documents;
mod formulas;
mod front_door;
mod input;
mod layouts;
mod limit;
mod linear;
mod network;
mod night;
mod output;
mod profiles;
mod protection;
mod readings;
mod statistics;
