//! Layouts that a scenario proposes beside itself: other stacks, leads, types and limits under the same nights.
//!
//! In: what each layout overrides, already judged with the rest of the scenario (`check::layouts`). Out: a complete
//! scenario a layout, which shares with the one as written all that no layout changes.

use super::bank::{Bar, Stack};
use super::cable::CableType;
use super::controller::Controller;
use super::device::{DeviceType, Fitted};
use super::module::ModuleType;
use serde::Serialize;

/// The parts of a scenario that a layout may change.
#[derive(Clone, Debug)]
pub struct Design {
    /// Module types.
    pub modules: Vec<ModuleType>,
    /// Cable types.
    pub cables: Vec<CableType>,
    /// Types of protective devices.
    pub devices: Vec<DeviceType>,
    /// Stacks of modules.
    pub stacks: Vec<Stack>,
    /// The bus bars, where the lead pairs and the inverter connect.
    pub bar: Bar,
    /// The protective device between the bus bars and the inverter; `None`: there is none.
    pub main: Option<Fitted>,
    /// The controller that announces limits; `None`: there is none.
    pub controller: Option<Controller>,
}

/// A proposed layout.
#[derive(Clone, Debug)]
pub struct Layout {
    /// Name of the layout in the scenario.
    pub name: String,
    /// The parts that replace those of the scenario.
    pub design: Design,
}

/// Where the lead pairs of a stack take off. Its words are the same in the scenario, in JSON and in CSV.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(into = "&'static str")]
pub enum TakeOff {
    /// Both poles of every pair at the top.
    OneEnd,
    /// Every positive at the top, every negative at the bottom.
    OppositeEnds,
    /// Pairs by turns: the positive at the top and the negative at the bottom, then the other way round.
    BothEnds,
    /// Both poles of a pair at one module, the pairs evenly over the stack.
    Spread,
    /// One pair at each module.
    EveryModule,
}

impl From<TakeOff> for &'static str {
    fn from(take_off: TakeOff) -> Self {
        take_off.word()
    }
}

impl TakeOff {
    /// All take-offs, in the order in which a grid lists them.
    pub const ALL: [TakeOff; 5] =
        [TakeOff::OneEnd, TakeOff::OppositeEnds, TakeOff::BothEnds, TakeOff::Spread, TakeOff::EveryModule];

    /// The word for it in a scenario, in JSON and in CSV.
    pub fn word(self) -> &'static str {
        match self {
            TakeOff::OneEnd => "one end",
            TakeOff::OppositeEnds => "opposite ends",
            TakeOff::BothEnds => "both ends",
            TakeOff::Spread => "spread",
            TakeOff::EveryModule => "every module",
        }
    }

    /// Positions (from 1) of the positive and the negative take-off of each of `pairs` on a stack of `modules`; `None`
    /// where the take-off is impossible, or is the same as another one.
    pub fn positions(self, pairs: usize, modules: usize) -> Option<Vec<(usize, usize)>> {
        let (bottom, top) = (1, modules);
        let sound = pairs > 0
            && match self {
                TakeOff::BothEnds => pairs > 1,
                TakeOff::Spread => pairs < modules,
                TakeOff::EveryModule => pairs == modules,
                _ => true,
            };
        let of = |k: usize| match self {
            TakeOff::OneEnd => (top, top),
            TakeOff::OppositeEnds => (top, bottom),
            TakeOff::BothEnds if k.is_multiple_of(2) => (top, bottom),
            TakeOff::BothEnds => (bottom, top),
            // The middle of the k-th of equal parts of the stack.
            TakeOff::Spread => {
                let middle = ((2 * k + 1) * modules).div_ceil(2 * pairs);
                (middle, middle)
            }
            TakeOff::EveryModule => (k + 1, k + 1),
        };
        sound.then(|| (0..pairs).map(of).collect())
    }

    /// The take-off of a stack; `None` where its positions are those of no take-off.
    pub fn of_stack(stack: &Stack) -> Option<TakeOff> {
        let modules = stack.positions.len();
        let mut taken: Vec<(usize, usize)> = stack.leads.iter().map(|l| (l.positive, l.negative)).collect();
        taken.sort_unstable();
        TakeOff::ALL.into_iter().find(|kind| {
            kind.positions(taken.len(), modules).is_some_and(|mut positions| {
                positions.sort_unstable();
                positions == taken
            })
        })
    }

    /// The take-off of all stacks; `None` where they differ or it is not one of these.
    pub fn of_bank(stacks: &[Stack]) -> Option<TakeOff> {
        let first = TakeOff::of_stack(stacks.first()?)?;
        stacks.iter().all(|stack| TakeOff::of_stack(stack) == Some(first)).then_some(first)
    }
}

/// What is priced by the scenario as a whole.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Prices {
    /// The currency as it is printed; `None`: the scenario gives no prices.
    pub currency: Option<String>,
    /// Price of one joint of a conductor; `None`: not stated.
    pub joint: Option<f64>,
}

/// Conductors that carry no load current and are only counted: communication, earthing.
#[derive(Clone, Debug, PartialEq)]
pub struct Wire {
    /// Size of the conductor as written in the scenario; `None`: not stated.
    pub size: Option<String>,
    /// Length of one wire [m].
    pub length: f64,
    /// What the number of wires goes by.
    pub per: Per,
    /// Price of one wire, in the scenario's currency; `None`: not stated.
    pub price: Option<f64>,
}

/// What the number of wires goes by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Per {
    /// One wire for each module.
    Module,
    /// One wire for each stack.
    Stack,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn take_offs_of_eight_modules() {
        let of = |kind: TakeOff, pairs| kind.positions(pairs, 8);
        assert_eq!(of(TakeOff::OneEnd, 2), Some(vec![(8, 8), (8, 8)]));
        assert_eq!(of(TakeOff::OppositeEnds, 1), Some(vec![(8, 1)]));
        assert_eq!(of(TakeOff::BothEnds, 3), Some(vec![(8, 1), (1, 8), (8, 1)]));
        assert_eq!(of(TakeOff::BothEnds, 1), None);
        assert_eq!(of(TakeOff::Spread, 1), Some(vec![(4, 4)]));
        assert_eq!(of(TakeOff::Spread, 2), Some(vec![(2, 2), (6, 6)]));
        assert_eq!(of(TakeOff::Spread, 4), Some(vec![(1, 1), (3, 3), (5, 5), (7, 7)]));
        assert_eq!(of(TakeOff::Spread, 8), None);
        assert_eq!(of(TakeOff::EveryModule, 8).map(|p| p[7]), Some((8, 8)));
        assert_eq!(of(TakeOff::EveryModule, 7), None);
    }
}
