//! A type of cable: its resistance, the rating of the assembly, and the ampacity by its insulation.

/// A type of cable, or of jumper, made up with its two joints.
#[derive(Clone, Debug)]
pub struct CableType {
    /// Name of the type in the scenario.
    pub name: String,
    /// Its resistance.
    pub conductor: ConductorResistance,
    /// Resistance of one joint [Ω]; a cable has two.
    pub contact: f64,
    /// Rated current of the assembly, connectors included, at every temperature [A]; `None`: unrated, never over.
    pub rating: Option<f64>,
    /// Current by its insulation and terminals; `None`: it is as warm as the air, and its rating is its only limit.
    pub ampacity: Option<Ampacity>,
    /// Length [m], where given.
    pub length: Option<f64>,
    /// Size as written in the tables (`35 mm²`, `1/0 AWG`), where given.
    pub size: Option<String>,
    /// Section of the copper [mm²], where given by size.
    pub section: Option<f64>,
    /// Price of one conductor without its joints, in the scenario's currency; `None`: not stated.
    pub price: Option<f64>,
    /// What of this is from tables recalled from memory, not seen in print: `resistance of 185 mm² (IEC 60228)`.
    pub from_memory: Vec<String>,
}

/// Resistance of one conductor without its joints.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ConductorResistance {
    /// One resistance for every temperature [Ω].
    Fixed(f64),
    /// Copper with this resistance at 20 °C [Ω]; rises by 0.393 % a kelvin (IEC 60287-1-1).
    Copper {
        /// Resistance at 20 °C [Ω].
        at_20: f64,
    },
}

/// What a conductor may carry by its insulation, terminals and surroundings, and how fast it warms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ampacity {
    /// Current at which the cable, alone in air of `base`, reaches the temperature `insulation` [A].
    pub current: f64,
    /// Temperature that its insulation bears continuously [°C].
    pub insulation: f64,
    /// Air temperature for which the table or the maker gives `current` [°C].
    pub base: f64,
    /// Temperature of its terminals, and the current at which they reach it; `None`: they set no limit.
    pub terminal: Option<Terminal>,
    /// Factor for the conductors that it is bundled with, at most 1.
    pub bundling: f64,
    /// Whether air colder than `base` may raise it above `current`.
    pub above_base: bool,
    /// First-order time constant of its warming [s], above zero.
    pub time_constant: f64,
}

/// Greatest temperature of the terminals of a conductor, and its current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Terminal {
    /// Greatest temperature of the terminals [°C].
    pub temperature: f64,
    /// Current at which table or formula gives this temperature in air of `base` [A].
    pub current: f64,
}
