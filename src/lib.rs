//! Bankwright finds what is overloaded in a stacked 48 V LFP battery bank when modules drop out.
//!
//! The stages, in the order in which data flow; each imports only from those before it:
//!
//! ```text
//! scenario text ─▶ scenario::document ─▶ scenario ─▶ network ─▶ engine ─▶ summary ─▶ trials ─▶ study ─▶ output ─▶ cli
//!   (TOML, CSV,       as written         complete     nodes,     state,     counts,   random   questions  tables,
//!    weather)                            and legal    branches   events,    exact     nights   asked of   charts,
//!                                                                step       intervals          the stages page
//! ```
//!
//! At the far left stand what every stage may use: [`time`], [`curve`], [`units`], [`diagnostic`],
//! [`profile`] and [`draw`].
#![allow(rustdoc::broken_intra_doc_links, reason = "a unit in brackets, as [A], is no link")]

pub mod cli;
pub mod curve;
pub mod diagnostic;
pub mod draw;
pub mod engine;
pub mod network;
pub mod output;
pub mod profile;
pub mod scenario;
pub mod study;
pub mod summary;
pub mod time;
pub mod trials;
pub mod units;
