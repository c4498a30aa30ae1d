//! Bankwright finds what is overloaded in a stacked 48 V LFP battery bank when modules drop out.
//!
//! # In a few lines
//!
//! [`load`] reads a scenario, [`Simulation`] takes it through its random nights, and [`Results`] is what they came to;
//! it is written and read by `serde`. A [`Progress`] follows the work and stops it, a [`Checkpoint`] keeps finished
//! blocks, so that an interrupted run goes on.
//!
//! ```
//! use bankwright::{Options, Simulation, load};
//!
//! let scenario = load("scenarios/reference/cold_night.toml")?;
//! let options = Options { trials: Some(200), seed: Some(7), ..Options::default() };
//! let results = Simulation::new(&scenario, options)?.run()?;
//!
//! assert_eq!(results.trials, 200);
//! let overload = results.overload.any;
//! println!("overload in {:.1} % of nights ({:.1} … {:.1} %)", 100.0 * overload.estimate, 100.0 * overload.low,
//!     100.0 * overload.high);
//! # assert!(overload.low <= overload.estimate && overload.estimate <= overload.high);
//! # Ok::<(), bankwright::StudyError>(())
//! ```
//!
//! The features `cli` (the command line) and `charts` (tables, charts, pages and folders of results) are on by default.
//! Without them what remains is scenarios, engine, studies and results.
//!
//! # One point and one night
//!
//! Each study of [`study`] is a question and a function that answers it; all of them take a [`Progress`] but those that
//! are done at once.
//!
//! ```
//! use bankwright::network::Demand;
//! use bankwright::study::point::{self, Question};
//! use bankwright::{Options, Progress, Simulation, load};
//!
//! // Each of the two modules carries half: 52.8 V − 50 A·12.25 mΩ − 100 A·2 mΩ.
//! let pair = load("scenarios/reference/pair.toml")?;
//! let question = Question { demand: Demand::Current(100.0), soc: None, air: 25.0, without: vec![] };
//! let point = point::solve(&pair.scenario, &question)?;
//! assert!(point.bus.voltage_v.is_some_and(|v| (v - 51.9875).abs() < 1e-9));
//! let over: Vec<&str> = point.conductors.iter().filter(|c| c.over).map(|c| c.id.as_str()).collect();
//! assert_eq!(over, ["A.lead1+", "A.lead1-"]);
//!
//! // 90 % of 100 Ah at 50 A lasts 1.8 h.
//! let (record, result) = Simulation::new(&pair, Options::default())?.replay(0, &Progress::none())?;
//! assert!(result.served_until.is_some_and(|end| (end.hours() - 1.8).abs() < 1e-9));
//! assert_eq!(record.events[0].1, "A.lead1+ over its limit 80 A");
//! # Ok::<(), bankwright::StudyError>(())
//! ```
//!
//! # Stages
//!
//! In the order in which data flow; each imports only from those before it:
//!
//! ```text
//! scenario text ─▶ scenario::document ─▶ scenario ─▶ network ─▶ engine ─▶ summary ─▶ trials ─▶ study ─▶ simulate ─▶ output ─▶ cli
//!   (TOML, CSV,       as written         complete     nodes,     state,     counts,   random   questions  the front   tables,
//!    weather)                            and legal    branches   events,    exact     nights   asked of   door        charts,
//!                                                                step       intervals          the stages             page
//! ```
//!
//! At the far left stand what every stage may use, such as [`time`], [`progress`], [`escape`], [`units`],
//! [`diagnostic`], [`profile`] and [`draw`].
#![warn(missing_docs)]
#![allow(rustdoc::broken_intra_doc_links, reason = "a unit in brackets, as [A], is no link")]

/// Displays a kind by the word that it is serialised as, so that its name is the same in JSON, CSV and sentences.
macro_rules! display_as_serialised {
    ($kind:ty) => {
        impl std::fmt::Display for $kind {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                serde::Serialize::serialize(self, f)
            }
        }
    };
}

pub mod bounds;
#[cfg(feature = "cli")]
pub mod cli;
pub(crate) mod curve;
pub mod diagnostic;
pub mod draw;
pub mod engine;
pub mod escape;
pub(crate) mod intake;
pub(crate) mod math;
pub mod network;
#[cfg(feature = "charts")]
pub mod output;
pub mod profile;
pub mod progress;
pub mod scenario;
pub mod simulate;
pub mod study;
pub mod summary;
pub mod time;
pub mod trials;
pub mod units;

pub use progress::Progress;
pub use simulate::{Simulation, load};
pub use study::error::StudyError;
pub use summary::Results;
pub use trials::Options;
pub use trials::blocks::Checkpoint;
