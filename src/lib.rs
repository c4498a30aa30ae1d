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
//! At the far left stand what every stage may use: [`time`], [`math`], [`curve`], [`escape`], [`units`],
//! [`diagnostic`], [`profile`] and [`draw`].
//!
//! The features `cli` (the command line) and `charts` (tables, charts, pages and folders of results) are on by default.
//! Without them what remains is scenarios, engine, studies and results.
//!
//! # One point and one night
//!
//! ```
//! use bankwright::network::Demand;
//! use bankwright::scenario::check;
//! use bankwright::study::point::{self, Question};
//! use bankwright::trials::{Campaign, replay};
//! use std::path::Path;
//!
//! let checked = check::load(Path::new("scenarios/reference/pair.toml"));
//! let scenario = checked.map_err(|faults| bankwright::diagnostic::render(&faults, false))?.scenario;
//!
//! // Each of the two modules carries half: 52.8 V − 50 A·12.25 mΩ − 100 A·2 mΩ.
//! let question = Question { demand: Demand::Current(100.0), soc: None, air: 25.0, without: vec![] };
//! let point = point::solve(&scenario, &question)?;
//! assert!(point.bus.voltage_v.is_some_and(|v| (v - 51.9875).abs() < 1e-9));
//! let over: Vec<&str> = point.conductors.iter().filter(|c| c.over).map(|c| c.id.as_str()).collect();
//! assert_eq!(over, ["A.lead1+", "A.lead1-"]);
//!
//! // 90 % of 100 Ah at 50 A lasts 1.8 h.
//! let (load, trials) = scenario.load.as_ref().zip(scenario.trials.as_ref()).ok_or("nothing to run")?;
//! let (record, result) = replay::replay(&Campaign::new(&scenario, load, trials)?, 0)?;
//! assert!(result.served_until.is_some_and(|end| (end.hours() - 1.8).abs() < 1e-9));
//! assert_eq!(record.events[0].1, "A.lead1+ over its limit 80 A");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![allow(rustdoc::broken_intra_doc_links, reason = "a unit in brackets, as [A], is no link")]

pub mod bounds;
#[cfg(feature = "cli")]
pub mod cli;
pub mod curve;
pub mod diagnostic;
pub mod draw;
pub mod engine;
pub mod escape;
pub mod intake;
pub mod math;
pub mod network;
#[cfg(feature = "charts")]
pub mod output;
pub mod profile;
pub mod scenario;
pub mod study;
pub mod summary;
pub mod time;
pub mod trials;
pub mod units;
