//! What chance may do to a bank: faults, spreads, motor starts.

use crate::time::Time;

/// Failures of one kind of thing, independent, exponential.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Faults {
    /// Mean time between failures of one [s].
    pub mtbf: f64,
    /// Mean time to repair [s]; `None`: no repair within the horizon.
    pub mttr: Option<f64>,
    /// What has already failed when a trial begins.
    pub start: FaultStart,
}

/// What is down when a trial begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FaultStart {
    /// Each is out of service at the start with its long-run probability.
    Stationary,
    /// Everything is in service at the start.
    InService,
}

/// Failures of other things than a single module; what is `None` does not happen.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Hazards {
    /// A common cause takes all modules of a stack out of service at once.
    pub stack: Option<Faults>,
    /// A module's protection opens without a cause.
    pub nuisance: Option<Faults>,
    /// Communication from module to module fails.
    pub chain: Option<Chain>,
    /// A joint goes bad.
    pub joint: Option<JointHazard>,
    /// One conductor of a lead pair opens.
    pub lead: Option<Faults>,
}

/// The communication chain from module to module: where one link fails, the modules behind it are cut
/// off and go out of service.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chain {
    /// Failures of the link that leads to one module.
    pub faults: Faults,
    /// What the chain leads through.
    pub through: ChainThrough,
}

/// What a chain of communication leads through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChainThrough {
    /// Each stack has a chain of its own, from the floor up.
    Stacks,
    /// One chain through all stacks in the order of the file, each from the floor up.
    Bank,
}

/// A joint of a conductor comes loose or corrodes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct JointHazard {
    /// Failures of the joints of one conductor.
    pub faults: Faults,
    /// Factor on the resistance of the failed joint; the other joint of the conductor stays sound.
    pub factor: f64,
}

/// A short load on top of the profile: a motor start.
#[derive(Clone, Debug, PartialEq)]
pub struct Surge {
    /// Name of the surge; it also names its random numbers, so that other surges do not change them.
    pub name: String,
    /// What it adds to the load.
    pub size: SurgeSize,
    /// How long the surge lasts.
    pub lasts: Time,
    /// When it begins.
    pub when: SurgeWhen,
}

/// What a surge adds to a load of the same kind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SurgeSize {
    /// Power added to the load [W].
    Power(f64),
    /// Current added to the load [A].
    Current(f64),
}

/// When a surge begins.
#[derive(Clone, Debug, PartialEq)]
pub enum SurgeWhen {
    /// At random; mean time from the end of one to the start of the next [s].
    Every(f64),
    /// At these times after the start of the night.
    At(Vec<Time>),
}

/// Random spread of a quantity from trial to trial.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Distribution {
    /// Always the nominal value.
    None,
    /// Normal, this standard deviation, cut off at four of them.
    Normal(f64),
    /// Log-normal factor with median 1; the standard deviation of its logarithm.
    LogNormal(f64),
    /// Uniform within plus or minus this.
    Uniform(f64),
    /// Triangular within plus or minus this, most likely in the middle.
    Triangular(f64),
}

impl Distribution {
    /// Whether it is anything but nominal.
    pub fn varies(&self) -> bool {
        self.deviation() > 0.0
    }

    /// Standard deviation: of what is added, of a factor, or of a log-normal factor's logarithm.
    pub fn deviation(&self) -> f64 {
        match *self {
            Distribution::None => 0.0,
            Distribution::Normal(deviation) | Distribution::LogNormal(deviation) => deviation,
            Distribution::Uniform(half) => half / 3.0_f64.sqrt(),
            Distribution::Triangular(half) => half / 6.0_f64.sqrt(),
        }
    }
}

/// What differs at random between trials. Factors are relative, the others in their own unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Factor, one a module.
    pub capacity: Distribution,
    /// Factor, one a module.
    pub resistance: Distribution,
    /// Factor, one a joint.
    pub joint: Distribution,
    /// Added to the charge of every module at the start (0…1), one a trial.
    pub start_charge: Distribution,
    /// Factor, one a trial.
    pub load: Distribution,
    /// Added to the outdoor air [K], one a trial.
    pub temperature: Distribution,
    /// Added to what a module's sensor reads [K], one a module.
    pub sensor: Distribution,
}

impl Spread {
    /// No spread: every quantity has its nominal value.
    pub const NONE: Spread = Spread {
        capacity: Distribution::None,
        resistance: Distribution::None,
        joint: Distribution::None,
        start_charge: Distribution::None,
        load: Distribution::None,
        temperature: Distribution::None,
        sensor: Distribution::None,
    };
}
