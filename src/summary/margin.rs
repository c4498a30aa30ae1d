//! How near a night came to a limit.
//!
//! In: the result of a trial. Out: its margin, 1 less the greatest current over its limit, of all elements that have
//! one, however short it lasted; below zero something was over.
//!
//! Results keep a current's magnitude: that of a module is held against its discharge limit, or against its charge
//! limit where the load is a constant charge. A conductor with insulation data is held against what it may carry in
//! the air for which its ampacity is given.

use crate::engine::model::Model;
use crate::engine::result::TrialResult;
use crate::scenario::Load;

/// Limits of all elements, modules first [A]; `None`: unrated.
#[derive(Clone, Debug)]
pub struct Margin {
    limits: Vec<Option<f64>>,
}

impl Margin {
    /// Takes the limits of a model's elements.
    pub fn new(model: &Model) -> Margin {
        let charges = matches!(model.load, Load::Current(x) | Load::Power(x) if x < 0.0);
        let modules = model.limits.iter().map(|m| if charges { m.charge } else { m.discharge });
        let conductors = model.bank.conductors.iter().map(|c| c.nominal_limit());
        Margin { limits: modules.chain(conductors).collect() }
    }

    /// `None` where nothing has a limit.
    pub fn of(&self, result: &TrialResult) -> Option<f64> {
        self.least(result.elements.iter().map(|e| e.greatest)).map(|(_, margin)| margin)
    }

    /// The element that comes nearest to its limit with these greatest currents [A], and its margin.
    pub fn least(&self, greatest: impl Iterator<Item = f64>) -> Option<(usize, f64)> {
        let used = self.limits.iter().zip(greatest).enumerate();
        let margins = used.filter_map(|(k, (limit, amps))| Some((k, 1.0 - amps / (*limit)?)));
        // The first of equals, whatever their rounding.
        margins.reduce(|a, b| if b.1 < a.1 - 1e-12 { b } else { a })
    }
}
