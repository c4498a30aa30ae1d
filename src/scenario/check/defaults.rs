//! The default values of what a scenario may leave out, and the range of possible values. The greatest numbers of
//! things are in `bounds`.

use crate::bounds;
use crate::scenario::document::Limits;

/// Height of a module in its stack [m].
pub const PITCH: f64 = 0.2;
/// How far inside its trip a charge-temperature guard releases [K].
pub const CHARGE_RELEASE: f64 = 5.0;
/// How far inside its trip a discharge-temperature guard releases [K].
pub const DISCHARGE_RELEASE: f64 = 10.0;
/// How long beyond its trip before a guard acts [s].
pub const GUARD_DELAY: f64 = 1.0;
/// How long under its cut-out voltage before an inverter stops [s].
pub const CUT_OUT_DELAY: f64 = 1.0;
/// How long above its reconnection voltage before an inverter starts [s].
pub const RECONNECT_DELAY: f64 = 60.0;
/// How long a module that tripped on current stays out before it tries again [s].
pub const RETRY_AFTER: f64 = 30.0;
/// Time between two messages of a controller [s].
pub const PERIOD: f64 = 1.0;
/// How long without a message before a link counts as lost [s].
pub const LOST_AFTER: f64 = 10.0;
/// Longest step of a trial [s].
pub const STEP: f64 = 60.0;
/// Time without a break after which a value over its limit is an overload, and a shortfall ends the service [s].
pub const HOLD: f64 = 10.0;
/// Within which protection that follows a loss belongs to a cascade [s].
pub const CASCADE_WINDOW: f64 = 60.0;
/// Time constant of a cooling protective device [s]. Assumed: no standard gives one, makers seldom state theirs.
pub const COOLING: f64 = 600.0;
/// What a failed joint is multiplied by. Assumed: a contact of 0.05 mΩ comes to 1 mΩ.
pub const JOINT_FACTOR: f64 = 20.0;
/// Temperature of the air in which a conductor may carry its ampacity [°C]: that of the tables.
pub const BASE: f64 = 30.0;
pub const SEED: u64 = 1;
/// Share of nights that the ride-through target requires (0…1).
pub const RIDE_THROUGH_PROBABILITY: f64 = 0.95;

/// Longest length of a trial [s].
pub const LONGEST_HORIZON: f64 = bounds::HORIZON_DAYS as f64 * 86_400.0;

/// A resistance that current can be calculated with [Ω]: below it differences of voltage drown in
/// rounding.
pub const RESISTANCE: Limits = Limits::at_least(1e-12);
/// Possible capacities of a module [C].
pub const CAPACITY: Limits = Limits::at_least(3.6);
/// Possible temperatures of battery, cable and weather [°C].
pub const TEMPERATURE: Limits = Limits::between(-100.0, 150.0);
/// Possible continuous temperatures of a conductor's insulation [°C].
pub const INSULATION: Limits = Limits::between(50.0, 250.0);
/// Time constants of first-order warming or cooling [s].
pub const TIME_CONSTANT: Limits = Limits::between(1e-3, 30.0 * 86_400.0);
/// Voltage of one cell [V].
pub const CELL_VOLTAGE: Limits = Limits::POSITIVE.at_most(10.0);
/// A delay within a trial [s].
pub const DELAY: Limits = Limits::between(0.0, 86_400.0);
