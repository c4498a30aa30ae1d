//! What fails by chance: `[faults]`.

use super::defaults;
use crate::diagnostic::Fault;
use crate::scenario::document::{Limits, Section, Value};
use crate::scenario::{CableType, Chain, ChainThrough, FaultStart, Faults, Hazards, JointHazard};
use crate::units::{Kind, plain};

const KEYS: &[&str] = &[
    "module_mtbf",
    "module_mttr",
    "stack_mtbf",
    "stack_mttr",
    "nuisance_mtbf",
    "nuisance_mttr",
    "chain_mtbf",
    "chain_mttr",
    "chain",
    "joint_mtbf",
    "joint_mttr",
    "joint_factor",
    "lead_mtbf",
    "lead_mttr",
    "start",
];

/// Mean time between failures of each kind, and to repair it.
const KINDS: [[&str; 2]; 6] = [MODULE, STACK, NUISANCE, CHAIN, JOINT, LEAD];
const MODULE: [&str; 2] = ["module_mtbf", "module_mttr"];
const STACK: [&str; 2] = ["stack_mtbf", "stack_mttr"];
const NUISANCE: [&str; 2] = ["nuisance_mtbf", "nuisance_mttr"];
const CHAIN: [&str; 2] = ["chain_mtbf", "chain_mttr"];
const JOINT: [&str; 2] = ["joint_mtbf", "joint_mttr"];
const LEAD: [&str; 2] = ["lead_mtbf", "lead_mttr"];

/// All that fails: single modules, and the rest.
#[derive(Default)]
pub struct Failing {
    pub modules: Option<Faults>,
    pub hazards: Hazards,
}

/// `None` where any of it is at fault; `cables` where they are sound.
pub fn faults(value: &Value<'_>, cables: Option<&[CableType]>) -> Option<Failing> {
    let s = value.section(KEYS)?;
    let start = start(&s);
    let ways = [("stacks", ChainThrough::Stacks), ("bank", ChainThrough::Bank)];
    let through = s.get("chain").map_or(Some(ChainThrough::Stacks), |v| v.choice(&ways));
    let factor = s
        .get("joint_factor")
        .map_or(Some(defaults::JOINT_FACTOR), |v| v.number(Limits::more_than(1.0).at_most(1e6)).map(|w| w.value));
    let [modules, stack, nuisance, chain, joint, lead] = KINDS.map(|keys| kind(&s, keys, start.flatten()));
    if !KINDS.iter().any(|[mtbf, _]| s.has(mtbf)) {
        let label = "a mean time between failures is required here".to_owned();
        let help = "add `module_mtbf = \"20000 h\"`, or another `…_mtbf`".to_owned();
        let message = format!("in {} nothing fails", s.name);
        s.findings.error_of(Fault::Missing, s.span.clone(), message, label, Some(help));
        return None;
    }
    if s.has("nuisance_mtbf") {
        s.need("nuisance_mttr", "\"1 h\"");
    }
    for (key, needs) in [("chain", "chain_mtbf"), ("joint_factor", "joint_mtbf")] {
        if !s.has(needs) {
            s.refuse(&[key], &format!("it needs `{needs}`"));
        }
    }
    no_joints(&s, cables);
    let (through, factor) = (through?, factor?);
    start?;
    let chain = chain?.map(|faults| Chain { faults, through });
    let joint = joint?.map(|faults| JointHazard { faults, factor });
    let hazards = Hazards { stack: stack?, nuisance: nuisance?, chain, joint, lead: lead? };
    Some(Failing { modules: modules?, hazards })
}

/// The state at the start, as written; there is no stationary one where nothing is repaired.
fn start(s: &Section<'_>) -> Option<Option<FaultStart>> {
    let Some(value) = s.get("start") else { return Some(None) };
    let words = [("stationary", FaultStart::Stationary), ("in service", FaultStart::InService)];
    let start = value.choice(&words)?;
    if start == FaultStart::Stationary && !KINDS.iter().any(|[_, mttr]| s.has(mttr)) {
        let label = "without a mean time to repair nothing is repaired, and there is no stationary state";
        let help = "add `module_mttr = \"72 h\"`, or write \"in service\"".to_owned();
        value.refuse_of(Fault::Conflict, "`start` is \"stationary\"".into(), label, Some(help));
        return None;
    }
    Some(Some(start))
}

/// One kind of failure: `Some(None)` where it is left out. What is never repaired has no long-run state, so
/// it starts in service whatever is written.
fn kind(s: &Section<'_>, [mtbf, mttr]: [&'static str; 2], start: Option<FaultStart>) -> Option<Option<Faults>> {
    let longest_life = Limits::between(1.0, 1e12);
    let between = s.quantity(mtbf, Kind::Time, longest_life);
    let repair = s.quantity(mttr, Kind::Time, longest_life);
    if !s.has(mtbf) {
        s.refuse(&[mttr], &format!("it needs `{mtbf}`"));
        return Some(None);
    }
    let between = between?;
    if between.value < 1000.0 * 3600.0 {
        let message = format!("`{mtbf}` is {} h", plain(between.value / 3600.0));
        s.findings.unusual(between.span, message, "what fails more than once in 1000 h is not usable");
    }
    if s.has(mttr) && repair.is_none() {
        return None;
    }
    let start = match repair {
        Some(_) => start.unwrap_or(FaultStart::Stationary),
        None => FaultStart::InService,
    };
    Some(Some(Faults { mtbf: between.value, mttr: repair.map(|m| m.value), start }))
}

/// A joint of no resistance can be multiplied by anything.
fn no_joints(s: &Section<'_>, cables: Option<&[CableType]>) {
    let (Some(value), Some(cables)) = (s.get("joint_mtbf"), cables) else {
        return;
    };
    if cables.iter().all(|c| c.contact == 0.0) {
        let why = "no cable type has a `contact` that could rise: joints fail without effect";
        s.findings.unusual(value.span, "`joint_mtbf` acts on nothing".into(), why);
    }
}
